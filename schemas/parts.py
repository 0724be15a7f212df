"""Parts by kind: what to buy, with the ratings a review holds the design against.

Each kind's ``terminals`` are the names its connections go by, in the order a plain list of nets
or tie points is read.
"""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator

from coldcheck.schemas.fields import (
    PAIR,
    WINDING,
    Amperes,
    Farads,
    Henries,
    Joules,
    Label,
    Later,
    Metres,
    Ohms,
    Percent,
    SquaredAmpereSeconds,
    TeslasAtMetres,
    VoltAmperes,
    Volts,
    Watts,
    WireArea,
    different,
)
from coldcheck.schemas.part import Part as Part
from coldcheck.schemas.semiconductors import BipolarTransistor as BipolarTransistor
from coldcheck.schemas.semiconductors import Bridge as Bridge
from coldcheck.schemas.semiconductors import Diode as Diode
from coldcheck.schemas.semiconductors import Led as Led
from coldcheck.schemas.semiconductors import Mosfet as Mosfet
from coldcheck.schemas.semiconductors import Regulator as Regulator
from coldcheck.schemas.semiconductors import Transistor as Transistor
from coldcheck.schemas.semiconductors import Zener as Zener
from coldcheck.schemas.windings import OutputPrimary, OutputSecondary, Primary, Winding


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
    axis: Literal["along", "across", "up"] | None = None
    """Where the axis of its coil points with ``turn`` 0: along the first number of ``at``, across
    that along the second, or up from the face.  Its stray field is that of a magnet on this axis."""


class Choke(Wound):
    kind: Literal["choke"]
    inductance: Henries
    resistance: Ohms | None = None
    current: Amperes | None = None
    saturation: Amperes | None = None
    """The dc at which half of its inductance is left."""
    power: Watts | None = None
    insulation: Volts | None = None
    stray: TeslasAtMetres | None = None
    """The most measured that far from its middle, at twice the mains frequency, as it works."""

    @field_validator("saturation")
    @classmethod
    def _beyond_its_current(cls, saturation: float | None, info: ValidationInfo) -> float | None:
        current = info.data.get("current")
        if saturation is not None and current is not None and saturation <= current:
            raise ValueError("more than current, at which the whole inductance is there")
        return saturation


class MainsTransformer(Wound):
    kind: Literal["mains transformer"]
    primary: Primary
    windings: dict[Annotated[str, Field(max_length=30, pattern=WINDING)], Winding]
    rating: VoltAmperes | None = None
    core: Literal["E-I", "toroid"] = "E-I"
    screen: bool = False
    """Whether it has an electrostatic screen brought out as terminal "screen"."""
    stray: TeslasAtMetres | None = None
    """The most measured that far from its middle, rms, at its nominal mains."""

    @field_validator("windings")
    @classmethod
    def _names_are_free(cls, windings: dict[str, Winding]) -> dict[str, Winding]:
        if not {"primary", "screen"}.isdisjoint(windings):
            raise ValueError('secondary windings under names other than "primary" and "screen"')
        return windings

    def coils(self) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Each piece of wire: the winding it belongs to, and its terminals from end to end."""
        for name, winding in (("primary", self.primary), *self.windings.items()):
            for taps in winding.voltage.terminals:
                yield name, tuple(f"{name}.{tap}" for tap in taps)

    def terminals(self) -> tuple[str, ...]:
        names = tuple(terminal for _name, piece in self.coils() for terminal in piece)
        return (*names, "screen") if self.screen else names


class OutputTransformer(Wound):
    kind: Literal["output transformer"]
    primary: OutputPrimary
    secondary: OutputSecondary
    centre_tap: bool = False
    power: Watts | None = None
    insulation: Volts | None = None

    def coils(self) -> Iterator[tuple[str, tuple[str, ...]]]:
        """Each piece of wire: the winding it belongs to, and its terminals from end to end."""
        names: tuple[str, ...] = ("1", "ct", "2") if self.centre_tap else ("1", "2")
        if self.primary.screen_taps is not None:
            names = ("1", "ul1", "ct", "ul2", "2") if self.centre_tap else ("1", "ul", "2")
        yield "primary", tuple(f"primary.{name}" for name in names)
        yield "secondary", tuple(f"secondary.{tap}" for tap in self.secondary.taps)

    def terminals(self) -> tuple[str, ...]:
        return tuple(terminal for _name, piece in self.coils() for terminal in piece)


class Tube(Part):
    kind: Literal["tube"]
    type: Label
    socket: Literal["plastic", "metal saddle"] | None = None
    matched: Label | None = None
    """A name for the set it was sold in, its currents matched; tubes of a set share the name."""

    def terminals(self) -> tuple[str, ...]:
        return ()


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


class MainsEntry(Part):
    """Where the mains comes in: the conductors of an inlet, or of a cord that stays on."""

    current: Amperes | None = None

    def terminals(self) -> tuple[str, ...]:
        return ("L", "N", "PE")


class Inlet(MainsEntry):
    kind: Literal["inlet"]
    shell: Literal["plastic", "metal"] = "plastic"


class Cord(MainsEntry):
    """A mains cord that is fixed to the chassis, its conductors soldered inside."""

    kind: Literal["cord"]
    conductor: WireArea | None = None
    """Copper of each of its conductors."""
    strain_relief: bool | None = None
    """Whether a clamp other than a knot holds it where it enters."""


class Connector(Part):
    kind: Literal["connector"]
    role: Literal["input", "output", "loudspeaker", "headphone", "power", "other"]
    contacts: Annotated[list[Label], Field(min_length=1)]
    shell: Label | None = None
    """The contact that is the metal body; it touches the panel unless ``insulated``."""
    insulated: bool = False
    voltage: Volts | None = None
    """Most between two contacts, or one and the body."""
    current: Amperes | None = None
    """Most that each contact carries."""

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
    setting: Percent | None = None
    """Where a preset is left: the share of its resistance from ccw to wiper."""
    insulated: bool = False
    """Whether the metal body is kept from the panel."""

    @field_validator("setting")
    @classmethod
    def _on_the_track(cls, setting: float | None) -> float | None:
        if setting is not None and setting > 1.0:
            raise ValueError('at most 100 %, such as "30 %"')
        return setting

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


class Thermistor(Part):
    """An inrush limiter: a resistor that gives way as its own current heats it."""

    kind: Literal["thermistor"]
    cold: Ohms
    """At 25 degC."""
    hot: Ohms | None = None
    """With the current of the amplifier running."""
    current: Amperes | None = None
    """Most it carries for long, rms."""
    energy: Joules | None = None
    """Most it takes from one switch-on."""


class VoltageSource(Part):
    """A battery or a bench supply."""

    kind: Literal["voltage source"]
    voltage: Volts
    resistance: Ohms

    def terminals(self) -> tuple[str, ...]:
        return ("+", "-")


_Kind = (
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
    | Cord
    | Connector
    | Potentiometer
    | TerminalStrip
    | GroundBus
    | ChassisBond
    | Lamp
    | Thermistor
    | VoltageSource
    | Transistor
    | BipolarTransistor
    | Mosfet
    | Regulator
)
AnyPart = Annotated[_Kind, Later(_Kind)]
