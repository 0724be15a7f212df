"""Our answer and ngspice's for one circuit, side by side: what differs most, and by how much.

ngspice starts a few per cent off our answer and runs until it stands still, so that a wrong answer
is walked away from.  It runs in pieces of whole cycles, each from where the last one ended: first
in long steps, to settle, then in short ones, to be measured.
"""

from __future__ import annotations

import math
import subprocess
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    Element,
    GlowTube,
    Inductor,
    Resistor,
    SiliconDiode,
    Source,
    Transformer,
    TubeDiode,
    ZenerDiode,
)
from coldcheck.lint.physics.discharge import decay
from coldcheck.lint.physics.periodic import PeriodicState
from coldcheck.lint.physics.start import cold_start
from coldcheck.lint.physics.waves import Waves
from physics import references, spice

SENSED = " amperes"
"""Ends the name of the source of 0 V that ngspice reads a diode's current from."""

LIT = 1e-6
"""Mean amperes from which a glow tube has struck."""

OFF = 0.97
"""Capacitors begin at this share of our answer."""
SHORT = 2.5e-5
"""ngspice's longest step in seconds when it is measured."""


class Leg(NamedTuple):
    """``step`` in seconds, mains cycles a piece, and pieces at most."""

    step: float
    cycles: int
    most: int


PLAN = (Leg(1e-4, 4, 40), Leg(SHORT, 3, 12))
QUICK = (Leg(5e-5, 3, 9),)
STANDS = 2e-5
SMALL_VOLTS, SMALL_AMPERES = 3.0, 3e-3
"""Share of a capacitor's volts or a coil's amperes, these at least, that may still be to come when
ngspice is called settled."""
MEMORY = 7
"""Pieces that are remembered."""
LEAST = 5
"""Pieces before which it is not believed to stand still."""

BARS = {
    "dc": 1e-3,
    "ripple": 1e-2,
    "rms": 1e-2,
    "peak": 1e-2,
    "VA": 1e-2,
    "capacitor peak": 1e-3,
    "inrush": 1e-2,
    "discharge": 5e-3,
}
"""Largest relative error of each quantity; of dc also any error within :data:`DC_VOLTS`."""
DC_VOLTS = 1e-3
RIPPLE_VOLTS = 1e-3
"""Ripple below this is not compared; it is ngspice's own noise."""
SMALLEST_AMPERES = 1e-3
"""Currents below this, rms, are not compared, for the same reason."""


class Error(NamedTuple):
    """One figure: ``kind`` is a key of :data:`BARS`, ``of`` the node or element."""

    kind: str
    of: str
    ours: float
    theirs: float

    @property
    def relative(self) -> float:
        """Share by which ours differs from ngspice's; 0 within the volts that always pass."""
        miss = abs(self.ours - self.theirs)
        if miss == 0.0 or (self.kind == "dc" and miss <= DC_VOLTS):
            return 0.0
        return miss / abs(self.theirs) if self.theirs else math.inf

    @property
    def passes(self) -> bool:
        return self.relative <= BARS[self.kind]


def worst(errors: list[Error]) -> dict[str, Error]:
    """The largest error of each kind that was compared at all."""
    found: dict[str, Error] = {}
    for error in errors:
        if error.kind not in found or error.relative > found[error.kind].relative:
            found[error.kind] = error
    return found


CORE = 1e6
"""Henries of a mains transformer's core in ngspice, which takes the dc that ours takes in an ideal
one; it draws a microampere, and so begins and stays with the current that our answer gives it: were
that wrong, the winding would have a mean voltage that ours has not."""


def sensing(circuit: Circuit, *, ideal: bool = False) -> Circuit:
    """The circuit for ngspice: with a source of 0 V before each diode, whose current it then tells,
    and, unless ``ideal``, with an inductance in each ideal core."""
    elements: list[Element] = []
    for element in circuit.elements:
        match element:
            case Transformer(magnetising=None) if not ideal:
                elements.append(element._replace(magnetising=CORE))
            case SiliconDiode() | TubeDiode() | ZenerDiode() | GlowTube():
                inner = f"{element.name} anode"
                elements.append(Source(element.name + SENSED, element.anode, inner))
                elements.append(element._replace(anode=inner))
            case _:
                elements.append(element)
    return circuit._replace(elements=tuple(elements))


def transient(
    circuit: Circuit, seconds: float, step: float, begin: Mapping[str, float], options: str = ""
) -> spice.Run:
    """ngspice from ``begin``; where it cannot go on, with a tenth of a picofarad at every node."""
    deck = spice.Deck(circuit, begin, steady=False)
    analysis = f".tran {step!r} {seconds!r} 0 {step!r} uic"
    last: Exception | None = None
    for more in ("", " cshunt=1e-13"):
        try:
            return spice._run(deck, analysis, options + more)
        except (spice.SpiceFailed, subprocess.TimeoutExpired) as failed:
            last = failed
    raise spice.SpiceFailed(str(last))


def stored(circuit: Circuit, found: Waves, share: float) -> dict[str, float]:
    """What ngspice starts from: our answer at time 0, capacitors off by ``share``."""
    held: dict[str, float] = {}
    for element in circuit.elements:
        match element:
            case Capacitor():
                held[element.name] = share * float(found.across(element.name)[0])
            case GlowTube():
                held[element.name] = float(np.mean(found.amperes(element.name)) > LIT)
            case Inductor() | Transformer():
                held[element.name] = float(found.amperes(element.name)[0])
            case _:
                pass
    return held


def left(circuit: Circuit, run: spice.Run) -> dict[str, float]:
    """The same at the end of a run of ngspice."""
    held: dict[str, float] = {}
    for element in circuit.elements:
        match element:
            case Capacitor():
                held[element.name] = float(run.volts(element.a)[-1] - run.volts(element.b)[-1])
            case GlowTube():
                held[element.name] = float(np.mean(run.amperes(element.name + SENSED)) > LIT)
            case Inductor():
                held[element.name] = float(run.amperes(element.name)[-1])
            case Transformer():
                first = element.coils[0].turns
                currents = (run.amperes(c.name)[-1] * c.turns / first for c in element.coils)
                held[element.name] = float(sum(currents))
            case _:
                pass
    return held


class Settled(NamedTuple):
    """The last cycle of ngspice, how long it took, and what of any voltage is still to come."""

    cycle: spice.Run
    seconds: float
    to_come: float


def settle(circuit: Circuit, begin: Mapping[str, float], plan: Sequence[Leg] = PLAN) -> Settled:
    """Run ngspice from ``begin`` until no voltage moves, in long steps, then in short ones.

    Between the pieces what is stored goes at once to where the last pieces say that it will end
    (D. G. Anderson, J. ACM 12, 547, 1965), which spares waiting for slow capacitors; no figure of
    ours takes part.
    """
    length = 1.0 / circuit.mains_hz
    names, cycles = list(begin), 0
    scale = np.array([max(abs(begin[name]), 1e-2) for name in names])
    volts = {e.name for e in circuit.elements if isinstance(e, Capacitor)}
    small = np.array([SMALL_VOLTS if name in volts else SMALL_AMPERES for name in names])
    x = np.array([begin[name] for name in names])
    for step, piece, most in plan:
        asked: list[np.ndarray] = []
        given: list[np.ndarray] = []
        calm = 0
        for _ in range(most):
            held = dict(zip(names, x.tolist(), strict=True))
            run = transient(circuit, piece * length, step, held)
            cycles += piece
            end = left(circuit, run)
            asked.append(x)
            given.append(np.array([end[name] for name in names]))
            x = _onward(asked[-MEMORY:], given[-MEMORY:], scale)
            ahead = np.abs(x - asked[-1]) / np.maximum(np.abs(asked[-1]), small)
            to_come = float(ahead.max(initial=0.0))
            calm = calm + 1 if to_come <= STANDS else 0
            if calm >= 2 and len(asked) >= LEAST:
                break
    return Settled(run.cycle(piece * length, length), cycles * length, to_come)


def _onward(asked: list[np.ndarray], given: list[np.ndarray], scale: np.ndarray) -> np.ndarray:
    """The next thing to ask, from what came of the last ones."""
    moved = [(g - a) / scale for a, g in zip(asked, given, strict=True)]
    if len(moved) < 2:
        return given[-1]
    past = np.stack([moved[k + 1] - moved[k] for k in range(len(moved) - 1)], axis=1)
    ends = np.stack([given[k + 1] - given[k] for k in range(len(given) - 1)], axis=1)
    share = np.linalg.lstsq(past, moved[-1], rcond=1e-4)[0]
    return np.asarray(given[-1] - ends @ share)


def steady(circuit: Circuit, state: PeriodicState, settled: Settled) -> Iterator[Error]:
    """DC and ripple of every node, rms, peak and VA of every winding, peak of every rectifier."""
    run = settled.cycle
    for node in state.network.index:
        volts = run.volts(node)
        yield Error("dc", node, state.mean(node), float(volts.mean()))
        # A straight line is taken off: what slow nodes still drift is no ripple.
        flat = volts - np.linspace(0.0, 1.0, volts.size) * (volts[-1] - volts[0])
        if np.ptp(flat) > RIPPLE_VOLTS:
            yield Error("ripple", node, state.ripple(node), float(np.ptp(flat)))
    for name, element in state.network.elements.items():
        if isinstance(element, Coil):
            theirs, ours = run.amperes(name), state.amperes(name)
            if _rms(theirs) <= SMALLEST_AMPERES:
                continue
            across = run.volts(element.a) - run.volts(element.b)
            yield Error("rms", name, _rms(ours), _rms(theirs))
            yield Error("peak", name, abs(state.peak_amperes(name)), _peak(theirs))
            yield Error(
                "VA", name, _rms(state.across(name)) * _rms(ours), _rms(across) * _rms(theirs)
            )
        elif name + SENSED in run.deck.sensors:
            theirs = run.amperes(name + SENSED)
            if _rms(theirs) > SMALLEST_AMPERES:
                yield Error("peak", name, abs(state.peak_amperes(name)), _peak(theirs))


def first_moments(circuit: Circuit, seconds: float = 0.3, step: float = SHORT) -> Iterator[Error]:
    """Tubes cold, from zero charge: peaks of the capacitors' volts, inrush of every current."""
    cold = references.drawing_nothing(circuit)
    start = cold_start(cold, cycles=round(seconds * circuit.mains_hz))
    run = transient(sensing(cold, ideal=True), seconds, step, {})
    for element in cold.elements:
        if isinstance(element, Capacitor):
            volts = run.volts(element.a) - run.volts(element.b)
            if _peak(volts) > 1.0:
                ours = abs(start.peak_volts(element.name))
                yield Error("capacitor peak", element.name, ours, _peak(volts))
    for name, sensor in _currents(cold):
        peak = _peak(run.amperes(sensor))
        if peak > SMALLEST_AMPERES:
            yield Error("inrush", name, abs(start.peak_amperes(name)), peak)


def emptying(circuit: Circuit, begin: Mapping[str, float], volts: float = 50.0) -> Iterator[Error]:
    """Seconds until each capacitor is down to ``volts``, mains off, tubes and rectifiers dead."""
    found = decay(circuit, begin)
    wires = tuple(_wires(circuit))
    times = {name: found.seconds_to(name, volts) for name in begin}
    finite = {name: t for name, t in times.items() if 0.0 < t < math.inf}
    if not finite:
        return
    end = 1.3 * max(finite.values())
    run = transient(circuit._replace(elements=wires), end, end / 4000, begin)
    for element in wires:
        if isinstance(element, Capacitor) and element.name in finite:
            across = np.abs(run.volts(element.a) - run.volts(element.b))
            last = int(np.nonzero(across > volts)[0][-1])
            pair = slice(last, last + 2)
            when = float(np.interp(-volts, -across[pair], run.time[pair]))
            yield Error("discharge", element.name, finite[element.name], when)


def _wires(circuit: Circuit) -> Iterator[Resistor | Capacitor]:
    """What is left of a circuit without mains, tubes and rectifiers; coils are their wire."""
    for element in circuit.elements:
        match element:
            case Resistor() | Capacitor():
                yield element
            case Inductor():
                yield Resistor(element.name, element.a, element.b, element.ohms)
            case Transformer():
                yield from (Resistor(c.name, c.a, c.b, c.ohms) for c in element.coils)
            case _:
                pass


def _currents(circuit: Circuit) -> Iterator[tuple[str, str]]:
    for element in circuit.elements:
        match element:
            case Transformer():
                yield from ((coil.name, coil.name) for coil in element.coils)
            case Source() | Inductor():
                yield element.name, element.name
            case _ if hasattr(element, "anode"):
                yield element.name, element.name + SENSED
            case _:
                pass


def _rms(wave: np.ndarray) -> float:
    return math.sqrt(float(np.mean(np.square(wave))))


def _peak(wave: np.ndarray) -> float:
    return float(np.max(np.abs(wave)))
