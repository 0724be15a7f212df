"""The hum budget: every cause of hum, carried to the output, and the largest of them.

With the mains nominal, no signal, the controls as they stand.  Causes are added as their squares
are: how their phases lie is not known.  A loudspeaker is taken to give its sensitivity at one watt
and one metre, and 6 dB less for each doubling of the distance.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator
from typing import NamedTuple

from coldcheck.lint.design import Design
from coldcheck.lint.facts.full_drive import FullDrive, Output
from coldcheck.lint.facts.ground_network import GroundNetwork
from coldcheck.lint.facts.heater_coupling import HeaterCoupling
from coldcheck.lint.facts.ripple import Ripple
from coldcheck.lint.facts.signal import Signal
from coldcheck.lint.facts.stray_fields import Pickup, StrayFields
from coldcheck.lint.facts.warm import State
from coldcheck.lint.model import Datum, Missing
from coldcheck.lint.physics.circuit import NotSolved, Transformer

RIGHT_ANGLE = 0.5
"""Share of what a winding picks up that turning it must leave at most, to be worth saying; ours."""


class Cause(NamedTuple):
    """One way hum comes to an output."""

    name: str
    """"supply ripple", "ground wires", "field of T1 in T2", "heater of V1.1"."""
    volts: float
    """rms at the output."""
    change: str
    """What would make it less, the cheapest first."""
    rests_on: tuple[Datum, ...]


class Budget(NamedTuple):
    """All causes at one output, the largest first."""

    output: Output
    causes: tuple[Cause, ...]
    watts: float | None
    """Full power into the load; None where nothing is connected."""
    pressure: float | None
    """dB SPL of all of them at the listening place; None without a loudspeaker's data."""

    @property
    def volts(self) -> float:
        """rms of all, as squares add."""
        return math.sqrt(sum(cause.volts**2 for cause in self.causes))

    @property
    def halving(self) -> float | None:
        """Share that must be left of the largest cause for half of the whole; None: not enough."""
        rest = self.volts**2 - self.causes[0].volts ** 2
        left = 0.25 * self.volts**2 - rest
        return math.sqrt(left) / self.causes[0].volts if left > 0.0 else None

    def below(self, load_ohms: float) -> float | None:
        """Decibels below full power."""
        if self.watts is None or self.volts == 0.0:
            return None
        return 10.0 * math.log10(self.watts * load_ohms / self.volts**2)


class HumBudget:
    """Budgets of every output; each cause that cannot be told is in ``lacks`` instead."""

    def __init__(
        self,
        design: Design,
        full: FullDrive,
        signal: Signal,
        ripple: Ripple,
        ground: GroundNetwork | None,
        fields: StrayFields | None,
        heaters: HeaterCoupling | None,
    ) -> None:
        self._design, self._full, self._signal = design, full, signal
        self._ripple, self._ground, self._fields = ripple, ground, fields
        self._heaters = heaters
        self._gaps: dict[str, Missing] = {}
        for name, fact, gap in (
            (
                "ground",
                ground,
                Missing("what is soldered to ground, and by which wires", ("wires",)),
            ),
            ("fields", fields, Missing("where the parts stand", ("layout",))),
            ("heaters", heaters, Missing("how the heaters are fed", ("schematic",))),
        ):
            if fact is None:
                self._gaps[name] = gap

    @property
    def state(self) -> State:
        return self._signal.state

    @property
    def outputs(self) -> tuple[Output, ...]:
        return self._signal.outputs

    @property
    def lacks(self) -> tuple[Missing, ...]:
        """What some cause could not be told without, once budgets were asked for."""
        gaps = [*self._gaps.values()]
        for fact in (self._fields, self._heaters):
            gaps += fact.lacks if fact is not None else ()
        return tuple({gap.datum: gap for gap in gaps}.values())

    @functools.cached_property
    def budgets(self) -> tuple[Budget, ...]:
        """Raises NotSolved where a state is not found."""
        return tuple(self._budget(output) for output in self.outputs)

    def _budget(self, output: Output) -> Budget:
        causes = sorted(self._causes(output), key=lambda c: (-c.volts, c.name))
        load, watts = self._design.document.site.load, None
        if output.load is not None:
            watts = self._full.nominal.output_watts.get(output.ref)
        made = Budget(output, tuple(causes), watts, None)
        if load is None or output.load is None or load.sensitivity is None or not made.volts:
            return made
        heard = load.sensitivity + 10.0 * math.log10(made.volts**2 / load.impedance)
        return made._replace(pressure=heard - 20.0 * math.log10(load.distance or 1.0))

    def _causes(self, output: Output) -> Iterator[Cause]:
        yield from self._supply(output)
        for pickup in self._pickups():
            found = self._picked_up(pickup, output)
            if found is not None:
                change = f"{pickup.victim} farther from {pickup.source}"
                turned = pickup.turned
                if turned is not None and turned <= RIGHT_ANGLE * pickup.volts:
                    change = f"{pickup.victim} turned by a right angle, or {change}"
                name = f"field of {pickup.source} in {pickup.victim}"
                yield Cause(name, found, change, pickup.rests_on)
        signal, ends = self._signal.linear(), (output.a, output.b)
        for hum in self._heaters.stages if self._heaters is not None else ():
            times = signal.heard(signal.at_grid(hum.stage.name), ends, hum.hertz)
            change = "its wires twisted and its heater balanced to ground, or fed with dc"
            yield Cause(f"heater of {hum.stage.name}", hum.volts * abs(times), change, hum.rests_on)

    def _supply(self, output: Output) -> Iterator[Cause]:
        """Ripple, and what the ground wires add to it."""
        way = self._ripple.way(output)
        change = f"more capacitance at {way[0]}" if way is not None else "more smoothing everywhere"
        weak = self._ripple.rests_on
        yield Cause("supply ripple", self._ripple.volts(output), change, weak)
        if self._ground is None:
            return
        try:
            volts, shares = self._ground.hum(output).ground, self._ground.shares(output)
            weak = self._ground.rests_on
        except (Missing, NotSolved) as gap:
            self._gaps["ground"] = _gap(gap)
            return
        change = f"{shares[0].link.name} to another point, or stouter" if shares else ""
        yield Cause("ground wires", volts, change, weak)

    def _pickups(self) -> tuple[Pickup, ...]:
        try:
            return self._fields.pickups if self._fields is not None else ()
        except (Missing, NotSolved) as gap:
            self._gaps["fields"] = _gap(gap)
            return ()

    def _picked_up(self, pickup: Pickup, output: Output) -> float | None:
        """rms at an output of what a winding or loop picks up; None where nothing leads on."""
        signal, ends = self._signal.linear(), (output.a, output.b)
        where, network = pickup.where, signal.network
        if where in network.tubes.grid_port:
            entry, share = signal.at_grid(where), 1.0
        elif where.endswith(".primary"):
            core = network.elements.get(where.removesuffix(".primary"))
            if not isinstance(core, Transformer):
                return None
            mine = [c.turns for c in core.coils if c.name.startswith(where)]
            entry, share = signal.in_series(core.name), core.coils[0].turns / sum(mine)
        elif where in network.branch:
            entry, share = signal.in_series(where), 1.0
        else:
            return self._around(pickup, output)
        return pickup.volts * share * abs(signal.heard(entry, ends, pickup.hertz))

    def _around(self, pickup: Pickup, output: Output) -> float | None:
        """Of a ring of ground wires: as a volt in series with its weakest link is heard."""
        if self._ground is None:
            return None
        try:
            shares = self._ground.shares(output)
        except (Missing, NotSolved):
            return None
        heard = [share.heard for share in shares if share.link.name == pickup.where]
        return pickup.volts * heard[0] if heard else None


def _gap(trouble: Missing | NotSolved) -> Missing:
    return trouble if isinstance(trouble, Missing) else Missing(str(trouble), ())


def make(
    design: Design,
    full: FullDrive,
    signal: Signal,
    ripple: Ripple,
    ground: GroundNetwork | None,
    fields: StrayFields | None,
    heaters: HeaterCoupling | None,
) -> HumBudget:
    """Lazy; as FullDrive, which says where the signal leaves."""
    return HumBudget(design, full, signal, ripple, ground, fields, heaters)
