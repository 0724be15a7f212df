"""Invented circuits for the solvers' tests, each of one mains voltage in volts rms.

Tube laws are those of the library when this was written, fitted to published points.
Diodes are generic: 5 nA and 48 mV, about 1 V at 1 A, from memory.
"""

from __future__ import annotations

import math

import numpy as np

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    Element,
    Inductor,
    Pentode,
    PentodeLaw,
    Resistor,
    SiliconDiode,
    Source,
    Transformer,
    Triode,
    TriodeLaw,
    TubeDiode,
)

AX7 = TriodeLaw(mu=102.55, ex=1.134, kg1=996.46, kp=728.34, kvb=10402.0)
CG7 = TriodeLaw(mu=21.315, ex=1.3513, kg1=1446.4, kp=125.65, kvb=437.09)
V6 = PentodeLaw(
    mu=9.5722, ex=1.3433, kg1=1472.7, kg2=97128, kp=100.39, beta=0.05662, plate_pull=0.0002841
)
EL34 = PentodeLaw(
    mu=11.997, ex=1.2952, kg1=357.74, kg2=10379, kp=48.343, beta=0.034408, plate_pull=0.00015548
)
EF86 = PentodeLaw(
    mu=38.479, ex=1.4112, kg1=1114, kg2=7470.9, kp=153.26, beta=0.15755, plate_pull=8.748e-05
)
Y3 = 2.7e-4
"""Perveance of a 5Y3-class diode: 60 V drop at 125 mA (RCA Receiving Tube Manual RC-19, 1959)."""


def silicon(name: str, anode: str, cathode: str) -> SiliconDiode:
    return SiliconDiode(name, anode, cathode, saturation=5e-9, slope=0.048, ohms=0.04)


def bridge(name: str, a: str, b: str, plus: str, minus: str) -> list[Element]:
    """Four diodes between the winding's ends and the dc side."""
    legs = ((a, plus), (b, plus), (minus, a), (minus, b))
    return [silicon(f"{name}{k}", *leg) for k, leg in enumerate(legs, 1)]


def mains(volts: float, phase: float = 0.0) -> list[Element]:
    """Line and neutral, fuse and switch; the neutral is tied to ground by a resistor only."""
    return [
        Source("mains", "line", "neutral", peak=math.sqrt(2.0) * volts, phase=phase),
        Resistor("tie", "neutral", "0", 1e6),
        Resistor("fuse", "line", "fused", 0.05),
        Resistor("switch", "fused", "primary", 0.01),
    ]


def transformer(ohms: float, *secondaries: Coil) -> Transformer:
    return Transformer("T1", (Coil("T1 primary", "primary", "neutral", 230.0, ohms), *secondaries))


def without_tubes(circuit: Circuit) -> Circuit:
    kept = tuple(e for e in circuit.elements if not isinstance(e, Triode | Pentode))
    return Circuit(kept, circuit.ground, circuit.mains_hz)


def _output_stage(side: str) -> list[Element]:
    """Half a triode driving a cathode-biased 6V6GT-class pentode."""
    n = side
    primary = Coil(f"OT {n} primary", "B2", f"plate {n}", 25.0, 200.0)
    secondary = Coil(f"OT {n} secondary", f"speaker {n}", "0", 1.0, 0.4)
    return [
        Resistor(f"R1{n}", "B3", f"driver {n}", 100e3),
        Triode(f"V1{n}", f"driver {n}", f"input {n}", f"k1 {n}", AX7),
        Resistor(f"R2{n}", f"input {n}", "0", 1e6),
        Resistor(f"R3{n}", f"k1 {n}", "0", 1500.0),
        Capacitor(f"C1{n}", f"k1 {n}", "0", 25e-6),
        Capacitor(f"C2{n}", f"driver {n}", f"grid {n}", 22e-9),
        Resistor(f"R4{n}", f"grid {n}", "0", 470e3),
        Resistor(f"R5{n}", f"k2 {n}", "0", 330.0),
        Capacitor(f"C3{n}", f"k2 {n}", "0", 47e-6),
        Pentode(f"V2{n}", f"plate {n}", f"screen {n}", f"grid {n}", f"k2 {n}", V6),
        Resistor(f"R6{n}", "B2", f"screen {n}", 470.0),
        Transformer(f"OT {n}", (primary, secondary), magnetising=12.0),
        Resistor(f"LS {n}", f"speaker {n}", "0", 8.0),
    ]


def single_ended(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """Stereo, 6V6GT class, tube rectifier of 5Y3 class, choke; heaters as loads."""
    windings = transformer(
        7.0,
        Coil("T1 plate 1", "a1", "0", 280.0, 90.0),
        Coil("T1 plate 2", "0", "a2", 280.0, 95.0),
        Coil("T1 heater", "h1", "h2", 6.9, 0.1),
        Coil("T1 filament", "f1", "f2", 5.3, 0.05),
    )
    return Circuit(
        (
            *mains(volts, phase),
            windings,
            Resistor("heaters", "h1", "h2", 2.8),
            Resistor("hum 1", "h1", "0", 100.0),
            Resistor("hum 2", "h2", "0", 100.0),
            Resistor("filament", "f1", "f2", 2.5),
            Resistor("wire", "f1", "B1", 0.001),
            TubeDiode("D1", "a1", "B1", Y3),
            TubeDiode("D2", "a2", "B1", Y3),
            Capacitor("C10", "B1", "0", 16e-6),
            Inductor("L1", "B1", "B2", 10.0, 150.0),
            Capacitor("C11", "B2", "0", 47e-6),
            Resistor("R10", "B2", "B3", 10e3),
            Capacitor("C12", "B3", "0", 22e-6),
            Resistor("bleeder", "B2", "0", 220e3),
            *_output_stage("L"),
            *_output_stage("R"),
        ),
        "0",
    )


def _push_pull_half(side: str, drive: str) -> list[Element]:
    n = side
    return [
        Capacitor(f"Cd{n}", drive, f"leak {n}", 220e-9),
        Resistor(f"Rl{n}", f"leak {n}", "bias", 150e3),
        Resistor(f"Rg{n}", f"leak {n}", f"grid {n}", 2200.0),
        Pentode(f"V4{n}", f"plate {n}", f"screen {n}", f"grid {n}", f"k {n}", EL34),
        Resistor(f"Rs{n}", "B2", f"screen {n}", 1000.0),
        Resistor(f"Rk{n}", f"k {n}", "0", 10.0),
    ]


def push_pull(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """Fixed-bias EL34 class, direct-coupled splitter, silicon bridge, half-wave bias, feedback."""
    windings = transformer(
        4.0,
        Coil("T1 plate", "a1", "a2", 330.0, 25.0),
        Coil("T1 bias", "w", "0", 50.0, 20.0),
        Coil("T1 heater", "h1", "h2", 6.7, 0.03),
    )
    output = Transformer(
        "OT",
        (
            Coil("OT a", "B1", "plate a", 1.0, 60.0),
            Coil("OT b", "plate b", "B1", 1.0, 60.0),
            Coil("OT secondary", "speaker", "0", 0.07, 0.3),
        ),
        magnetising=40.0,
    )
    return Circuit(
        (
            *mains(volts, phase),
            windings,
            Resistor("insulation", "a2", "0", 10e6),
            Resistor("heaters", "h1", "h2", 1.6),
            Resistor("hum 1", "h1", "0", 100.0),
            Resistor("hum 2", "h2", "0", 100.0),
            *bridge("D", "a1", "a2", "B1", "0"),
            Capacitor("C10", "B1", "0", 100e-6),
            Resistor("R10", "B1", "B2", 47.0),
            Capacitor("C11", "B2", "0", 100e-6),
            Resistor("bleeder", "B1", "0", 220e3),
            Resistor("R11", "B2", "B3", 6800.0),
            Capacitor("C12", "B3", "0", 47e-6),
            Resistor("R12", "B3", "B4", 22e3),
            Capacitor("C13", "B4", "0", 22e-6),
            silicon("D5", "raw bias", "w"),
            Capacitor("C14", "raw bias", "0", 47e-6),
            Resistor("R13", "raw bias", "bias", 4700.0),
            Capacitor("C15", "bias", "0", 47e-6),
            Resistor("R14", "bias", "0", 9000.0),
            Resistor("R1", "input", "0", 470e3),
            Triode("V1", "p1", "input", "k1", AX7),
            Resistor("R2", "B4", "p1", 150e3),
            Resistor("R3", "k1", "feedback", 1500.0),
            Resistor("R4", "feedback", "0", 100.0),
            Resistor("R5", "feedback", "speaker", 2200.0),
            Triode("V2", "p2", "p1", "tail", CG7),
            Triode("V3", "p3", "g3", "tail", CG7),
            Resistor("R6", "p1", "g3", 1e6),
            Capacitor("C1", "g3", "0", 100e-9),
            Resistor("R7", "tail", "0", 22e3),
            Resistor("R8", "B3", "p2", 33e3),
            Resistor("R9", "B3", "p3", 33e3),
            *_push_pull_half("a", "p2"),
            *_push_pull_half("b", "p3"),
            output,
            Resistor("LS", "speaker", "0", 8.0),
        ),
        "0",
    )


def line_stage(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """6CG7 class, common cathode and cathode follower; two silicon diodes and CRCRC."""
    windings = transformer(
        30.0,
        Coil("T1 plate 1", "a1", "0", 240.0, 150.0),
        Coil("T1 plate 2", "0", "a2", 240.0, 150.0),
    )
    return Circuit(
        (
            *mains(volts, phase),
            windings,
            silicon("D1", "a1", "B1"),
            silicon("D2", "a2", "B1"),
            Capacitor("C10", "B1", "0", 47e-6),
            Resistor("R10", "B1", "B2", 2200.0),
            Capacitor("C11", "B2", "0", 47e-6),
            Resistor("R11", "B2", "B3", 4700.0),
            Capacitor("C12", "B3", "0", 47e-6),
            Resistor("bleeder", "B1", "0", 330e3),
            *preamplifier("B2", "B3"),
        ),
        "0",
    )


def preamplifier(follower: str, gain: str) -> list[Element]:
    """Common cathode fed from node ``gain``, direct-coupled to a follower fed from ``follower``."""
    return [
        Resistor("R1", "grid", "0", 1e6),
        Triode("V1", "plate", "grid", "k1", CG7),
        Resistor("R2", "k1", "0", 1000.0),
        Capacitor("C1", "k1", "0", 100e-6),
        Resistor("R3", gain, "plate", 47e3),
        Triode("V2", follower, "plate", "k2", CG7),
        Resistor("R4", "k2", "0", 33e3),
        Capacitor("C2", "k2", "output", 1e-6),
        Resistor("R5", "output", "0", 100e3),
    ]


FAMILIES = ("full wave", "half wave", "bridge", "doubler", "charge pump", "choke input")


def random_supply(family: str, tube: bool, random: np.random.Generator) -> Circuit:
    """A rectifier with values over decades: 1 uF to 1 mF, 1 to 200 ohm, 1 mA to 0.3 A."""

    def spread(low: float, high: float) -> float:
        return float(10.0 ** random.uniform(math.log10(low), math.log10(high)))

    volts, source, load = float(random.uniform(50.0, 450.0)), spread(1, 200), spread(1e-3, 0.3)
    first, second = spread(1e-6, 1e-3), spread(1e-6, 1e-3)
    ohms = 1.4 * volts / load
    count = iter(range(1, 9))

    def diode(anode: str, cathode: str) -> Element:
        name = f"D{next(count)}"
        if tube:
            return TubeDiode(name, anode, cathode, spread(2e-4, 5e-3))
        return silicon(name, anode, cathode)

    one = Coil("T1 plate 1", "a1", "0", volts, source)
    two = Coil("T1 plate 2", "0", "a2", volts, source)
    parts: list[Element]
    match family:
        case "full wave" | "choke input":
            parts = [transformer(spread(1, 30), one, two), diode("a1", "B1"), diode("a2", "B1")]
        case "half wave":
            parts = [transformer(spread(1, 30), one), diode("a1", "B1")]
        case "bridge":
            floating = Coil("T1 plate", "a1", "a2", volts, source)
            legs = (("a1", "B1"), ("a2", "B1"), ("0", "a1"), ("0", "a2"))
            parts = [transformer(spread(1, 30), floating), *(diode(*leg) for leg in legs)]
        case "doubler":
            middle = Coil("T1 plate", "a1", "middle", volts, source)
            parts = [transformer(spread(1, 30), middle), diode("a1", "B1"), diode("0", "a1")]
            parts += [Capacitor("C8", "B1", "middle", first), Capacitor("C9", "middle", "0", first)]
        case _:
            parts = [transformer(spread(1, 30), one), diode("0", "x"), diode("x", "B1")]
            parts.append(Capacitor("C9", "a1", "x", first))
    if family == "choke input":
        parts.append(Inductor("L1", "B1", "B2", spread(0.1, 30), spread(10, 300)))
    else:
        parts.append(Capacitor("C10", "B1", "0", first))
        parts.append(Resistor("R10", "B1", "B2", ohms * spread(1e-3, 0.5)))
    parts += [Capacitor("C11", "B2", "0", second), Resistor("load", "B2", "0", ohms)]
    return Circuit((*mains(230.0), *parts), "0")
