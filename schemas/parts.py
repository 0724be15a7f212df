"""Parts by kind: what to buy, with the ratings a review holds the design against.

Each kind's ``terminals`` are the names its connections go by, in the order a plain list of nets
or tie points is read.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from coldcheck.schemas.fields import (
    Amperes,
    BasisWord,
    Celsius,
    Chapter,
    Coordinate,
    Farads,
    Henries,
    Metres,
    Ohms,
    OhmSections,
    Percent,
    VoltAmperes,
    Volts,
    VoltSections,
    Watts,
)

Label = Annotated[str, Field(min_length=1, max_length=40, pattern=r"^\S(.*\S)?$")]


class Part(Chapter):
    """What every part may say besides its kind's own values."""

    note: Annotated[str, Field(max_length=400)] = ""
    basis: BasisWord | dict[str, BasisWord] | None = None
    """Where the values come from; one word for all, or one per value name."""
    size: Annotated[tuple[Coordinate, Coordinate, Coordinate], Field(strict=False)] | None = None
    """Width, depth and height of the body, in millimetres."""

    def terminals(self) -> tuple[str, ...]:
        """Terminal names in list order; empty for mere tie points and for tubes (pins)."""
        return ("1", "2")

    def basis_of(self, value: str) -> BasisWord | None:
        """The stated basis of one of this part's values."""
        return self.basis.get(value) if isinstance(self.basis, dict) else self.basis


class Resistor(Part):
    kind: Literal["resistor"]
    value: Ohms
    power: Watts | None = None
    voltage: Volts | None = None
    tolerance: Percent | None = None
    style: Literal["film", "oxide", "carbon composition", "wirewound"] = "film"


class Capacitor(Part):
    kind: Literal["capacitor"]
    value: Farads
    voltage: Volts | None = None
    surge: Volts | None = None
    dielectric: Literal["electrolytic", "film", "ceramic", "mica", "paper"]
    safety_class: Literal["X1", "X2", "Y1", "Y2", "Y4"] | None = None
    ripple: Amperes | None = None
    tolerance: Percent | None = None
    case: Literal["sleeved", "bare can"] = "sleeved"
    """A bare can's metal is its negative terminal and touches what it is clamped to."""

    def terminals(self) -> tuple[str, ...]:
        return ("+", "-") if self.dielectric == "electrolytic" else ("1", "2")


class Choke(Part):
    kind: Literal["choke"]
    inductance: Henries
    resistance: Ohms | None = None
    current: Amperes | None = None
    power: Watts | None = None
    insulation: Volts | None = None


class Winding(Chapter):
    """A transformer winding; ``voltage`` is the nameplate's, with the rated current drawn."""

    voltage: VoltSections
    current: Amperes | None = None
    resistance: OhmSections | None = None
    no_load: VoltSections | None = None
    """Measured with nothing connected; the best thing to know about a transformer."""

    @model_validator(mode="after")
    def _sections_agree(self) -> Winding:
        for name in ("resistance", "no_load"):
            given = getattr(self, name)
            if given is not None and len(given) != len(self.voltage):
                raise ValueError(
                    f"{name} has {len(given)} section(s) but voltage has {len(self.voltage)};"
                    ' write both alike, for example "250-0-250 V" and "120+125"'
                )
        return self


class Primary(Chapter):
    voltage: Volts
    resistance: Ohms | None = None


class MainsTransformer(Part):
    kind: Literal["mains transformer"]
    primary: Primary
    windings: dict[Label, Winding]
    rating: VoltAmperes | None = None
    core: Literal["E-I", "toroid"] = "E-I"
    screen: bool = False
    """Whether it has an electrostatic screen brought out as terminal "screen"."""
    lead: str | None = None
    """Which wire type its flying leads are."""

    def terminals(self) -> tuple[str, ...]:
        names = ["primary.1", "primary.2"]
        for name, winding in self.windings.items():
            tapped = len(winding.voltage) == 2
            names += (
                [f"{name}.1", f"{name}.ct", f"{name}.2"] if tapped else [f"{name}.1", f"{name}.2"]
            )
        return (*names, "screen") if self.screen else tuple(names)


class OutputPrimary(Chapter):
    impedance: Ohms
    resistance: OhmSections | None = None
    inductance: Henries | None = None
    current: Amperes | None = None
    """The dc it is gapped for (single-ended), or the unbalance it bears (push-pull)."""


class OutputSecondary(Chapter):
    taps: Annotated[
        list[Annotated[str, Field(pattern=r"^[0-9]+(\.[0-9]+)?$")]], Field(min_length=2)
    ]
    """Tap names are load impedances in ohms, the common end first: ["0", "4", "8"]."""
    resistance: Ohms | None = None

    @model_validator(mode="after")
    def _common_end_first(self) -> OutputSecondary:
        ohms = [float(tap) for tap in self.taps]
        if ohms[0] != 0.0 or ohms != sorted(set(ohms)):
            raise ValueError('list taps from the common end upward, for example ["0", "4", "8"]')
        return self


class OutputTransformer(Part):
    kind: Literal["output transformer"]
    primary: OutputPrimary
    secondary: OutputSecondary
    centre_tap: bool = False
    power: Watts | None = None
    insulation: Volts | None = None
    lead: str | None = None

    def terminals(self) -> tuple[str, ...]:
        primary = (
            ("primary.1", "primary.ct", "primary.2")
            if self.centre_tap
            else (
                "primary.1",
                "primary.2",
            )
        )
        return (*primary, *(f"secondary.{tap}" for tap in self.secondary.taps))


class Tube(Part):
    kind: Literal["tube"]
    type: Label
    socket: Literal["plastic", "metal saddle"] | None = None

    def terminals(self) -> tuple[str, ...]:
        return ()


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


class Fuse(Part):
    kind: Literal["fuse"]
    current: Amperes
    voltage: Volts | None = None
    speed: Literal["F", "T"] | None = None
    breaking: Literal["L", "H", "E"] | None = None
    standard: Literal["IEC 60127-2", "UL 248-14"] | None = None
    sheet: Annotated[int, Field(ge=1, le=6)] | None = None
    resistance: Ohms | None = None
    """Cold."""


class Switch(Part):
    kind: Literal["switch"]
    positions: dict[Label, list[Annotated[str, Field(pattern=r"^[^-\s]+-[^-\s]+$")]]]
    """What each position joins: { off = [], on = ["1-2", "3-4"] }."""
    voltage: Volts | None = None
    dc_voltage: Volts | None = None
    current: Amperes | None = None
    insulated: bool = True

    def terminals(self) -> tuple[str, ...]:
        joined = [
            end for pairs in self.positions.values() for pair in pairs for end in pair.split("-")
        ]
        return tuple(sorted(set(joined), key=lambda name: (len(name), name)))


class Inlet(Part):
    kind: Literal["inlet"]
    current: Amperes | None = None
    shell: Literal["plastic", "metal"] = "plastic"

    def terminals(self) -> tuple[str, ...]:
        return ("L", "N", "PE")


class Connector(Part):
    kind: Literal["connector"]
    role: Literal["input", "output", "loudspeaker", "headphone", "power", "other"]
    contacts: Annotated[list[Label], Field(min_length=1)]
    shell: Label | None = None
    """The contact that is the metal body; it touches the panel unless ``insulated``."""
    insulated: bool = False

    def terminals(self) -> tuple[str, ...]:
        return tuple(self.contacts)

    @model_validator(mode="after")
    def _shell_is_a_contact(self) -> Connector:
        if self.shell is not None and self.shell not in self.contacts:
            raise ValueError(f'shell "{self.shell}" is not one of the contacts')
        return self


class Potentiometer(Part):
    kind: Literal["potentiometer"]
    value: Ohms
    taper: Literal["linear", "audio"] = "audio"
    power: Watts | None = None
    voltage: Volts | None = None
    insulated: bool = False
    """Whether the metal body is kept from the panel."""

    def terminals(self) -> tuple[str, ...]:
        return ("ccw", "wiper", "cw")


class TerminalStrip(Part):
    kind: Literal["terminal strip"]
    lugs: Annotated[int, Field(ge=1, le=40)]
    mounting: list[Annotated[int, Field(ge=1, le=40)]] = []
    """Which lugs are the mounting feet, and so the chassis, unless ``insulated``."""
    insulated: bool = False
    voltage: Volts | None = None

    def terminals(self) -> tuple[str, ...]:
        return ()

    @model_validator(mode="after")
    def _feet_are_lugs(self) -> TerminalStrip:
        if any(foot > self.lugs for foot in self.mounting):
            raise ValueError(f"a mounting lug is numbered above the {self.lugs} lugs there are")
        return self


class GroundBus(Part):
    """A stout conductor with numbered points along it; each span joins neighbours."""

    kind: Literal["ground bus"]
    points: Annotated[int, Field(ge=2, le=40)]
    pitch: Metres | None = None

    def terminals(self) -> tuple[str, ...]:
        return ()


class ChassisBond(Part):
    """A solder lug screwed to the metal."""

    kind: Literal["chassis bond"]
    fixing: Literal["own screw", "transformer bolt", "part screw"] | None = None
    piece: Label = "chassis"
    """Which piece of metal it is screwed to."""

    def terminals(self) -> tuple[str, ...]:
        return ("lug",)


class Lamp(Part):
    kind: Literal["lamp"]
    voltage: Volts
    current: Amperes


class VoltageSource(Part):
    """A battery or a bench supply."""

    kind: Literal["voltage source"]
    voltage: Volts
    resistance: Ohms

    def terminals(self) -> tuple[str, ...]:
        return ("+", "-")


class Transistor(Part):
    """A declared black box: it draws the stated current from its first lead to its last."""

    kind: Literal["transistor"]
    leads: Annotated[list[Label], Field(min_length=2, max_length=8)]
    current: Amperes | None = None
    voltage: Volts | None = None
    power: Watts | None = None
    temperature: Celsius | None = None

    def terminals(self) -> tuple[str, ...]:
        return tuple(self.leads)


AnyPart = Annotated[
    Resistor
    | Capacitor
    | Choke
    | MainsTransformer
    | OutputTransformer
    | Tube
    | Diode
    | Bridge
    | Led
    | Zener
    | Fuse
    | Switch
    | Inlet
    | Connector
    | Potentiometer
    | TerminalStrip
    | GroundBus
    | ChassisBond
    | Lamp
    | VoltageSource
    | Transistor,
    Field(discriminator="kind"),
]
