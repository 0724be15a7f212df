"""The same circuit for ngspice: a deck with our equations, run in batch, read back by our names.

Tubes and diodes become behavioural current sources with the very formulas of
:mod:`coldcheck.lint.physics.devices`, so what differs is only how the equations are solved.
Transformers are a core node w (volts per turn ratio): each coil is a controlled voltage source
driven by w, and feeds its ampere-turns back into it; there a magnetising inductance, or nearly
nothing, carries them.  Iron that saturates is a linear inductance with a behavioural source across
it that reads its current, and a glow tube keeps in mind, on a capacitor, that it has struck.
"""

from __future__ import annotations

import math
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from coldcheck.lint.physics import devices, semiconductors
from coldcheck.lint.physics.circuit import (
    Bipolar,
    Capacitor,
    Circuit,
    CurrentLoad,
    GlowTube,
    Inductor,
    Mosfet,
    Pentode,
    Regulator,
    Resistor,
    Saturation,
    SiliconDiode,
    Source,
    Transformer,
    Triode,
    TubeDiode,
    ZenerDiode,
)
from coldcheck.lint.physics.floating import terminals

SETTINGS = ".options reltol=1e-5 abstol=1e-10 vntol=1e-7 gmin=1e-13 itl1=1000 itl4=200 method=gear"
SETTLING = " cshunt=1e-12"
"""A picofarad at every node, for a second try only: without it a winding that hangs on blocked
diodes stops ngspice, with it a neutral tied by 1 Mohm hums by a volt."""


class SpiceFailed(Exception):
    """ngspice was not found, complained, or gave no data; the message is its output."""


@dataclass(frozen=True)
class Run:
    """What ngspice found: ``time`` (samples,) in seconds, empty for an operating point."""

    time: np.ndarray
    vectors: Mapping[str, np.ndarray]
    deck: Deck

    def volts(self, node: str) -> np.ndarray:
        """Voltage of a node to ground, (samples,)."""
        number = self.deck.nodes[node]
        return self.vectors[f"v({number})"] if number else np.zeros(len(self.time) or 1)

    def amperes(self, name: str) -> np.ndarray:
        """Current of a source, inductor or coil from a to b, into a collector or drain, out of a
        regulator, (samples,)."""
        return self.vectors[f"i({self.deck.sensors[name]})"]

    def cycle(self, end: float, length: float, points: int = 4000) -> Run:
        """The cycle that ends at a time, on an even grid, ngspice's own steps being uneven."""
        time = end - length + length * np.arange(1, points + 1) / points
        vectors = {name: np.interp(time, self.time, v) for name, v in self.vectors.items()}
        return Run(time, vectors, self.deck)


class Deck:
    """Lines of a circuit; ``nodes`` and ``sensors`` tell which number or element is whose."""

    def __init__(self, circuit: Circuit, initial: Mapping[str, float], steady: bool) -> None:
        self.circuit, self.initial, self.steady = circuit, initial, steady
        self.nodes: dict[str, int] = {circuit.ground: 0}
        for element in circuit.elements:
            for node in terminals(element):
                self.nodes.setdefault(node, len(self.nodes))
        self._spare = len(self.nodes)
        self.sensors: dict[str, str] = {}
        self.lines: list[str] = []
        for k, element in enumerate(circuit.elements, 1):
            self.lines.extend(self._element(k, element))

    def _extra(self) -> int:
        self._spare += 1
        return self._spare - 1

    def _start(self, name: str) -> str:
        return f" IC={self.initial.get(name, 0.0)!r}"

    def _element(self, k: int, element: object) -> Iterator[str]:
        at = self.nodes
        match element:
            case Resistor():
                yield f"R{k} {at[element.a]} {at[element.b]} {element.ohms!r}"
            case Capacitor():
                start = self._start(element.name)
                yield f"C{k} {at[element.a]} {at[element.b]} {element.farads!r}{start}"
            case Inductor():
                inner, sensed = self._extra(), self._extra()
                self.sensors[element.name] = f"vs{k}"
                yield f"Vs{k} {at[element.a]} {sensed} 0"
                yield from self._iron(k, element, sensed, inner, element.henries)
                yield f"R{k} {inner} {at[element.b]} {element.ohms!r}"
            case Source():
                self.sensors[element.name] = f"vs{k}"
                wave = f"DC {element.dc!r}"
                if element.peak and not self.steady:
                    hz, degrees = self.circuit.mains_hz, math.degrees(element.phase)
                    wave = f"SIN({element.dc!r} {element.peak!r} {hz!r} 0 0 {degrees!r})"
                yield f"Vs{k} {at[element.a]} {at[element.b]} {wave}"
            case CurrentLoad():
                yield f"I{k} {at[element.a]} {at[element.b]} DC {element.amperes!r}"
            case Transformer():
                yield from self._transformer(k, element)
            case SiliconDiode():
                inner = self._extra()
                yield f"R{k} {at[element.anode]} {inner} {max(element.ohms, 1e-6)!r}"
                law = _silicon(f"v({inner},{at[element.cathode]})", element)
                yield f"B{k} {inner} {at[element.cathode]} I={law}"
            case TubeDiode():
                a, c = at[element.anode], at[element.cathode]
                yield f"B{k} {a} {c} I={element.perveance!r}*pow(max(v({a},{c}),0),1.5)"
            case ZenerDiode():
                a, c = at[element.anode], at[element.cathode]
                yield f"B{k} {a} {c} I={_zener(f'v({a},{c})', element)}"
            case GlowTube():
                yield from self._glow(k, element)
            case Bipolar() | Mosfet() | Regulator():
                yield from self._solid(k, element)
            case Triode():
                a, g, c = (at[n] for n in terminals(element))
                yield f"B{k} {a} {c} I={_triode(f'v({a},{c})', f'v({g},{c})', element)}"
                yield f"Bg{k} {g} {c} I={_grid(f'v({g},{c})', element.law.grid_ohms)}"
            case Pentode():
                a, s, g, c = (at[n] for n in terminals(element))
                space, share = _pentode(f"v({a},{c})", f"v({s},{c})", f"v({g},{c})", element)
                pull = f"{element.law.plate_pull!r}*max(v({a},{c}),0)"
                yield f"B{k} {a} {c} I={space}*(1-{share}+{pull})"
                yield f"Bs{k} {s} {c} I={space}*{share}"
                yield f"Bg{k} {g} {c} I={_grid(f'v({g},{c})', element.law.grid_ohms)}"

    def _iron(
        self, k: int, iron: Inductor | Transformer, a: int, b: int, henries: float
    ) -> Iterator[str]:
        """The inductance, and what saturation lets through beside it; starts at its linear current."""
        start = self._start(iron.name)
        if iron.saturation is None:
            yield f"L{k} {a} {b} {henries!r}{start}"
            return
        inner = self._extra()
        yield f"L{k} {a} {inner} {henries!r}{start}"
        yield f"Vl{k} {inner} {b} 0"
        yield f"B{k} {a} {b} I={_bend(f'i(Vl{k})', iron.saturation, henries)}"

    def _glow(self, k: int, glow: GlowTube) -> Iterator[str]:
        """Struck as ``initial`` says; a steady deck takes it as struck unless that says 0."""
        a, c = self.nodes[glow.anode], self.nodes[glow.cathode]
        ohms = max(glow.ohms, devices.SMALLEST_ZENER_OHMS)
        lit = _softplus(f"((v({a},{c})-{glow.volts!r})/{devices.KNEE!r})")
        lit = f"{devices.KNEE / ohms!r}*{lit}"
        if self.steady:
            if self.initial.get(glow.name, 1.0) > 0.5:
                yield f"B{k} {a} {c} I={lit}"
            return
        mind = self._extra()
        yield f"C{k} {mind} 0 1e-9{self._start(glow.name)}"
        struck = f"(v({a},{c})>{glow.strikes!r} || v({mind})>0.5)"
        yield f"Bm{k} 0 {mind} I={struck} ? 1e-3*(1-v({mind})) : 0"
        yield f"B{k} {a} {c} I=v({mind})>0.5 ? {lit} : 0"

    def _solid(self, k: int, device: Bipolar | Mosfet | Regulator) -> Iterator[str]:
        """Both ports as sources; what is turned round has its electrodes exchanged throughout."""
        at, sign = self.nodes, device.polarity
        sensed = self._extra()
        self.sensors[device.name] = f"vs{k}"

        def port(a: int, b: int) -> str:
            return f"v({a},{b})" if sign > 0 else f"v({b},{a})"

        def source(name: str, a: int, b: int, law: str) -> str:
            return f"B{name}{k} {a} {b} I={law}" if sign > 0 else f"B{name}{k} {b} {a} I={law}"

        match device:
            case Bipolar():
                c, b, e = sensed, at[device.base], at[device.emitter]
                yield f"Vs{k} {at[device.collector]} {c} 0"
                forward = _exponential(port(b, e), device.saturation, device.slope)
                reverse = _exponential(port(b, c), device.saturation, device.slope)
                back = 1.0 + 1.0 / semiconductors.REVERSE_GAIN
                yield source("e", b, e, f"{1.0 + 1.0 / device.gain!r}*{forward}-{reverse}")
                yield source("c", b, c, f"{back!r}*{reverse}-{forward}")
            case Mosfet():
                d, g, s = sensed, at[device.gate], at[device.source]
                yield f"Vs{k} {at[device.drain]} {d} 0"
                knee = devices.KNEE
                on = _softplus(f"(({port(g, s)}-{device.threshold!r})/{knee!r})")
                off = _softplus(f"(({port(g, d)}-{device.threshold!r})/{knee!r})")
                half = 0.5 * device.steepness * knee * knee
                body = _exponential(
                    port(s, d), semiconductors.BODY_SATURATION, semiconductors.BODY_SLOPE
                )
                yield source("d", d, s, f"{half!r}*({on}*{on}-{off}*{off})-{body}")
            case Regulator():
                i, o, c = at[device.input], sensed, at[device.common]
                yield f"Vs{k} {o} {at[device.output]} 0"
                given, idle = _regulator(port(o, c), port(i, o), device)
                yield source("g", i, o, given)
                yield source("q", i, c, idle)

    def _transformer(self, k: int, transformer: Transformer) -> Iterator[str]:
        core = self._extra()
        for j, coil in enumerate(transformer.coils):
            ratio = coil.turns / transformer.coils[0].turns
            sensed, inner = self._extra(), self._extra()
            self.sensors[coil.name] = f"vs{k}_{j}"
            yield f"Vs{k}_{j} {self.nodes[coil.a]} {sensed} 0"
            yield f"R{k}_{j} {sensed} {inner} {max(coil.ohms, 1e-6)!r}"
            yield f"E{k}_{j} {inner} {self.nodes[coil.b]} {core} 0 {ratio!r}"
            yield f"F{k}_{j} 0 {core} Vs{k}_{j} {ratio!r}"
        if transformer.magnetising is not None:
            yield from self._iron(k, transformer, core, 0, transformer.magnetising)
        elif self.steady:
            yield f"Vw{k} {core} 0 0"
        else:
            yield f"R{k} {core} 0 1e9"


def operating_point(circuit: Circuit, initial: Mapping[str, float] | None = None) -> Run:
    """Every source at its dc value; ``initial`` says 0 of the glow tubes that are dark."""
    return _run(Deck(circuit, initial or {}, steady=True), ".op")


def transient(
    circuit: Circuit, stop: float, step: float, initial: Mapping[str, float] | None = None
) -> Run:
    """From ``initial`` to ``stop`` seconds in steps of at most ``step``.

    ``initial``: volts of capacitors, amperes of inductors, magnetising amperes (seen at the first
    coil) of transformers, those of saturating iron without what saturation adds, 1 for glow tubes
    that have struck, by name; what is not named starts at 0.
    """
    deck = Deck(circuit, initial or {}, steady=False)
    analysis = f".tran {step!r} {stop!r} 0 {step!r} uic"
    try:
        return _run(deck, analysis)
    except SpiceFailed:
        return _run(deck, analysis, SETTLING)


def small_signal(circuit: Circuit, driven: str, low: float, high: float, per_decade: int) -> Run:
    """Complex amplitudes for 1 V of the source, or 1 A of the load, called ``driven``.

    ``time`` of the answer is the frequencies, in hertz.
    """
    deck = Deck(circuit, {}, steady=True)
    number = [element.name for element in circuit.elements].index(driven) + 1
    starts = (f"Vs{number} ", f"I{number} ")
    deck.lines = [line + " AC 1" * line.startswith(starts) for line in deck.lines]
    return _run(deck, f".ac dec {per_decade} {low!r} {high!r}")


def _run(deck: Deck, analysis: str, more: str = "") -> Run:
    program = shutil.which("ngspice")
    if program is None:
        raise SpiceFailed("ngspice is not installed")
    saved = [f"v({n})" for n in range(1, len(deck.nodes))] + [
        f"i({s})" for s in deck.sensors.values()
    ]
    asked = [SETTINGS + more, ".save " + " ".join(saved), analysis, ".end"]
    text = ["* made by the tests", *deck.lines, *asked]
    with tempfile.TemporaryDirectory() as folder:
        source, raw = Path(folder, "deck.cir"), Path(folder, "out.raw")
        source.write_text("\n".join(text) + "\n")
        done = subprocess.run(
            [program, "-b", "-r", str(raw), str(source)],
            capture_output=True,
            check=False,
            text=True,
            timeout=400,
            cwd=folder,
        )
        if not raw.exists() or "aborted" in done.stdout + done.stderr:
            raise SpiceFailed(done.stdout[-1500:] + done.stderr[-1500:])
        vectors = _read(raw.read_bytes())
    time = vectors.pop("time", vectors.pop("frequency", np.zeros(0)).real)
    return Run(time, vectors, deck)


def _read(raw: bytes) -> dict[str, np.ndarray]:
    """Vectors of a binary raw file: header lines, then doubles or pairs of them point by point."""
    header, _, data = raw.partition(b"Binary:\n")
    lines = header.decode().splitlines()
    count = next(int(x.split(":")[1]) for x in lines if x.startswith("No. Variables"))
    first = lines.index("Variables:") + 1
    names = [line.split()[1].lower() for line in lines[first : first + count]]
    kind = np.complex128 if b"Flags: complex" in header else np.float64
    table = np.frombuffer(data, dtype=kind)
    table = table[: table.size // count * count].reshape(-1, count)
    return {name: table[:, k].copy() for k, name in enumerate(names)}


def _softplus(x: str) -> str:
    return f"(max({x},0)+ln(1+exp(-abs({x}))))"


def _grid(volts: str, ohms: float) -> str:
    return f"{devices.KNEE!r}/{ohms!r}*{_softplus(f'{volts}/{devices.KNEE!r}')}"


def _triode(plate: str, grid: str, tube: Triode) -> str:
    law = tube.law
    va = f"max({plate},0)"
    soft = _softplus(f"({law.kp!r}*({1 / law.mu!r}+{grid}/sqrt({law.kvb!r}+{va}*{va}+1e-12)))")
    return f"{2 / law.kg1!r}*pow({va}/{law.kp!r}*{soft},{law.ex!r})"


def _pentode(plate: str, screen: str, grid: str, tube: Pentode) -> tuple[str, str]:
    """The space current and the screen's share of it."""
    law = tube.law
    root = f"sqrt({screen}*{screen}+4)"
    vs = f"({screen}>0 ? 0.5*({screen}+{root}) : 2/({root}-{screen}))"
    soft = _softplus(f"({law.kp!r}*({1 / law.mu!r}+{grid}/{vs}))")
    space = f"{2 / law.kg1!r}*pow({vs}/{law.kp!r}*{soft},{law.ex!r})"
    least = law.kg1 / law.kg2
    return space, f"({least!r}+{1 - least!r}/(1+{law.beta!r}*max({plate},0)))"


def _exponential(volts: str, saturation: float, slope: float) -> str:
    knee = slope * math.log(devices.TANGENT / saturation + 1.0)
    conductance = (devices.TANGENT + saturation) / slope
    below = f"{saturation!r}*(exp(min({volts},{knee!r})/{slope!r})-1)"
    return f"({below}+{conductance!r}*max({volts}-{knee!r},0))"


def _silicon(volts: str, diode: SiliconDiode) -> str:
    return _exponential(volts, diode.saturation, diode.slope)


def _zener(volts: str, diode: ZenerDiode) -> str:
    ohms = max(diode.ohms, devices.SMALLEST_ZENER_OHMS)
    backward = _softplus(f"(-({volts}+{diode.volts!r})/{devices.KNEE!r})")
    forward = _exponential(volts, devices.ZENER_SATURATION, devices.ZENER_SLOPE)
    return f"{forward}-{devices.KNEE / ohms!r}*{backward}"


def _bend(amperes: str, saturation: Saturation, henries: float) -> str:
    knee, width = saturation.amperes, devices.BEND * saturation.amperes
    up = _softplus(f"(({amperes}-{knee!r})/{width!r})")
    down = _softplus(f"((-{amperes}-{knee!r})/{width!r})")
    return f"{(henries / saturation.henries - 1.0) * width!r}*({up}-{down})"


def _regulator(output: str, headroom: str, device: Regulator) -> tuple[str, str]:
    """What it delivers, and its quiescent current."""
    edge, most = semiconductors.EDGE, device.most
    width = semiconductors.ROUNDING * most
    ohms = max(device.ohms, semiconductors.SMALLEST_REGULATOR_OHMS)

    def least(a: str, b: str) -> str:
        return f"({a}-{width!r}*{_softplus(f'(({a}-{b})/{width!r})')})"

    held = f"({device.volts!r}-{output})/{ohms!r}"
    able = f"{most / edge!r}*({headroom}/{device.dropout!r}-{1.0 - edge!r})"
    limited = least(least(held, able), repr(most))
    idle = f"{device.quiescent!r}*tanh({2.0 / device.dropout!r}*({output}+{headroom}))"
    return f"{width!r}*{_softplus(f'({limited}/{width!r})')}", idle
