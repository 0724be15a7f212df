"""Amplifiers on the bench: those of :mod:`physics.amplifiers` fed with dc, and what drives them."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from coldcheck.lint.physics.circuit import (
    Capacitor,
    Circuit,
    Coil,
    Element,
    Pentode,
    PentodeLaw,
    Resistor,
    Source,
    Transformer,
    Triode,
    TriodeLaw,
)
from coldcheck.lint.physics.large_signal import HERTZ, Generator, Output
from coldcheck.schemas.tubes import tube
from physics import amplifiers, references

MAINS_SIDE = ("mains", "tie", "fuse", "switch", "T1", "heaters", "hum", "filament", "wire", "D")


class Amplifier(NamedTuple):
    """A circuit with its generator and output."""

    circuit: Circuit
    generator: Generator
    output: Output
    load: str


def on_the_bench(
    circuit: Circuit, sources: list[Element], gone: set[str], **farads: float
) -> Circuit:
    """The amplifier fed with dc instead of from the mains; named capacitors made smaller, so that
    ngspice settles within its time."""
    kept = [e for e in circuit.elements if not e.name.startswith(MAINS_SIDE) and e.name not in gone]
    quick = [
        e._replace(farads=farads[e.name]) if isinstance(e, Capacitor) and e.name in farads else e
        for e in kept
    ]
    return Circuit((*sources, *quick), "0", HERTZ)


def single_ended() -> Amplifier:
    """One channel: 12AX7 and 6V6GT class, cathode bias."""
    whole = amplifiers.single_ended()
    one = Circuit(tuple(e for e in whole.elements if not e.name.endswith("R")), "0")
    bench: list[Element] = [Source("bench", "B", "0", dc=270.0), Resistor("lead", "B", "B2", 250.0)]
    circuit = on_the_bench(one, bench, {"C10", "L1"}, C11=10e-6, C12=2.2e-6, C1L=10e-6, C3L=22e-6)
    return Amplifier(circuit, Generator("input L", "0", 1e3), ("speaker L", "0"), "LS L")


def push_pull() -> Amplifier:
    """EL34 class, direct-coupled splitter, feedback, bias of its own."""
    bench: list[Element] = [Source("bench", "B", "0", dc=440.0), Resistor("lead", "B", "B1", 100.0)]
    bench.append(Source("bias source", "raw bias", "0", dc=-52.0))
    circuit = on_the_bench(
        amplifiers.push_pull(),
        bench,
        {"C10", "C14"},
        C11=22e-6,
        C12=2.2e-6,
        C13=1e-6,
        C15=4.7e-6,
        C1=22e-9,
        Cda=100e-9,
        Cdb=100e-9,
    )
    return Amplifier(circuit, Generator("input", "0", 1e3), ("speaker", "0"), "LS")


def line_stage() -> Amplifier:
    bench: list[Element] = [Source("bench", "B", "0", dc=320.0), Resistor("lead", "B", "B1", 500.0)]
    circuit = on_the_bench(
        amplifiers.line_stage(), bench, {"C10"}, C11=4.7e-6, C12=4.7e-6, C1=10e-6, C2=100e-9
    )
    return Amplifier(circuit, Generator("grid", "0", 1e3), ("output", "0"), "R5")


def two_pentodes(henries: float = 40.0) -> Amplifier:
    """EF86 and 6V6GT class, as the doubler feeds them; with 10 H, as their reference has, 1 kHz is
    not quite mid-band: the primary's current turns the load line by 4.5 degrees."""
    bench: list[Element] = [Source("bench", "B", "0", dc=310.0), Resistor("lead", "B", "B1", 200.0)]
    circuit = on_the_bench(
        references.doubler(), bench, {"C8", "C9", "bleeder 1", "bleeder 2"}, C10=10e-6, C11=2.2e-6
    )
    iron = [
        e._replace(magnetising=henries) if isinstance(e, Transformer) else e
        for e in circuit.elements
    ]
    circuit = circuit._replace(elements=tuple(iron))
    return Amplifier(circuit, Generator("input", "0", 1e3), ("speaker", "0"), "LS")


def three_stages() -> Amplifier:
    """Two stages and two followers, as the choke-input supply feeds them."""
    bench: list[Element] = [Source("bench", "B", "0", dc=300.0), Resistor("lead", "B", "B2", 300.0)]
    gone = {"L1", "core loss", "C10", "bleeder"}
    circuit = on_the_bench(references.choke_input(), bench, gone, C11=10e-6, C12=4.7e-6)
    return Amplifier(circuit, Generator("in", "0", 1e3), ("output", "0"), "R5")


def regulated_stage() -> Amplifier:
    """The preamplifier behind a MOS follower and a transistor, without their reference's glow."""
    bench: list[Element] = [Source("bench", "B1", "0", dc=380.0)]
    bench.append(Source("held", "reference", "0", dc=258.0))
    gone = {"C10", "bleeder", "R10", "V8", "V9", "starter", "C14", "R17", "U1", "C15", "R16"}
    circuit = on_the_bench(references.regulated(), bench, gone, C1=10e-6)
    return Amplifier(circuit, Generator("grid", "0", 1e3), ("output", "0"), "R5")


MAKERS = (single_ended, push_pull, line_stage)
EVERY = (*MAKERS, two_pentodes, three_stages, regulated_stage)
Maker = Callable[[], Amplifier]


def with_generator(amplifier: Amplifier, amplitude: float) -> Circuit:
    """The circuit with the generator as parts of it."""
    node, ground, ohms = amplifier.generator
    crest = math.pi / 2.0
    parts = (
        Source("generator", "generator", ground, peak=amplitude, phase=crest),
        Resistor("generator ohms", "generator", node, ohms),
    )
    return amplifier.circuit._replace(elements=(*amplifier.circuit.elements, *parts))


class Service(NamedTuple):
    """Published operation: V, V, V, peak V to a grid, mA, mA, ohm, W at full signal."""

    kind: str
    plate: float
    screen: float | None
    bias: float
    peak: float
    amperes: float | None
    screen_amperes: float | None
    load: float
    watts: float
    pair: bool = False


def output_stage(service: Service) -> Circuit:
    """Ideal transformer, ideal supplies, grids coupled by a capacitor."""
    kind = tube(service.kind)
    assert kind is not None
    # of a bulb with a triode and a pentode in it the pentode comes last
    known = kind.law[1 if service.screen is None else max(kind.law)]
    assert known is not None
    parameters = known.parameters
    sides = ("a", "b") if service.pair else ("a",)
    turns = math.sqrt(service.load) / len(sides)
    elements: list[Element] = [
        Source("B", "B", "0", dc=service.plate),
        Source("screen", "screen", "0", dc=service.screen or service.plate),
        Source("bias", "bias", "0", dc=service.bias),
        Resistor("load", "out", "0", 1.0),
    ]
    coils = [Coil("secondary", "out", "0", 1.0, 0.0)]
    for k in sides:
        elements += [
            Resistor(f"leak {k}", "bias", f"grid {k}", 1e5),
            Capacitor(f"C {k}", f"in {k}", f"grid {k}", 1e-5),
            Resistor(f"input {k}", f"in {k}", "0", 1e6),
        ]
        ends = ("B", f"plate {k}") if k == "a" else (f"plate {k}", "B")
        coils.insert(0, Coil(f"primary {k}", *ends, turns, 0.0))
        if service.screen is None:
            law = TriodeLaw(**parameters)
            elements.append(Triode(f"V {k}", f"plate {k}", f"grid {k}", "0", law))
        else:
            pentode = PentodeLaw(**parameters)
            elements.append(Pentode(f"V {k}", f"plate {k}", "screen", f"grid {k}", "0", pentode))
    return Circuit((*elements, Transformer("OT", tuple(coils), 100.0)), "0")
