"""Diodes, transistors and regulators as circuit elements, by their data-sheet figures."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from coldcheck.lint.design import PartUse
from coldcheck.lint.model import Basis, Datum
from coldcheck.lint.physics.circuit import (
    Bipolar,
    CurrentLoad,
    Element,
    Mosfet,
    Regulator,
    SiliconDiode,
    ZenerDiode,
)
from coldcheck.schemas import parts as kinds

if TYPE_CHECKING:
    from coldcheck.lint.netlist.elements import Writer

# Silicon rectifier: the SPICE parameters commonly published for the 1N4007 class (from memory):
# saturation current 7.03 nA, emission coefficient 1.808 (times 25.85 mV at 27 degC), 34 milliohm.
SILICON = (7.03e-9, 1.808 * 0.02585, 0.034)
# Slope of an LED's exponential: emission coefficient 2 times 25.85 mV (from memory).
LED_SLOPE = 2 * 0.02585
LED_OHMS = 2.0
# A zener's slope resistance where the document gives none (assumed).
ZENER_OHMS = 10.0
# k T / q of a base-emitter junction, emission coefficient 1, at 300 K (constants of CODATA 2018).
JUNCTION_SLOPE = 0.02585
# Least voltage across a three-terminal regulator of the usual kind (from memory).
DROPOUT = 2.0
# Output resistance of a three-terminal regulator; data sheets have 5 to 30 milliohm (from memory).
REGULATOR_OHMS = 0.02


def diode(writer: Writer, part: PartUse, spec: kinds.Diode) -> Iterator[Element]:
    if (nets := writer.nets(part)) is not None:
        yield SiliconDiode(part.ref, nets[0], nets[1], *SILICON)


def led(writer: Writer, part: PartUse, spec: kinds.Led) -> Iterator[Element]:
    if (nets := writer.nets(part)) is not None:
        drop = spec.voltage - spec.current * LED_OHMS
        saturation = spec.current / math.expm1(min(drop / LED_SLOPE, 300.0))
        yield SiliconDiode(part.ref, nets[0], nets[1], saturation, LED_SLOPE, LED_OHMS)


def zener(writer: Writer, part: PartUse, spec: kinds.Zener) -> Iterator[Element]:
    if (nets := writer.nets(part)) is not None:
        yield ZenerDiode(part.ref, nets[0], nets[1], spec.voltage, spec.slope or ZENER_OHMS)


def bridge(writer: Writer, part: PartUse, spec: kinds.Bridge) -> Iterator[Element]:
    if (nets := writer.nets(part)) is not None:
        ac1, ac2, plus, minus = nets
        for name, anode, cathode in (
            ("ac1+", ac1, plus),
            ("ac2+", ac2, plus),
            ("ac1-", minus, ac1),
            ("ac2-", minus, ac2),
        ):
            yield SiliconDiode(f"{part.ref}.{name}", anode, cathode, *SILICON)


def black_box(writer: Writer, part: PartUse, spec: kinds.Transistor) -> Iterator[Element]:
    first, last = part.net(spec.leads[0]), part.net(spec.leads[-1])
    if first is not None and last is not None and writer.setting.mains_volts is not None:
        amperes = writer.needs(part, spec.current, "current", "the current it draws")
        yield CurrentLoad(part.ref, first, last, amperes)


def _fed(writer: Writer, part: PartUse) -> list[str] | None:
    """Nets of a transistor; None with the mains off, when it may drain nothing that is stored."""
    return writer.nets(part) if writer.setting.mains_volts is not None else None


def bipolar(writer: Writer, part: PartUse, spec: kinds.BipolarTransistor) -> Iterator[Element]:
    """Saturation current from one point: Is = Ic / (exp(Vbe / slope) - 1)."""
    if (nets := _fed(writer, part)) is None:
        return
    gain, volts, amperes = writer.need_all(
        part,
        ("gain", spec.gain, "the current gain"),
        ("base_voltage", spec.base_voltage, "base-emitter voltage"),
        ("test_current", spec.test_current, "the collector current its base voltage is stated at"),
    )
    collector, base, emitter = nets
    saturation = amperes / math.expm1(min(volts / JUNCTION_SLOPE, 300.0))
    polarity = 1 if spec.polarity == "npn" else -1
    yield Bipolar(part.ref, collector, base, emitter, saturation, JUNCTION_SLOPE, gain, polarity)


def mosfet(writer: Writer, part: PartUse, spec: kinds.Mosfet) -> Iterator[Element]:
    """Steepness K from one point: Id = K / 2 (Vgs - Vt)^2 has gm^2 = 2 K Id, so K = gm^2 / 2 Id."""
    if (nets := _fed(writer, part)) is None:
        return
    threshold, siemens, amperes = writer.need_all(
        part,
        ("threshold", spec.threshold, "threshold voltage"),
        ("transconductance", spec.transconductance, "transconductance"),
        ("test_current", spec.test_current, "the drain current its transconductance is stated at"),
    )
    gate, drain, source = nets
    steepness = siemens**2 / (2.0 * amperes)
    polarity = 1 if spec.channel == "n" else -1
    yield Mosfet(part.ref, drain, gate, source, threshold, steepness, polarity)


def regulator(writer: Writer, part: PartUse, spec: kinds.Regulator) -> Iterator[Element]:
    if (nets := _fed(writer, part)) is None:
        return
    most, quiescent = writer.need_all(
        part,
        ("current", spec.current, "the most current"),
        ("quiescent", spec.quiescent, "the current out of the common terminal"),
    )
    source, output, common = nets
    if spec.dropout is None:
        writer.data.append(Datum(f"dropout voltage of {part.ref}", Basis.ASSUMED))
    yield Regulator(
        part.ref,
        source,
        output,
        common,
        abs(spec.voltage),
        spec.output_resistance or REGULATOR_OHMS,
        spec.dropout or DROPOUT,
        most,
        quiescent,
        1 if spec.voltage > 0.0 else -1,
    )
