"""Parts by kind: what to buy, with the ratings a review holds the design against.

Each kind's ``terminals`` are the names its connections go by, in the order a plain list of nets
or tie points is read.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal, get_args

from pydantic import Field, ValidationInfo, field_validator

from coldcheck.schemas.fields import (
    PAIR,
    WINDING,
    Amperes,
    BasisWord,
    Celsius,
    Chapter,
    Farads,
    Henries,
    Label,
    Measure,
    Metres,
    Ohms,
    Percent,
    SquaredAmpereSeconds,
    VoltAmperes,
    Volts,
    Watts,
    different,
)
from coldcheck.schemas.windings import OutputPrimary, OutputSecondary, Primary, Winding


class Part(Chapter):
    """What every part may say besides its kind's own values."""

    kind: str
    note: Annotated[str, Field(max_length=400)] = ""
    basis: BasisWord | dict[str, BasisWord] | None = None
    """Where the values come from; one word for all, or one per value name."""
    size: Annotated[tuple[Measure, Measure, Measure], Field(strict=False)] | None = None
    """Width, depth and height of the body, in millimetres."""

    def terminals(self) -> tuple[str, ...]:
        """Terminal names in list order; empty for mere tie points and for tubes (pins)."""
        return ("1", "2")

    @classmethod
    def value_names(cls) -> Iterator[str]:
        """Names that ``basis`` may give a word for: the part's values, windings' included."""
        waiting: list[Any] = [cls]
        while waiting:
            kind = waiting.pop()
            if isinstance(kind, type) and issubclass(kind, Chapter):
                fields = {n: f for n, f in kind.model_fields.items() if n not in Part.model_fields}
                yield from fields.keys() - {"kind"}
                waiting += [field.annotation for field in fields.values()]
            else:
                waiting += get_args(kind)

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


class Wound(Part):
    """A choke or transformer: it stands outside the metal and its leads come through."""

    lead: Label | None = None
    """Which wire type its flying leads are."""


class Choke(Wound):
    kind: Literal["choke"]
    inductance: Henries
    resistance: Ohms | None = None
    current: Amperes | None = None
    power: Watts | None = None
    insulation: Volts | None = None


class MainsTransformer(Wound):
    kind: Literal["mains transformer"]
    primary: Primary
    windings: dict[Annotated[str, Field(max_length=30, pattern=WINDING)], Winding]
    rating: VoltAmperes | None = None
    core: Literal["E-I", "toroid"] = "E-I"
    screen: bool = False
    """Whether it has an electrostatic screen brought out as terminal "screen"."""

    @field_validator("windings")
    @classmethod
    def _names_are_free(cls, windings: dict[str, Winding]) -> dict[str, Winding]:
        if not {"primary", "screen"}.isdisjoint(windings):
            raise ValueError('secondary windings under names other than "primary" and "screen"')
        return windings

    def terminals(self) -> tuple[str, ...]:
        names = ["primary.1", "primary.2"]
        for name, winding in self.windings.items():
            tap = [f"{name}.ct"] if len(winding.voltage) == 2 else []
            names += [f"{name}.1", *tap, f"{name}.2"]
        return (*names, "screen") if self.screen else tuple(names)


class OutputTransformer(Wound):
    kind: Literal["output transformer"]
    primary: OutputPrimary
    secondary: OutputSecondary
    centre_tap: bool = False
    power: Watts | None = None
    insulation: Volts | None = None

    def terminals(self) -> tuple[str, ...]:
        tap = ("primary.ct",) if self.centre_tap else ()
        secondary = (f"secondary.{tap}" for tap in self.secondary.taps)
        return ("primary.1", *tap, "primary.2", *secondary)


class Tube(Part):
    kind: Literal["tube"]
    type: Label
    socket: Literal["plastic", "metal saddle"] | None = None
    matched: Label | None = None
    """A name for the set it was sold in, its currents matched; tubes of a set share the name."""

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
    i2t: SquaredAmpereSeconds | None = None
    """Nominal melting I2t, from the maker's sheet."""
    resistance: Ohms | None = None
    """Cold."""


class Switch(Part):
    kind: Literal["switch"]
    positions: Annotated[
        dict[Label, list[Annotated[str, Field(pattern=PAIR)]]], Field(min_length=1)
    ]
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

    @field_validator("contacts")
    @classmethod
    def _all_different(cls, contacts: list[str]) -> list[str]:
        return different(contacts, "contacts with names that differ")

    @field_validator("shell")
    @classmethod
    def _shell_is_a_contact(cls, shell: str | None, info: ValidationInfo) -> str | None:
        contacts: list[str] = info.data.get("contacts", [])
        if shell is not None and contacts and shell not in contacts:
            raise ValueError(f"one of the contacts: {', '.join(contacts)}")
        return shell

    def terminals(self) -> tuple[str, ...]:
        return tuple(self.contacts)


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

    @field_validator("mounting")
    @classmethod
    def _feet_are_lugs(cls, mounting: list[int], info: ValidationInfo) -> list[int]:
        lugs = info.data.get("lugs")
        if lugs is not None and any(foot > lugs for foot in mounting):
            raise ValueError(f"numbers of the {lugs} lugs there are")
        return mounting


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

    @field_validator("leads")
    @classmethod
    def _all_different(cls, leads: list[str]) -> list[str]:
        return different(leads, "leads with names that differ")

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
