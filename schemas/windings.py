"""Windings of transformers: what each one gives, and how much it resists."""

from typing import Annotated

from pydantic import Field, ValidationInfo, field_validator

from coldcheck.schemas.fields import (
    TAP,
    Amperes,
    Chapter,
    Henries,
    Nameplate,
    Ohms,
    OhmSections,
    Percent,
    VoltSections,
)


class Wire(Chapter):
    """A winding with its taps, written as on the nameplate.

    "6.3 V", "275-0-275 V" with a centre tap, "0-115-230 V" with taps from one end, "2 x 115 V" for
    two alike that are joined to nothing.
    """

    voltage: VoltSections
    resistance: OhmSections | None = None
    """Of each section between taps, in order."""

    @field_validator("resistance", "no_load", check_fields=False)
    @classmethod
    def _sections_agree(
        cls, sections: tuple[float, ...] | None, info: ValidationInfo
    ) -> tuple[float, ...] | None:
        voltage: Nameplate | None = info.data.get("voltage")
        if sections is not None and voltage is not None and len(sections) != len(voltage):
            count = len(voltage)
            example = "+".join(str(ohms) for ohms in range(120, 120 + 5 * count, 5))
            if info.field_name == "no_load":
                example = str(voltage)
            raise ValueError(f'{count} section(s), as voltage has, such as "{example}"')
        return sections


class Winding(Wire):
    """A transformer winding; ``voltage`` is the nameplate's, with the rated current drawn."""

    current: Amperes | None = None
    no_load: VoltSections | None = None
    """Measured with nothing connected; the best thing to know about a transformer."""


class Primary(Wire):
    """What the mains goes to, as "230 V", "0-115-230 V" or "2 x 115 V"."""

    idle_current: Amperes | None = None
    """rms with nothing on the secondaries, the mains on one whole piece of the winding."""

    @property
    def whole(self) -> float:
        """Volts of all its sections in series."""
        return sum(self.voltage)


class OutputPrimary(Chapter):
    impedance: Ohms
    resistance: OhmSections | None = None
    inductance: Henries | None = None
    leakage: Henries | None = None
    """Leakage inductance, seen at the whole primary with the secondary shorted."""
    screen_taps: Percent | None = None
    """Share of the turns from the centre tap to each ultralinear tap; in a single-ended one from
    primary.2, which is its B+ end."""
    current: Amperes | None = None
    """The dc it is gapped for (single-ended), or the unbalance it bears (push-pull)."""

    @field_validator("screen_taps")
    @classmethod
    def _within(cls, share: float | None) -> float | None:
        if share is not None and not 0.0 < share < 1.0:
            raise ValueError('more than 0 % and less than 100 %, such as "43 %"')
        return share


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
