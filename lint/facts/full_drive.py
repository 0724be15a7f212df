"""Full drive: what every part carries while the amplifier is driven to clipping, below and beyond.

Every input is driven at once and in phase with a sine at mid-band, the volume and tone controls as
they stand in the warm state; the loads are resistors.  A level is a share of the amplitude at which
the first output clips, whatever clips it.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from coldcheck.lint.design import Design, Use
from coldcheck.lint.facts.stages import Stage, Stages
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.model import Basis, Datum, Missing, NothingToJudge
from coldcheck.lint.netlist import Netlist
from coldcheck.lint.physics.circuit import NotSolved
from coldcheck.lint.physics.clipping import driven, driven_to_clipping, supply_under
from coldcheck.lint.physics.large_signal import Drive, Generator
from coldcheck.schemas.parts import Connector, Tube

# The plates of an ideal class B stage are hottest at 2 / pi of full swing: with a swing of s the
# stage is given 2 s / pi, of which s^2 / 2 is sound, in units of supply volts times peak amperes
# (differentiate).  Screens are hottest beyond clipping, while the plates are low.
BELOW = (0.64, "driven to 0.64 of clipping")
BEYOND = (2.0, "driven to twice clipping")
CLIPPING = "driven to clipping"


class Output(NamedTuple):
    """Where the signal leaves; ``load`` is the element it is given to, None when nothing is."""

    ref: str
    a: str
    b: str
    load: str | None


class Level(State):
    """The circuit at one amplitude, read as the warm state is: a cycle is one of the signal.

    Rectifiers, and windings of mains transformers, show their mean here; ``supply`` has their
    cycle, the tubes being the mean currents they draw.
    """

    def __init__(self, name: str, written: Netlist, solved: Drive) -> None:
        super().__init__(name, written, solved)
        self.drive = solved
        self.amplitude = solved.amplitude
        """Peak at every input connector, in volts, with the controls as they stand."""

    @property
    def words(self) -> str:
        """The level without the mains: "driven to clipping"."""
        return self.name.rpartition(", ")[0]

    def cathode_peak(self, tube: str) -> float:
        """Largest instantaneous current of a tube's cathode, in amperes."""
        screened = tube in self.drive.network.tubes.screen_port
        drawn = self.drive.amperes(tube) + self.drive.grid_amperes(tube)
        return float(np.max(drawn + self.drive.screen_amperes(tube) if screened else drawn))

    def screen_pulse(self, tube: str) -> float:
        """Current of a screen's pulses: the mean of i^2 over that of i, in amperes."""
        drawn = self.drive.screen_amperes(tube)
        return float(np.mean(drawn**2) / np.mean(drawn))

    def grid_watts(self, tube: str) -> float:
        return self.drive.grid_watts(tube)

    @functools.cached_property
    def supply(self) -> State:
        """The mains cycle under this load."""
        try:
            solved = supply_under(self.drive)
        except NotSolved as trouble:
            raise _named(trouble, self.name) from None
        written = self.netlist._replace(circuit=solved.network.circuit)
        return State(self.name, written, solved)


class Driven:
    """Full drive at one mains voltage: three levels, and of every figure the worst of them.

    Each is given with the name of the level it occurs at, and is found when first asked for.
    """

    def __init__(
        self, warm: State, generators: tuple[Generator, ...], outputs: tuple[Output, ...]
    ) -> None:
        self._warm = warm
        # a connector may be on a net that nothing else is on
        self._generators = tuple(g for g in generators if warm.has(g.a) and warm.has(g.b))
        self._outputs = tuple(o for o in outputs if warm.has(o.a) and warm.has(o.b))
        self._mains = warm.name.rpartition(", ")[2]

    @functools.cached_property
    def clipping(self) -> Level:
        """The amplitude at which the first output clips."""
        ends = [(output.a, output.b) for output in self._outputs]
        solved = self._warm.solved
        return self._level(CLIPPING, lambda: driven_to_clipping(solved, self._generators, ends))

    @functools.cached_property
    def below(self) -> Level:
        """Where an ideal class B plate is hottest."""
        return self._share(*BELOW)

    @functools.cached_property
    def beyond(self) -> Level:
        """Far overdriven, as music now and then does and a guitar does for long."""
        return self._share(*BEYOND)

    def at(self, share: float) -> Level:
        """At a share of the clipping amplitude."""
        return self._share(share, f"driven to {share:.0%} of clipping")

    @property
    def sustained(self) -> tuple[Level, ...]:
        """The levels that can last all evening, and that ratings are held to."""
        return (self.clipping, self.below)

    @property
    def levels(self) -> tuple[Level, ...]:
        """Clipping first, then below and beyond it."""
        return (*self.sustained, self.beyond)

    @functools.cached_property
    def supply(self) -> State:
        """The mains cycle at the sustained level that asks the most of rectifiers and windings."""
        return max(self.sustained, key=lambda level: level.drive.supply_watts()).supply

    def plate_watts(self, tube: str) -> tuple[float, str]:
        return self._most(lambda level: level.watts(tube))

    def screen_watts(self, tube: str) -> tuple[float, str]:
        return self._most(lambda level: level.screen_watts(tube))

    def grid_watts(self, tube: str) -> tuple[float, str]:
        return self._most(lambda level: level.grid_watts(tube))

    def cathode_amperes(self, tube: str) -> tuple[float, str]:
        """Mean over the cycle, in amperes."""
        return self._most(lambda level: level.cathode_amperes(tube))

    def cathode_peak(self, tube: str) -> tuple[float, str]:
        return self._most(lambda level: level.cathode_peak(tube))

    def grid_peak(self, stage: Stage) -> tuple[float, str]:
        """Highest voltage of a grid over its cathode, in volts."""
        grid = stage.grid or stage.cathode
        return self._most(lambda level: float(np.max(level.between(grid, stage.cathode))))

    def watts(self, element: str) -> tuple[float, str]:
        """Mean heat of a resistor, choke, or coil of an output transformer."""
        return self._most(lambda level: level.watts(element))

    def volts(self, net: str) -> tuple[float, str]:
        """Mean voltage of a net where it has sagged most, that is nearest to ground."""
        found = [(level.volts(net), level.name) for level in self.levels]
        return min(found, key=lambda case: abs(case[0]))

    @property
    def output_watts(self) -> dict[str, float]:
        """Power into each connected load at clipping, by its connector's reference."""
        loaded = ((output.ref, output.load) for output in self._outputs)
        return {ref: self.clipping.watts(load) for ref, load in loaded if load is not None}

    def _most(self, ask: Callable[[Level], float]) -> tuple[float, str]:
        """The largest figure and its level; of figures alike but for rounding the first."""
        most, name = -np.inf, ""
        for level in self.levels:
            if (value := ask(level)) > most + 1e-6 * abs(value) + 1e-9:
                most, name = value, level.name
        return most, name

    def _share(self, share: float, words: str) -> Level:
        solved, clipping = self._warm.solved, self.clipping.drive
        amplitude = share * clipping.amplitude
        return self._level(words, lambda: driven(solved, self._generators, amplitude, clipping))

    def _level(self, words: str, find: Callable[[], Drive]) -> Level:
        name = f"{words}, {self._mains}"
        try:
            return Level(name, self._warm.netlist, find())
        except NotSolved as trouble:
            raise _named(trouble, name) from None


class FullDrive:
    """Full drive with the mains nominal and high."""

    def __init__(
        self, warm: Warm, generators: tuple[Generator, ...], outputs: tuple[Output, ...]
    ) -> None:
        self._warm = warm
        self.generators = generators
        self.outputs = outputs

    @property
    def rests_on(self) -> tuple[Datum, ...]:
        open_ended = (output.ref for output in self.outputs if output.load is None)
        taken = (
            Datum(f"what {ref} feeds, taken to draw nothing", Basis.ASSUMED) for ref in open_ended
        )
        return (*self._warm.nominal.rests_on, *taken)

    @functools.cached_property
    def nominal(self) -> Driven:
        return Driven(self._warm.nominal, self.generators, self.outputs)

    @functools.cached_property
    def high(self) -> Driven:
        return Driven(self._warm.high, self.generators, self.outputs)

    def rated(self, stage: Stage) -> Driven:
        """Full drive at the mains voltage a tube's ratings hold for, as Stage.rated_state."""
        return self.nominal if stage.design_center else self.high


def make(design: Design, stages: Stages, warm: Warm) -> FullDrive:
    """Raises NothingToJudge where nothing amplifies, Missing without source, input or output."""
    for part in design.of(Tube):
        if part.tube is None:
            datum = f"data for tube type {part.spec.type}, which is not in the library"
            raise Missing(datum, (*part.path, "type"), part.subject)
    if design.document.project.duty == "supply" or not stages.amplifying:
        raise NothingToJudge("nothing in it amplifies")
    return FullDrive(warm, _generators(design), _outputs(design))


def _generators(design: Design) -> tuple[Generator, ...]:
    """Between every contact of an input connector and its shell, or else its last contact."""
    inputs = [part for part in design.of(Connector) if part.spec.role == "input"]
    if not inputs:
        raise Missing('where the signal enters: a connector of role "input"', ("parts",))
    source = design.document.site.source
    if source is None:
        raise Missing("the impedance of what feeds the input", ("site", "source"))
    found = [
        Generator(live, common, source.impedance)
        for part in inputs
        for live, common in _pairs(part, part.spec.shell or part.spec.contacts[-1])
    ]
    if not found:
        raise Missing(f"the nets of {inputs[0].ref}", inputs[0].ends_path, inputs[0].subject)
    return tuple(found)


def _outputs(design: Design) -> tuple[Output, ...]:
    """Loudspeakers and headphones, else outputs to another amplifier."""
    every = list(design.of(Connector))
    loud = [part for part in every if part.spec.role in ("loudspeaker", "headphone")]
    if loud and design.document.site.load is None:
        raise Missing(f"the impedance {loud[0].ref} feeds", ("site", "load"), loud[0].subject)
    found = []
    for part in loud or [part for part in every if part.spec.role == "output"]:
        # the load stands between the first and the last contact
        contacts = part.spec.contacts
        a, b = part.net(contacts[0]), part.net(contacts[-1])
        if loud and a is not None and b is not None and a != b:
            found.append(Output(part.ref, a, b, f"{part.ref}.load"))
        elif not loud:
            common = part.spec.shell or contacts[-1]
            found += [Output(part.ref, *pair, None) for pair in _pairs(part, common)]
    if not found:
        words = (
            'where the signal leaves: a connector of role "loudspeaker", "headphone" or "output"'
        )
        raise Missing(words, ("parts",))
    return tuple(found)


def _pairs(part: Use[Connector], common: str) -> Iterator[tuple[str, str]]:
    """The nets of a connector's contacts, each with that of its common contact."""
    ground = part.net(common)
    for contact in part.spec.contacts:
        live = part.net(contact)
        if contact != common and live is not None and ground is not None and live != ground:
            yield live, ground


def _named(trouble: NotSolved, state: str) -> NotSolved:
    return NotSolved(f"{state}: {trouble}", trouble.nodes, trouble.elements)
