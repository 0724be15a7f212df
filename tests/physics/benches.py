"""Amplifiers on the bench: those of :mod:`physics.amplifiers` fed with dc, and what drives them."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from coldcheck.lint.physics.circuit import Capacitor, Circuit, Element, Resistor, Source
from coldcheck.lint.physics.large_signal import HERTZ, Generator, Output
from physics import amplifiers

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


MAKERS = (single_ended, push_pull, line_stage)
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
