"""Small signal: what the amplifier makes of a whisper, from its inputs to its outputs.

With the mains nominal and the controls as they stand, every input is driven alike.  Capacitances
of tubes and of the cable come in here; those of sockets and wiring are nowhere.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from coldcheck.lint.design import Design
from coldcheck.lint.facts.full_drive import FullDrive, Output
from coldcheck.lint.facts.stages import Stage, Stages
from coldcheck.lint.facts.warm import State, Warm
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.lint.physics.circuit import Capacitor
from coldcheck.lint.physics.feedback import Return, returns
from coldcheck.lint.physics.small_signal import (
    MIDDLE,
    Band,
    Margins,
    SmallSignal,
    band,
    loop_gain,
    margins,
)
from coldcheck.schemas.parts import OutputTransformer, Potentiometer
from coldcheck.schemas.rated import Rated

Loading = str
"""How a loudspeaker is for a feedback loop: one of :data:`LOADINGS`."""
LOADINGS: Mapping[Loading, float | None] = {"connected": None, "open": 0.0, "capacitive": 0.1e-6}
"""Farads that take the load's place: none at all, or 0.1 uF, the light load that is hardest for a
loop; common practice, no source."""

AT = np.array([MIDDLE])
STIFF = 1e-6
"""Ohms below which a net is a source's own; our choice."""

LEANS = 0.02
"""d ln|gain| / d ln value from which a corner is said to be a capacitor's: 0.5 is all; our choice."""


class Nearness(NamedTuple):
    """How near a feedback loop is to oscillating at one frequency."""

    loading: Loading
    hertz: float
    left: float
    unit: str
    """``deg`` of phase where its gain is 1, ``dB`` of gain where its phase is turned."""


class StageGain(NamedTuple):
    """One stage on the way, small signal at mid-band, per volt of the source."""

    stage: Stage
    driven: complex
    """At its grid, or at the cathode of one whose grid stands still, over the other of the two."""
    given: complex
    """At the electrode that goes on: the plate, or the cathode of a follower."""
    net: str
    """That electrode's."""


class Signal:
    """Gains, corners and impedances of an amplifier, and its feedback."""

    def __init__(
        self, design: Design, state: State, full: FullDrive, stages: Stages, schematic: Schematic
    ) -> None:
        self._design = design
        self._stages = stages
        self._ground = schematic.ground()
        self.state = state
        self.generators = tuple(g for g in full.generators if state.has(g.a) and state.has(g.b))
        self.outputs = tuple(o for o in full.outputs if state.has(o.a) and state.has(o.b))
        self.rests_on = full.rests_on
        self._linear: dict[tuple[Loading, bool], SmallSignal] = {}
        self._feedback: dict[Output, tuple[Return, ...]] = {}

    def linear(self, loading: Loading = "connected", full: bool = False) -> SmallSignal:
        """The circuit about its operating point; ``full``: with every volume control turned up."""
        key = loading, full
        if key not in self._linear:
            added, changed = self._loaded(loading)
            changed |= self.turned(1.0) if full else {}
            self._linear[key] = SmallSignal(self.state.solved, self.generators, added, changed)
        return self._linear[key]

    @functools.cached_property
    def controls(self) -> tuple[str, ...]:
        """Volume controls: potentiometers from a signal to ground, not presets."""
        return tuple(
            part.ref
            for part in self._design.of(Potentiometer)
            if part.spec.setting is None
            and part.net("ccw") in self._ground
            and self._alive(part.net("wiper"))
            and self._alive(part.net("cw"))
        )

    def _alive(self, net: str | None) -> bool:
        return net is not None and net not in self._ground and self.state.has(net)

    def turned(self, share: float) -> dict[str, float]:
        """Resistances of the volume controls at a share of their tracks, by element."""
        found: dict[str, float] = {}
        for part in self._design.of(Potentiometer):
            if part.ref in self.controls:
                value = part.spec.value
                found[f"{part.ref}.ccw"] = share * value
                found[f"{part.ref}.wiper"] = (1.0 - share) * value
        # half a track with both ends on one net is no element
        return {name: ohms for name, ohms in found.items() if self.state.knows(name)}

    def gain(self, output: Output, full: bool = False) -> complex:
        """Volts at an output for 1 V of the source, at mid-band."""
        return complex(self.linear(full=full).gains([(output.a, output.b)], AT)[0, 0])

    def inverts(self, output: Output) -> bool:
        """Whether the contact named + goes down as the source goes up; without one of that name,
        the one that is not ground."""
        part = self._design.parts[output.ref]
        plus = part.net("+") or (output.b if output.a in self._ground else output.a)
        return (self.gain(output).real < 0.0) is not (plus == output.b)

    def band(self, output: Output, times: Mapping[str, float] = MappingProxyType({})) -> Band:
        """Gain and corners from the source to an output.

        ``times``: capacitors and what is wound, by element, that are taken so many times larger.
        """
        linear, port = self.linear(), (output.a, output.b)
        if times:
            network = self.state.solved.network
            added, changed = self._loaded("connected")
            for name, factor in times.items():
                changed[name] = factor * abs(float(network.storage[network.column[name]]))
            linear = SmallSignal(self.state.solved, self.generators, added, changed)
        return band(lambda hertz: linear.gains([port], hertz)[:, 0])

    def leans(self, output: Output, hertz: float) -> tuple[str, ...]:
        """What a gain leans on at a frequency, the most first: capacitors and what is wound.

        At a low corner those that would lower it if they were larger, at a high one those that
        would raise it if they were smaller, capacitances of tubes and cable among them.
        """
        found = self.linear().leans((output.a, output.b), hertz)
        sign, parts = (1.0 if hertz < MIDDLE else -1.0), self.state.solved.network.column
        helps = [
            name
            for name, leaning in found.items()
            if sign * leaning > LEANS and (sign < 0.0 or name in parts)
        ]
        return tuple(sorted(helps, key=lambda name: (-sign * found[name], name)))

    def brought(self, net: str, output: Output) -> float:
        """Volts at an output for a volt of ripple on a supply node, at twice the mains frequency.

        0 for a net that nothing can move.
        """
        ground = self.state.netlist.circuit.ground
        at = np.array([2.0 * self.state.netlist.circuit.mains_hz])
        linear = self.linear()
        if abs(linear.impedance((net, ground), at)[0]) < STIFF:
            return 0.0
        return float(abs(linear.brought((net, ground), (output.a, output.b), at)[0]))

    def output_ohms(self, output: Output) -> float:
        """Size of the impedance behind an output at mid-band, what it feeds taken off."""
        linear = self.linear("open") if output.load is not None else self.linear()
        return float(abs(linear.impedance((output.a, output.b), AT)[0]))

    def transconductance(self, stage: Stage) -> float:
        """Of the plate by the grid, at the operating point, in siemens."""
        tubes, volts = self.state.solved.network.tubes, self.state.solved.still_volts
        slopes = tubes.currents(volts[: tubes.count])[1]
        return float(slopes[tubes.plate_port[stage.name], tubes.grid_port[stage.name]])

    def input_ohms(self, index: int = 0) -> float:
        """Size of the impedance a generator sees at mid-band: what divides its 1 V."""
        generator = self.generators[index]
        port = (generator.a, generator.b)
        seen = complex(self.linear().impedance(port, AT)[0])
        # the generator's own resistance is in what is seen
        return float(abs(1.0 / (1.0 / seen - 1.0 / generator.ohms)))

    @functools.cached_property
    def stages(self) -> tuple[StageGain, ...]:
        """Every stage that the signal reaches, in order of how much of it is there."""
        found = []
        linear, ground = self.linear(), self.state.netlist.circuit.ground
        for stage in self._stages.amplifying:
            if stage.grid is None or not self.state.knows(stage.name):
                continue
            follows = stage.plate in self._still
            net = stage.cathode if follows else stage.plate
            ports = [(stage.grid, stage.cathode), (net, ground)]
            driven, given = linear.gains(ports, AT)[0]
            if abs(driven) > 0.0:
                found.append(StageGain(stage, complex(driven), complex(given), net))
        return tuple(sorted(found, key=lambda g: (round(abs(g.given), 6), g.stage.name)))

    @functools.cached_property
    def _still(self) -> frozenset[str]:
        """Nets of plates that do not move though their cathode does: those of followers."""
        linear, ground = self.linear(), self.state.netlist.circuit.ground
        still = set()
        for stage in self._stages.amplifying:
            ports = [(stage.plate, ground), (stage.cathode, ground)]
            if self.state.knows(stage.name):
                plate, cathode = np.abs(linear.gains(ports, AT)[0])
                if plate < cathode:
                    still.add(stage.plate)
        return frozenset(still)

    def feedback(self, output: Output) -> tuple[Return, ...]:
        """What leads the signal back about the way to an output, the strongest first."""
        if output not in self._feedback:
            loads = tuple(out.load for out in self.outputs if out.load is not None)
            self._feedback[output] = returns(self.linear(), (output.a, output.b), loads)
        return self._feedback[output]

    def overall(self, output: Output) -> Return | None:
        """The strongest feedback from an output; None without any."""
        return next((back for back in self.feedback(output) if back.overall), None)

    def nearness(
        self, output: Output, loadings: Sequence[Loading], times: float = 1.0
    ) -> tuple[Nearness, ...]:
        """How near the strongest feedback from an output is to oscillating, under each loading.

        ``times``: what the impedance of the branch that carries it is multiplied with.
        """
        back, found = self.overall(output), list[Nearness]()
        if back is None:
            return ()
        for loading in loadings:
            each = self.margins(back, loading, times)
            found += [Nearness(loading, hertz, left, "deg") for hertz, left in each.phase]
            found += [Nearness(loading, hertz, left, "dB") for hertz, left in each.gain]
        return tuple(found)

    def margins(self, back: Return, loading: Loading = "connected", times: float = 1.0) -> Margins:
        """How far a loop is from oscillating; with its branch's impedance so many times larger."""
        added, changed = self._loaded(loading)
        solved, driven = self.state.solved, self.generators
        return margins(loop_gain(solved, back.branch, driven, added, changed, times))

    def _loaded(self, loading: Loading) -> tuple[list[Capacitor], dict[str, float]]:
        """Stray capacitances, with what takes the place of the loads."""
        added, changed, farads = list(self._stray), {}, LOADINGS[loading]
        for out in self.outputs:
            if farads is not None and out.load is not None:
                changed[out.load] = math.inf
                added.append(Capacitor(f"{out.load} capacitive", out.a, out.b, farads))
        return added, changed

    @functools.cached_property
    def top_lacks(self) -> Missing | None:
        """The first datum without which nothing can be said of high frequencies; None: all there."""
        for stage in self._stages.amplifying:
            kind = stage.part.tube
            if kind is not None and not _wanted(stage) <= _given(stage).keys():
                what = f"the capacitances of tube type {kind.name}"
                return Missing(what, (*stage.part.path, "type"), stage.part.subject)
        for part in self._design.of(OutputTransformer):
            if part.spec.primary.leakage is None:
                where = (*part.path, "primary", "leakage")
                return Missing(f"the leakage inductance of {part.ref}", where, part.subject)
        return None

    @functools.cached_property
    def top_rests_on(self) -> tuple[Datum, ...]:
        """Weak figures that high frequencies rest on besides."""
        found = []
        for stage in self._stages.amplifying:
            weak = [rated for rated in _given(stage).values() if Basis(rated.basis).weak]
            if weak and stage.part.tube is not None:
                words = f"the capacitances of tube type {stage.part.tube.name}"
                found.append(Datum(words, Basis(weak[0].basis)))
        return (*self.rests_on, *dict.fromkeys(found))

    @functools.cached_property
    def _stray(self) -> tuple[Capacitor, ...]:
        """Capacitances of tubes and of the cable at each input."""
        found = []
        for stage in self._stages.amplifying:
            if self.state.knows(stage.name):
                found += list(_electrodes(stage))
        source = self._design.document.site.source
        if source is not None and source.cable is not None:
            found += [Capacitor(f"cable to {g.a}", g.a, g.b, source.cable) for g in self.generators]
        return tuple(found)


def _given(stage: Stage) -> Mapping[str, Rated]:
    """The library's capacitances of one section, by name without its number."""
    kind, number = stage.part.tube, stage.section
    if kind is None:
        return {}
    known = dict(kind.capacitance)
    names = ("grid_plate", "grid_cathode", "plate_cathode", "input", "output")
    found = {name: known.get(f"{name}_{number}", known.get(name)) for name in names}
    return {name: rated for name, rated in found.items() if rated is not None}


def _wanted(stage: Stage) -> set[str]:
    if stage.kind == "triode":
        return {"grid_plate", "grid_cathode"}
    return {"input", "output"}


def _electrodes(stage: Stage) -> Iterator[Capacitor]:
    """Between the electrodes; what a pentode's grid and plate have to all the rest is to its cathode."""
    pairs = {
        "grid_plate": (stage.grid, stage.plate),
        "grid_cathode": (stage.grid, stage.cathode),
        "plate_cathode": (stage.plate, stage.cathode),
        "input": (stage.grid, stage.cathode),
        "output": (stage.plate, stage.cathode),
    }
    for name, rated in _given(stage).items():
        a, b = pairs[name]
        if a is not None and b is not None and a != b:
            yield Capacitor(f"{stage.name} {name}", a, b, rated.value)


def make(
    design: Design, warm: Warm, full: FullDrive, stages: Stages, schematic: Schematic
) -> Signal:
    """As FullDrive, which says where the signal enters and leaves."""
    return Signal(design, warm.nominal, full, stages, schematic)
