"""Invented circuits with iron that saturates, transistors, regulators and glow tubes.

Transistor and regulator figures are generic, from memory: 1e-14 A and 26 mV for a small bipolar
transistor, 2 A/V^2 and 3 V for a high-voltage MOS transistor, 2 V drop-out and 5 mA quiescent
current for a regulator.  A 0A2-class glow tube holds 150 V and strikes at 180 V (from memory).
"""

from __future__ import annotations

import math

from coldcheck.lint.physics.circuit import (
    Bipolar,
    Capacitor,
    Circuit,
    Coil,
    CurrentLoad,
    Element,
    GlowTube,
    Inductor,
    Mosfet,
    Regulator,
    Resistor,
    Saturation,
    Source,
    Transformer,
    Triode,
    ZenerDiode,
)
from physics.amplifiers import CG7, bridge, mains, silicon

SMALL = (1e-14, 0.026, 150.0)
"""Saturation current, slope voltage and current gain of a small bipolar transistor."""


def iron(magnetising: float = 30.0, *secondaries: Coil) -> Transformer:
    """230 V at 50 Hz asks for a peak linear current of 35 mA; the knee is a sixth above."""
    coils = (Coil("T1 primary", "primary", "neutral", 230.0, 8.0), *secondaries)
    return Transformer("T1", coils, magnetising, Saturation(0.04 * 30.0 / magnetising, 0.1))


def half_wave_iron(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """A real core, its flux shifted by a half-wave load, beside a bridge and a heater."""
    return Circuit(
        (
            *mains(volts, phase),
            iron(
                30.0,
                Coil("T1 bias", "w", "0", 60.0, 15.0),
                Coil("T1 plate", "a1", "a2", 260.0, 30.0),
                Coil("T1 heater", "h1", "h2", 6.7, 0.05),
            ),
            Resistor("insulation", "a2", "0", 10e6),
            Resistor("heaters", "h1", "h2", 3.0),
            Resistor("hum", "h2", "0", 100.0),
            silicon("D5", "w", "raw"),
            Capacitor("C5", "raw", "0", 100e-6),
            Resistor("R5", "raw", "0", 1500.0),
            *bridge("D", "a1", "a2", "B1", "0"),
            Capacitor("C10", "B1", "0", 47e-6),
            Resistor("R10", "B1", "0", 6800.0),
        ),
        "0",
    )


def swinging_choke(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """Choke input, the choke saturating at every crest of its current."""
    return Circuit(
        (
            *mains(volts, phase),
            iron(
                30.0,
                Coil("T1 plate 1", "a1", "0", 300.0, 60.0),
                Coil("T1 plate 2", "0", "a2", 300.0, 60.0),
            ),
            silicon("D1", "a1", "B1"),
            silicon("D2", "a2", "B1"),
            Inductor("L1", "B1", "B2", 10.0, 120.0, Saturation(0.09, 1.0)),
            Capacitor("C11", "B2", "0", 22e-6),
            Resistor("R11", "B2", "0", 2700.0),
        ),
        "0",
    )


def regulated(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """A heater regulator, a MOS follower on a zener, a mirror as tail, a pnp as current source."""
    return Circuit(
        (
            *mains(volts, phase),
            iron(
                40.0,
                Coil("T1 plate", "a1", "a2", 250.0, 25.0),
                Coil("T1 low", "l1", "l2", 12.6, 0.15),
                Coil("T1 bias", "w", "0", 20.0, 2.0),
            ),
            Resistor("insulation 1", "a2", "0", 10e6),
            Resistor("insulation 2", "l2", "0", 10e6),
            *bridge("D", "a1", "a2", "B1", "0"),
            Capacitor("C10", "B1", "0", 47e-6),
            Resistor("R10", "B1", "ref", 47e3),
            ZenerDiode("Z1", "0", "ref", 270.0, 200.0),
            Capacitor("C11", "ref", "0", 1e-6),
            Resistor("stopper", "ref", "gate", 100.0),
            Mosfet("Q1", "B1", "gate", "B2", 3.0, 2.0),
            Resistor("bleeder", "B2", "0", 82e3),
            *bridge("E", "l1", "l2", "raw", "0"),
            Capacitor("C20", "raw", "0", 4700e-6),
            Regulator("U1", "raw", "heater", "0", 12.0, 0.05, 2.0, 1.5, 5e-3),
            Capacitor("C21", "heater", "0", 10e-6),
            Resistor("heaters", "heater", "0", 27.0),
            Triode("V1", "p1", "g1", "tail", CG7),
            Triode("V2", "B2", "0", "tail", CG7),
            Resistor("R1", "g1", "0", 1e6),
            Resistor("R2", "B2", "p1", 22e3),
            Bipolar("Q2", "tail", "mirror", "foot", *SMALL),
            Bipolar("Q3", "mirror", "mirror", "foot", *SMALL),
            Resistor("R3", "0", "mirror", 2200.0),
            Resistor("R4", "foot", "minus", 100.0),
            silicon("D9", "minus", "w"),
            Capacitor("C22", "minus", "0", 470e-6),
            Bipolar("Q4", "led", "base", "up", *SMALL, -1),
            Resistor("R6", "heater", "up", 470.0),
            ZenerDiode("Z2", "base", "heater", 5.1, 20.0),
            Resistor("R7", "base", "0", 2200.0),
            Resistor("R8", "led", "0", 470.0),
        ),
        "0",
    )


def dropping_out(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """A regulator whose reservoir is too small: its input falls below what it needs in each trough."""
    return Circuit(
        (
            *mains(volts, phase),
            iron(40.0, Coil("T1 low", "l1", "l2", 13.3, 0.3)),
            Resistor("insulation", "l2", "0", 10e6),
            *bridge("E", "l1", "l2", "raw", "0"),
            Capacitor("C20", "raw", "0", 1500e-6),
            Regulator("U1", "raw", "heater", "0", 12.0, 0.05, 2.0, 1.5, 5e-3),
            Capacitor("C21", "heater", "0", 10e-6),
            Resistor("heaters", "heater", "0", 20.0),
        ),
        "0",
    )


def glowing(volts: float = 230.0, phase: float = 0.0) -> Circuit:
    """Two glow tubes in series hold 300 V; a third never sees its striking voltage."""
    return Circuit(
        (
            *mains(volts, phase),
            iron(
                40.0,
                Coil("T1 plate 1", "a1", "0", 340.0, 90.0),
                Coil("T1 plate 2", "0", "a2", 340.0, 90.0),
            ),
            silicon("D1", "a1", "B1"),
            silicon("D2", "a2", "B1"),
            Capacitor("C10", "B1", "0", 16e-6),
            Resistor("R10", "B1", "B2", 6800.0),
            GlowTube("G1", "B2", "middle", 150.0, 100.0, 180.0),
            GlowTube("G2", "middle", "0", 150.0, 100.0, 180.0),
            Resistor("start", "middle", "0", 1e6),
            Resistor("R11", "B2", "0", 33e3),
            Resistor("R12", "B2", "low", 100e3),
            Resistor("R13", "low", "0", 100e3),
            GlowTube("G3", "low", "0", 105.0, 100.0, 160.0),
            CurrentLoad("box", "B1", "0", 0.01),
        ),
        "0",
    )


MAKERS = (half_wave_iron, swinging_choke, regulated, dropping_out, glowing)


def on_a_battery(volts: float) -> Circuit:
    """Every new kind at dc, of both polarities."""
    parts: tuple[Element, ...] = regulated().elements
    kept = {"Q1", "Q2", "Q3", "Q4", "U1", "R1", "R2", "R3", "R4", "R6", "R7", "R8", "R10", "Z1"}
    kept |= {"Z2", "V1", "V2", "stopper", "bleeder", "heaters"}
    more = glowing().elements
    glow = {"R10", "G1", "G2", "start", "R11", "R12", "R13", "G3"}
    return Circuit(
        (
            *(e for e in parts if e.name in kept),
            *(
                e._replace(name=f"{e.name} b") if isinstance(e, Resistor) else e
                for e in more
                if e.name in glow
            ),
            Resistor("to glow", "B2", "B2 b", 1.0),
            Source("high", "B1", "0", dc=volts),
            Source("low", "raw", "0", dc=0.05 * volts),
            Source("negative", "minus", "0", dc=-0.04 * volts),
        ),
        "0",
    )


CREST = math.pi / 2.0
