"""Windings of transformers: what each one gives, and how much it resists."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, ValidationInfo, field_validator

from coldcheck.schemas.fields import (
    TAP,
    Amperes,
    Chapter,
    Henries,
    Ohms,
    OhmSections,
    Volts,
    VoltSections,
)


class Winding(Chapter):
    """A transformer winding; ``voltage`` is the nameplate's, with the rated current drawn."""

    voltage: VoltSections
    current: Amperes | None = None
    resistance: OhmSections | None = None
    no_load: VoltSections | None = None
    """Measured with nothing connected; the best thing to know about a transformer."""

    @field_validator("voltage")
    @classmethod
    def _one_tap_at_most(cls, sections: tuple[float, ...]) -> tuple[float, ...]:
        if len(sections) > 2:
            raise ValueError("one section, or two with a centre tap; name further windings apart")
        return sections

    @field_validator("resistance", "no_load")
    @classmethod
    def _sections_agree(
        cls, sections: tuple[float, ...] | None, info: ValidationInfo
    ) -> tuple[float, ...] | None:
        wanted = len(info.data.get("voltage", ()))
        if sections is not None and wanted and len(sections) != wanted:
            example = {
                ("resistance", 1): "120",
                ("resistance", 2): "120+125",
                ("no_load", 1): "6.9 V",
                ("no_load", 2): "270-0-270 V",
            }[info.field_name or "", wanted]
            raise ValueError(f'{wanted} section(s), as voltage has, such as "{example}"')
        return sections


class Primary(Chapter):
    voltage: Volts
    resistance: Ohms | None = None


class OutputPrimary(Chapter):
    impedance: Ohms
    resistance: OhmSections | None = None
    inductance: Henries | None = None
    current: Amperes | None = None
    """The dc it is gapped for (single-ended), or the unbalance it bears (push-pull)."""


class OutputSecondary(Chapter):
    taps: Annotated[list[Annotated[str, Field(pattern=TAP)]], Field(min_length=2)]
    """Tap names are load impedances in ohms, the common end first: ["0", "4", "8"]."""
    resistance: Ohms | None = None

    @field_validator("taps")
    @classmethod
    def _common_end_first(cls, taps: list[str]) -> list[str]:
        ohms = [float(tap) for tap in taps]
        if ohms[0] != 0.0 or ohms != sorted(set(ohms)):
            raise ValueError('taps from the common end upward, such as ["0", "4", "8"]')
        return taps
