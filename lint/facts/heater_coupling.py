"""Heater hum: what heaters and their wires put on the grid of each amplifying stage.

Four ways: from wires to the grid's wire by their capacitance, inside the bulb and at the socket by
the same, by the current of wires that are not twisted, and from heater to cathode by what the
insulation lets through.  With signs and phases unknown they are added up as they are.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from coldcheck.lint.design import Design, WireUse
from coldcheck.lint.facts.input_loops import input_nets
from coldcheck.lint.facts.runs import Runs
from coldcheck.lint.facts.signal import Signal
from coldcheck.lint.facts.stages import Heater, Stage, Stages
from coldcheck.lint.facts.warm import State
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import Basis, Datum, Missing, NothingToJudge
from coldcheck.lint.physics.magnetics import emf
from coldcheck.lint.physics.small_signal import known
from coldcheck.lint.physics.wires import pair_flux, wire_capacitance
from coldcheck.schemas.quantity import show

DRESS = 20e-3
"""Metres of the grid's wire that lie along the heater's at the socket; assumed."""
CLEAR = 10e-3
"""Metres between them there, and the least that is taken elsewhere; assumed."""
WALL = 0.8e-3
"""Metres of insulation on a wire; that of UL 1015 is 0.76 mm."""
WIDE = 10e-3
"""Metres between the grid's wire and the cathode's beside it, the loop that current works on;
assumed."""
TWIST_LEFT = 0.1
"""Of what two straight wires leave, that a twisted pair still does; assumed."""
IN_BULB = 0.2e-12
"""Farads from heater to grid, bulb and socket: data sheets of small triodes allow 0.15 pF in the
bulb (from memory), the rest is assumed."""
UNEVEN = 0.2
"""Of the volts between the heater's ends, half counted, that one end brings more than the other, in
the bulb; assumed."""
LEAK = 1e8
"""Ohms from heater to cathode: 1 uA at 100 V, a good tube; sheets allow ten times that and more.
From memory."""
HEATER_CATHODE = 5e-12
"""Farads between them; from memory."""
RAISED, RAISED_LEAK = 20.0, 10.0
"""A heater that many volts above its cathode emits nothing to it, and leaks that many times less:
common practice, no source."""
ADRIFT = 0.25
"""Of the mains' volts, that a heater winding tied to nothing may stand at, by its capacitance to
the primary; assumed."""
STILL = 1e-3
"""Volts rms below which a heater is taken to be fed with dc; our choice."""


class Part(NamedTuple):
    """One way that heater hum comes."""

    way: str
    """"wires", "bulb", "current" or "cathode"."""
    volts: float
    """rms at the grid, or what would do the same there."""
    reads: str


class HeaterHum(NamedTuple):
    """What a stage hears of heaters."""

    stage: Stage
    """The voltage is in series with its grid."""
    first: bool
    """Whether an input leads to it before anything amplifies."""
    hertz: float
    parts: tuple[Part, ...]
    best: float
    """Volts rms that would be left with the wires twisted and the heater balanced to ground."""
    twisted: bool
    reference: str
    """"balanced", "one side grounded" or "tied to nothing"."""
    raised: float
    """Mean volts of the heater over the cathode."""
    working: tuple[str, ...]
    rests_on: tuple[Datum, ...]

    @property
    def volts(self) -> float:
        """rms, all ways together."""
        return sum(part.volts for part in self.parts)


class _Fed(NamedTuple):
    """A heater as it is fed: rms volts at mains frequency."""

    common: float
    """Of its middle."""
    differ: float
    """From end to end."""
    amperes: float
    """In its wires where they pass the socket."""
    spacing: float
    """Metres between the two wires' middles."""
    copper: float
    """Diameter of each, in metres."""
    twisted: bool
    runs: tuple[tuple[float, float], ...]
    """Metres of the grid's wire beside the heater's, and metres between them."""


class HeaterCoupling:
    """Heater hum of every stage with a grid and a heater of its own."""

    def __init__(
        self,
        design: Design,
        stages: Stages,
        schematic: Schematic,
        signal: Signal,
        runs: Runs | None,
    ) -> None:
        self._design, self._stages, self._signal = design, stages, signal
        self._runs = runs.beside if runs is not None else ()
        self._first = input_nets(design, schematic.ground(), stages.amplifying)
        self._hertz = design.document.site.mains.frequency
        self._gaps: list[Missing] = []

    @property
    def lacks(self) -> tuple[Missing, ...]:
        """The data that some stage could not be judged for."""
        _ = self.stages
        return tuple(self._gaps)

    @functools.cached_property
    def stages(self) -> tuple[HeaterHum, ...]:
        """Raises NotSolved where the warm state is not found."""
        heaters = {heater.part.ref: heater for heater in self._stages.heaters}
        found = []
        for stage in self._stages.amplifying:
            heater = heaters.get(stage.part.ref)
            kind = stage.part.tube
            if heater is None or kind is None or kind.directly_heated or stage.grid is None:
                continue
            state = self._signal.state
            if not (state.knows(stage.name) and state.has(heater.a) and state.has(heater.b)):
                continue
            try:
                found.append(self._hum(stage, heater, stage.grid))
            except Missing as gap:
                if gap.datum not in {other.datum for other in self._gaps}:
                    self._gaps.append(gap)
        return tuple(found)

    def _hum(self, stage: Stage, heater: Heater, grid: str) -> HeaterHum:
        state = self._signal.state
        fed, reference = self._feed(state, stage, heater)
        ohms, cathode = self._seen(stage, grid)
        raised = 0.5 * (state.volts(heater.a) + state.volts(heater.b)) - state.volts(stage.cathode)
        parts = tuple(self._parts(fed, ohms, cathode, raised))
        balanced = fed._replace(common=0.0, twisted=True)
        best = sum(part.volts for part in self._parts(balanced, ohms, cathode, raised))
        name = stage.name
        words = (
            f"heater of {stage.part.ref}: {show(fed.differ, 'V')} across it, its middle at"
            f" {_show(fed.common)} to ground, {reference}",
            f"{show(ohms, 'ohm')} at the grid of {name} at {self._hertz:g} Hz",
            *(f"{part.reads}: {show(part.volts, 'V')}" for part in parts if part.volts > 1e-9),
        )
        weak = [
            Datum("how grid and heater wires lie at a socket", Basis.ASSUMED),
            Datum("capacitance from heater to grid", Basis.ASSUMED),
            Datum("leakage from heater to cathode", Basis.MEMORY),
        ]
        if reference == "tied to nothing":
            weak.append(Datum("volts of a heater winding tied to nothing", Basis.ASSUMED))
        return HeaterHum(
            stage=stage,
            first=grid in self._first,
            hertz=self._hertz,
            parts=parts,
            best=best,
            twisted=fed.twisted,
            reference=reference,
            raised=raised,
            working=words,
            rests_on=(*weak, *state.rests_on),
        )

    def _feed(self, state: State, stage: Stage, heater: Heater) -> tuple[_Fed, str]:
        ground = state.netlist.circuit.ground
        a, b = (_at_mains(state, net, ground) for net in (heater.a, heater.b))
        common, differ = abs(0.5 * (a + b)), abs(a - b)
        reference = "one side grounded" if common > 0.25 * differ else "balanced"
        if state.floats(heater.a):
            common = ADRIFT * self._design.document.site.mains.voltage if differ > STILL else 0.0
            reference = "tied to nothing"
        wires = self._wires(heater)
        thin = min(wires, key=lambda wire: wire.type.size)
        copper = 2.0 * math.sqrt(thin.type.size / math.pi)
        clear = max(CLEAR, 2.0 * copper)
        beside = [
            (run.length, max(run.apart, clear))
            for run in self._runs
            if run.carries == "a heater" and stage.grid in self._first and run.loud in wires
        ]
        # of the two wires of a pair the one that lies nearer: the other follows it
        longest = {apart: max(n for n, at in beside if at == apart) for _n, apart in beside}
        runs = ((DRESS, clear), *((metres, apart) for apart, metres in longest.items()))
        pair = {wire.ref for wire in wires}
        twisted = all(wire.twist in pair for wire in wires)
        amperes = max(self._carried(wire, heater) for wire in wires) if differ > STILL else 0.0
        spacing = copper + 2.0 * WALL
        return _Fed(common, differ, amperes, spacing, copper, twisted, runs), reference

    def _wires(self, heater: Heater) -> list[WireUse]:
        """Wires soldered to the heater's pins; raises Missing where there are none."""
        ref = heater.part.ref
        pins = {f"{ref}.{t}" for t, net in heater.part.ends.items() if net in (heater.a, heater.b)}
        wires = [
            wire
            for wire in self._design.wires.values()
            if pins & set(wire.run) and {point.partition(".")[0] for point in wire.run} != {ref}
        ]
        if not wires:
            where = ("wires",)
            raise Missing(f"the wires of the heater of {ref}", where, heater.part.subject)
        return wires

    def _carried(self, wire: WireUse, heater: Heater) -> float:
        """Amperes of the tubes that a wire feeds from this one on, by the order of its run."""
        refs = list(dict.fromkeys(point.partition(".")[0] for point in wire.run))
        own = refs.index(heater.part.ref)
        fed = {h.part.ref: h.option.amperes for h in self._stages.heaters}
        return sum(fed.get(ref, 0.0) for ref in refs[own:])

    def _seen(self, stage: Stage, grid: str) -> tuple[float, float]:
        """Ohms at the grid, and ohms by which a current into the cathode acts as volts there."""
        linear, ground = self._signal.linear(), self._signal.state.netlist.circuit.ground
        hertz = np.array([self._hertz])
        at_grid, at_cathode = (grid, ground), (stage.cathode, ground)
        ohms = abs(linear.impedance(at_grid, hertz)[0]) if known(linear.network, at_grid) else 0.0
        if stage.cathode == ground:
            return float(ohms), 0.0
        # one ampere into either: by what each moves the electrode that goes on
        out = (self._goes_on.get(stage.name, stage.plate), ground)
        moved = linear.transfer([at_cathode, at_grid], [out], hertz)[0, 0]
        if ohms > 0.0 and abs(moved[1]) > 1e-9 * ohms:
            return float(ohms), float(abs(moved[0] / moved[1]) * ohms)
        return float(ohms), float(abs(linear.impedance(at_cathode, hertz)[0]))

    @functools.cached_property
    def _goes_on(self) -> dict[str, str]:
        """The electrode by which the signal leaves a stage: the plate, or a follower's cathode."""
        return {reached.stage.name: reached.net for reached in self._signal.stages}

    def _parts(self, fed: _Fed, ohms: float, cathode: float, raised: float) -> Iterator[Part]:
        omega = 2.0 * math.pi * self._hertz
        left = TWIST_LEFT if fed.twisted else 1.0
        amperes = flux = 0.0
        for metres, apart in fed.runs:
            near = metres * wire_capacitance(fed.copper, apart)
            far = metres * wire_capacitance(fed.copper, apart + fed.spacing)
            amperes += omega * ((near + far) * fed.common + left * 0.5 * (near - far) * fed.differ)
            sides = (apart, 0.0), (apart + WIDE, 0.0)
            wires = (0.0, 0.0), (-fed.spacing, 0.0)
            flux += left * metres * abs(pair_flux(fed.amperes, wires, sides))
        length = sum(metres for metres, _apart in fed.runs)
        pair = "twisted" if fed.twisted else "untwisted"
        along = f"{length * 1e3:.0f} mm along {pair} heater wires"
        yield Part("wires", amperes * ohms, f"{along}, by their capacitance")
        bulb = omega * IN_BULB * (fed.common + UNEVEN * 0.5 * fed.differ)
        yield Part("bulb", bulb * ohms, f"{show(IN_BULB, 'F')} in bulb and socket")
        yield Part(
            "current", emf(flux, self._hertz), f"{along}, by {show(fed.amperes, 'A')} in them"
        )
        leak = LEAK * (RAISED_LEAK if raised >= RAISED else 1.0)
        siemens = math.hypot(1.0 / leak, omega * HEATER_CATHODE)
        through = siemens * (fed.common + UNEVEN * 0.5 * fed.differ)
        words = f"{show(leak, 'ohm')} and {show(HEATER_CATHODE, 'F')} to the cathode"
        yield Part(
            "cathode", through * cathode, f"{words}, {show(cathode, 'ohm')} as the grid sees it"
        )


def _show(volts: float) -> str:
    """Volts for a reader; below a microvolt at a heater it is rounding."""
    return show(volts if volts >= 1e-6 else 0.0, "V")


def _at_mains(state: State, net: str, ground: str) -> complex:
    """Volts of a net at mains frequency, rms with its phase."""
    wave = state.between(net, ground)
    if wave.size < 3:
        return 0j
    return complex(np.fft.rfft(wave)[1]) * math.sqrt(2.0) / wave.size


def make(
    design: Design,
    stages: Stages,
    schematic: Schematic,
    signal: Signal,
    runs: Runs | None,
) -> HeaterCoupling:
    """Raises NothingToJudge without heaters, and what Signal raises."""
    if not stages.heaters:
        raise NothingToJudge("no tube is heated")
    return HeaterCoupling(design, stages, schematic, signal, runs)
