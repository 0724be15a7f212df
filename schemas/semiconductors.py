"""Diodes, transistors and regulators among the parts."""

import itertools
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, field_validator

from coldcheck.schemas.fields import (
    Amperes,
    AmperesAtVolts,
    Celsius,
    KelvinsPerWatt,
    Label,
    Ohms,
    Siemens,
    SignedVolts,
    Volts,
    Watts,
    different,
)
from coldcheck.schemas.part import Part


def _downward(given: list[tuple[float, float]]) -> list[tuple[float, float]]:
    if any(b[0] <= a[0] or b[1] > a[1] for a, b in itertools.pairwise(given)):
        raise ValueError("points in order of voltage, the current nowhere rising")
    return given


SafeArea = Annotated[list[AmperesAtVolts], Field(min_length=2), AfterValidator(_downward)]
"""Corners of the dc safe operating area, straight lines between them on log scales."""


class Diode(Part):
    kind: Literal["diode"]
    voltage: Volts | None = None
    """Repetitive peak reverse voltage."""
    current: Amperes | None = None
    surge: Amperes | None = None

    def terminals(self) -> tuple[str, ...]:
        return ("anode", "cathode")


class Bridge(Part):
    kind: Literal["bridge"]
    voltage: Volts | None = None
    current: Amperes | None = None
    surge: Amperes | None = None

    def terminals(self) -> tuple[str, ...]:
        return ("ac1", "ac2", "+", "-")


class Led(Part):
    kind: Literal["led"]
    voltage: Volts
    """Forward, at the rated current."""
    current: Amperes
    reverse: Volts | None = None

    def terminals(self) -> tuple[str, ...]:
        return ("anode", "cathode")


class Zener(Part):
    kind: Literal["zener"]
    voltage: Volts
    power: Watts | None = None
    slope: Ohms | None = None
    """Dynamic resistance at the operating current."""

    def terminals(self) -> tuple[str, ...]:
        return ("anode", "cathode")


class Transistor(Part):
    """A declared black box: it draws the stated current from its first lead to its last."""

    kind: Literal["transistor"]
    leads: Annotated[list[Label], Field(min_length=2, max_length=8)]
    current: Amperes | None = None
    voltage: Volts | None = None
    power: Watts | None = None
    temperature: Celsius | None = None

    @field_validator("leads")
    @classmethod
    def _all_different(cls, leads: list[str]) -> list[str]:
        return different(leads, "leads with names that differ")

    def terminals(self) -> tuple[str, ...]:
        return tuple(self.leads)


class BipolarTransistor(Part):
    """A junction transistor by its data-sheet figures."""

    kind: Literal["bipolar transistor"]
    polarity: Literal["npn", "pnp"]
    gain: Annotated[float, Field(ge=1.0)] | None = None
    """Collector current over base current."""
    base_voltage: Volts | None = None
    """Base to emitter at ``test_current``, its sign left out."""
    test_current: Amperes | None = None
    """The collector current that gain and base_voltage are stated at."""
    voltage: Volts | None = None
    """Most from collector to emitter, base open."""
    current: Amperes | None = None
    power: Watts | None = None
    safe_area: SafeArea | None = None
    junction: Celsius | None = None
    """Highest temperature of its junction."""
    thermal_resistance: KelvinsPerWatt | None = None
    """From junction to the air around it, with whatever it is screwed to."""

    def terminals(self) -> tuple[str, ...]:
        return ("collector", "base", "emitter")


class Mosfet(Part):
    """An insulated-gate transistor by its data-sheet figures, signs left out for a p channel."""

    kind: Literal["mosfet"]
    channel: Literal["n", "p"]
    threshold: SignedVolts | None = None
    """Gate to source where it begins to conduct; below zero for a depletion type."""
    transconductance: Siemens | None = None
    """At ``test_current``."""
    test_current: Amperes | None = None
    voltage: Volts | None = None
    """Most from drain to source."""
    gate_voltage: Volts | None = None
    """Most from gate to source, either way."""
    current: Amperes | None = None
    power: Watts | None = None
    safe_area: SafeArea | None = None
    junction: Celsius | None = None
    """Highest temperature of its junction."""
    thermal_resistance: KelvinsPerWatt | None = None
    """From junction to the air around it, with whatever it is screwed to."""

    def terminals(self) -> tuple[str, ...]:
        return ("gate", "drain", "source")


class Regulator(Part):
    """A three-terminal regulator; the resistors of an adjustable one are parts of the schematic."""

    kind: Literal["regulator"]
    voltage: SignedVolts
    """From output to common: "12 V", "-12 V", or the 1.25 V an adjustable one holds there."""
    current: Amperes | None = None
    """Most it gives."""
    quiescent: Amperes | None = None
    """What flows out of its common, or adjusting, terminal."""
    dropout: Volts | None = None
    """Least from input to output."""
    output_resistance: Ohms | None = None
    input_voltage: Volts | None = None
    """Most from input to common; of an adjustable one from input to output."""
    power: Watts | None = None
    junction: Celsius | None = None
    """Highest temperature of its junction."""
    thermal_resistance: KelvinsPerWatt | None = None
    """From junction to the air around it, with whatever it is screwed to."""

    @field_validator("voltage")
    @classmethod
    def _not_nothing(cls, voltage: float) -> float:
        if voltage == 0.0:
            raise ValueError('more than zero, or less for a negative one, such as "-12 V"')
        return voltage

    def terminals(self) -> tuple[str, ...]:
        return ("input", "output", "common")
