"""Circuits and states in which the solvers are held against ngspice; all of them our own.

Three amplifiers are those of :mod:`physics.amplifiers`.  Here stand the supplies of other families,
each with a stage that loads it, and what can befall an amplifier: a fault is a circuit with a part
taken out or a wire laid across one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from coldcheck.lint.physics.circuit import (
    Bipolar,
    Capacitor,
    Circuit,
    Coil,
    Element,
    GlowTube,
    Inductor,
    Mosfet,
    Pentode,
    Regulator,
    Resistor,
    Transformer,
    Triode,
    TubeDiode,
    ZenerDiode,
)
from physics.amplifiers import (
    AX7,
    CG7,
    EF86,
    V6,
    Y3,
    bridge,
    line_stage,
    mains,
    preamplifier,
    push_pull,
    silicon,
    single_ended,
    transformer,
)

Maker = Callable[[float, float], Circuit]
"""Mains volts rms and phase at switch-on to a circuit."""

LEVELS = {"low": 207.0, "nominal": 230.0, "high": 253.0}
"""Mains volts rms: 230 V and a tenth to either side."""

WIRE = 0.01
"""Ohms of what shorts a part; our choice."""


def doubler(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """Full-wave doubler of 125 V; EF86 class into a cathode-biased 6V6GT-class pentode."""
    windings = transformer(
        12.0,
        Coil("T1 plate", "a1", "middle", 125.0, 9.0),
        Coil("T1 heater", "h1", "h2", 6.7, 0.1),
    )
    primary = Coil("OT primary", "B1", "p2", 25.0, 220.0)
    output = Transformer("OT", (primary, Coil("OT secondary", "speaker", "0", 1.0, 0.4)), 10.0)
    return Circuit(
        (
            *mains(volts, phase),
            windings,
            Resistor("heaters", "h1", "h2", 6.0),
            Resistor("hum 1", "h1", "0", 100.0),
            Resistor("hum 2", "h2", "0", 100.0),
            silicon("D1", "a1", "B1"),
            silicon("D2", "0", "a1"),
            Capacitor("C8", "B1", "middle", 100e-6),
            Capacitor("C9", "middle", "0", 100e-6),
            Resistor("bleeder 1", "B1", "middle", 150e3),
            Resistor("bleeder 2", "middle", "0", 150e3),
            Resistor("R10", "B1", "B2", 1500.0),
            Capacitor("C10", "B2", "0", 33e-6),
            Resistor("R11", "B2", "B3", 15e3),
            Capacitor("C11", "B3", "0", 10e-6),
            Resistor("R1", "input", "0", 470e3),
            Pentode("V1", "p1", "s1", "input", "k1", EF86),
            Resistor("R2", "B3", "p1", 100e3),
            Resistor("R3", "B3", "s1", 390e3),
            Capacitor("C1", "s1", "0", 100e-9),
            Resistor("R4", "k1", "0", 1000.0),
            Capacitor("C2", "k1", "0", 47e-6),
            Capacitor("C3", "p1", "g2", 22e-9),
            Resistor("R5", "g2", "0", 330e3),
            Pentode("V2", "p2", "s2", "g2", "k2", V6),
            Resistor("R6", "B2", "s2", 1000.0),
            Resistor("R7", "k2", "0", 390.0),
            Capacitor("C4", "k2", "0", 100e-6),
            output,
            Resistor("LS", "speaker", "0", 8.0),
        ),
        "0",
    )


def choke_input(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """Tube rectifier of 5Y3 class into a choke; two triodes and a follower behind two more cells."""
    windings = transformer(
        9.0,
        Coil("T1 plate 1", "a1", "0", 380.0, 110.0),
        Coil("T1 plate 2", "0", "a2", 380.0, 115.0),
        Coil("T1 filament", "f1", "f2", 5.3, 0.05),
    )
    return Circuit(
        (
            *mains(volts, phase),
            windings,
            Resistor("filament", "f1", "f2", 2.5),
            Resistor("wire", "f1", "B1", 0.001),
            TubeDiode("D1", "a1", "B1", Y3),
            TubeDiode("D2", "a2", "B1", Y3),
            Inductor("L1", "B1", "B2", 12.0, 130.0),
            Resistor("core loss", "B1", "B2", 100e3),
            Capacitor("C10", "B2", "0", 40e-6),
            Resistor("bleeder", "B2", "0", 15e3),
            Resistor("R10", "B2", "B3", 2200.0),
            Capacitor("C11", "B3", "0", 40e-6),
            Resistor("R11", "B3", "B4", 10e3),
            Capacitor("C12", "B4", "0", 20e-6),
            Resistor("R20", "in", "0", 1e6),
            Triode("V5", "p5", "in", "k5", AX7),
            Resistor("R21", "B4", "p5", 100e3),
            Resistor("R22", "k5", "0", 1500.0),
            Capacitor("C20", "k5", "0", 47e-6),
            Capacitor("C21", "p5", "grid", 47e-9),
            *preamplifier("B3", "B4"),
            Triode("V6", "B3", "g6", "k6", CG7),
            Resistor("R23", "g6", "0", 470e3),
            Resistor("R24", "k6", "0", 8200.0),
        ),
        "0",
    )


def regulated(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """A MOS follower on two gas regulators feeds a preamplifier, a junction transistor smooths its
    first stage, and a three-terminal regulator its heaters."""
    windings = transformer(
        20.0,
        Coil("T1 plate 1", "a1", "0", 310.0, 90.0),
        Coil("T1 plate 2", "0", "a2", 310.0, 90.0),
        Coil("T1 heater", "h1", "h2", 10.0, 0.3),
    )
    return Circuit(
        (
            *mains(volts, phase),
            windings,
            silicon("D1", "a1", "B1"),
            silicon("D2", "a2", "B1"),
            Capacitor("C10", "B1", "0", 47e-6),
            Resistor("bleeder", "B1", "0", 220e3),
            Resistor("R10", "B1", "reference", 18e3),
            GlowTube("V8", "reference", "between", 150.0, 80.0, 175.0),
            GlowTube("V9", "between", "0", 108.0, 100.0, 127.0),
            Resistor("starter", "between", "0", 470e3),
            Resistor("R11", "reference", "gate", 100e3),
            Capacitor("C11", "gate", "0", 1e-6),
            Mosfet("Q1", "B1", "gate", "B2", threshold=3.6, steepness=0.4),
            ZenerDiode("D3", "B2", "gate", 12.0, 10.0),
            Capacitor("C12", "B2", "0", 10e-6),
            Resistor("R12", "B2", "0", 100e3),
            Resistor("R13", "B2", "base", 22e3),
            Resistor("R14", "base", "0", 470e3),
            Capacitor("C13", "base", "0", 10e-6),
            Bipolar("Q2", "B2", "base", "B3", saturation=1e-13, slope=0.026, gain=60.0),
            Resistor("R15", "B3", "0", 220e3),
            *preamplifier("B2", "B3"),
            Resistor("R16", "h2", "0", 47e3),
            *bridge("DH", "h1", "h2", "raw", "0"),
            Capacitor("C14", "raw", "0", 4700e-6),
            Resistor("R17", "raw", "0", 2200.0),
            Regulator("U1", "raw", "heater", "0", 6.3, 0.02, 2.0, 1.5, 0.005),
            Capacitor("C15", "heater", "0", 100e-6),
            Resistor("heaters", "heater", "0", 8.0),
        ),
        "0",
    )


def bonded(make: Maker) -> Maker:
    """The same with its neutral bonded to earth by 1 ohm, as mains is where it is made.

    On 1 Mohm the stray capacitance that ngspice is sometimes given would let it hum.
    """

    def circuit(volts: float, phase: float) -> Circuit:
        made = make(volts, phase)
        tied = (e._replace(ohms=1.0) if e.name == "tie" else e for e in made.elements)  # type: ignore[call-arg]
        return made._replace(elements=tuple(tied))

    return circuit


SINGLE_ENDED = "single-ended, tube rectifier"
PUSH_PULL = "push-pull, silicon bridge"
PREAMPLIFIER = "preamplifier, cathode follower"
DOUBLER = "voltage doubler"
CHOKE_INPUT = "choke input, tube rectifier"
REGULATED = "regulated supply"

REFERENCES: dict[str, Maker] = {
    SINGLE_ENDED: bonded(single_ended),
    PUSH_PULL: bonded(push_pull),
    PREAMPLIFIER: bonded(line_stage),
    DOUBLER: bonded(doubler),
    CHOKE_INPUT: bonded(choke_input),
    REGULATED: bonded(regulated),
}


def without(circuit: Circuit, *names: str) -> Circuit:
    """The circuit with some elements taken out."""
    missing = set(names) - {e.name for e in circuit.elements}
    assert not missing, missing
    return circuit._replace(elements=tuple(e for e in circuit.elements if e.name not in names))


def shorted(circuit: Circuit, a: str, b: str) -> Circuit:
    """The circuit with a wire from one node to another."""
    return circuit._replace(elements=(*circuit.elements, Resistor("short", a, b, WIRE)))


class Fault(NamedTuple):
    """What befalls one of the references."""

    reference: str
    name: str
    change: Callable[[Circuit], Circuit]


def drawing_nothing(circuit: Circuit) -> Circuit:
    """Tubes cold or pulled, all of them; rectifiers conduct."""
    kept: list[Element] = [e for e in circuit.elements if not isinstance(e, Triode | Pentode)]
    return circuit._replace(elements=tuple(kept))


def standby(circuit: Circuit) -> Circuit:
    """The push-pull amplifier with its standby switch open, and across that 100 kohm."""
    elements = (e._replace(ohms=100e3) if e.name == "R10" else e for e in circuit.elements)  # type: ignore[call-arg]
    return circuit._replace(elements=tuple(elements))


FAULTS = (
    Fault(SINGLE_ENDED, "V2L pulled", lambda c: without(c, "V2L")),
    Fault(SINGLE_ENDED, "tubes cold", drawing_nothing),
    Fault(SINGLE_ENDED, "C10 shorted", lambda c: shorted(c, "B1", "0")),
    Fault(SINGLE_ENDED, "D1 shorted", lambda c: shorted(c, "a1", "B1")),
    Fault(PUSH_PULL, "V4a pulled", lambda c: without(c, "V4a")),
    Fault(PUSH_PULL, "bias rectifier open", lambda c: without(c, "D5")),
    Fault(PUSH_PULL, "bias shorted", lambda c: shorted(c, "bias", "0")),
    Fault(PUSH_PULL, "standby", standby),
    Fault(PUSH_PULL, "plate winding shorted", lambda c: shorted(c, "a1", "a2")),
    Fault(PUSH_PULL, "D1 shorted", lambda c: shorted(c, "a1", "B1")),
    Fault(PREAMPLIFIER, "C10 shorted", lambda c: shorted(c, "B1", "0")),
    Fault(PREAMPLIFIER, "V1 pulled", lambda c: without(c, "V1")),
    Fault(DOUBLER, "C9 shorted", lambda c: shorted(c, "middle", "0")),
    Fault(DOUBLER, "tubes cold", drawing_nothing),
    # not its bleeder: on so light a load the choke rings on blocked diodes, and ngspice crawls
    Fault(CHOKE_INPUT, "V5 pulled", lambda c: without(c, "V5")),
    Fault(CHOKE_INPUT, "choke without loss", lambda c: without(c, "core loss")),
    Fault(REGULATED, "V8 pulled", lambda c: without(c, "V8")),
    Fault(REGULATED, "B2 shorted", lambda c: shorted(c, "B2", "0")),
)


CUTS = {
    SINGLE_ENDED: "L1",
    PUSH_PULL: "R10",
    PREAMPLIFIER: "R10",
    DOUBLER: "R10",
    CHOKE_INPUT: "bleeder",
    REGULATED: "bleeder",
}
"""What is open, as a blown fuse or a standby switch would be, in the second discharge of each."""
