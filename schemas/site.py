"""The world a design must survive, and what the project calls itself."""

import datetime
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator

from coldcheck.schemas.fields import (
    Celsius,
    Chapter,
    Decibels,
    Farads,
    Hertz,
    Metres,
    Ohms,
    Percent,
    Volts,
    Watts,
)

Name = Annotated[str, Field(min_length=1, max_length=80)]


class Project(Chapter):
    """What the title block says."""

    name: Name
    revision: Annotated[str, Field(max_length=20)] = ""
    duty: Literal[
        "power amplifier", "preamplifier", "integrated amplifier", "headphone amplifier", "supply"
    ]
    notes: Annotated[str, Field(max_length=4000)] = ""


class Mains(Chapter):
    """The supply at the wall socket; ``tolerance`` gives the low and high states."""

    voltage: Volts
    frequency: Hertz
    tolerance: Percent

    @property
    def low(self) -> float:
        """The lowest rms voltage to live with."""
        return self.voltage * (1.0 - self.tolerance)

    @property
    def high(self) -> float:
        """The highest rms voltage to survive."""
        return self.voltage * (1.0 + self.tolerance)


class SignalSource(Chapter):
    level: Volts
    impedance: Ohms
    cable: Farads | None = None


class Load(Chapter):
    impedance: Ohms
    sensitivity: Decibels | None = None
    distance: Metres | None = None


class Site(Chapter):
    """Where the thing is used."""

    mains: Mains
    ambient: Celsius
    source: SignalSource | None = None
    load: Load | None = None


class Claims(Chapter):
    """What the designer promises, and the computed amplifier is held to."""

    power: Watts | None = None
    """Into the site's load, of each channel."""
    low: Hertz | None = None
    """Where the gain is 3 dB down at most."""
    high: Hertz | None = None
    damping: Annotated[float, Field(gt=0.0, strict=False)] | None = None
    """The site's load over the impedance behind the output, at 1 kHz."""


class Accept(Chapter):
    """A finding the designer has considered and keeps."""

    rule: Name
    about: Name
    reason: Annotated[str, Field(min_length=10, max_length=400)]
    by: Annotated[str, Field(min_length=1, max_length=40)]
    date: datetime.date
    until: datetime.date | None = None

    @field_validator("until")
    @classmethod
    def _after_date(cls, until: datetime.date | None, info: ValidationInfo) -> datetime.date | None:
        date = info.data.get("date")
        if until is not None and date is not None and until < date:
            raise ValueError(f"a date on or after {date}")
        return until
