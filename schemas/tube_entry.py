"""A tube type as a builder writes it: in ``[tubes]`` of a project, or in a library of his own."""

from typing import Annotated, Literal

from pydantic import Field

from coldcheck.schemas.fields import (
    Amperes,
    BasisWord,
    Chapter,
    Label,
    Ohms,
    Siemens,
    SignedVolts,
    Volts,
    Watts,
)

LIMITS = (
    "plate_volts",
    "plate_volts_cold",
    "plate_watts",
    "plate_watts_both",
    "plate_watts_driven",
    "plate_amperes",
    "screen_volts",
    "screen_volts_cold",
    "screen_supply_volts",
    "screen_watts",
    "screen_watts_driven",
    "plate_screen_watts",
    "cathode_amperes",
    "grid_negative_volts",
    "grid_leak_fixed_ohms",
    "grid_leak_cathode_ohms",
    "heater_cathode_volts_heater_negative",
    "heater_cathode_volts_heater_positive",
    "heater_cathode_dc_volts_heater_positive",
    "heater_warm_up_seconds",
    "peak_inverse_volts",
    "plate_peak_amperes",
    "plate_transient_amperes",
    "dc_amperes",
    "plate_ac_volts_capacitor_input",
    "plate_ac_volts_choke_input",
    "first_capacitor_farads",
    "regulated_volts",
    "regulator_amperes_least",
    "regulator_amperes_most",
    "starting_volts",
    "shunt_farads",
)
"""Names of limits, as in the shipped library; a name ends in what it measures.  With ``_1`` or
``_2`` after it a limit is that of one section."""
CAPACITANCES = ("grid_plate", "grid_cathode", "plate_cathode", "input", "output")
"""The first three of triodes, input and output of pentodes; sections as in :data:`LIMITS`."""
ELECTRODES = (
    "plate",
    "grid",
    "screen",
    "suppressor",
    "cathode",
    "anode",
    "heater",
    "heater_tap",
    "heater_cathode",
    "filament",
    "shield",
    "nc",
    "ic",
)
"""What a pin may be; of a twin type ``plate_1``, ``plate_2``.  nc: not connected; ic: joined
inside, not to be used."""

Cite = Annotated[str, Field(min_length=3, max_length=200)]
Written = Annotated[str, Field(min_length=1, max_length=64)]
Factor = Annotated[float, Field(ge=1e-9)]


class Cited(Chapter):
    """A value with a source of its own; those of the entry hold where it names none."""

    value: Written
    source: Cite | None = None
    basis: BasisWord | None = None
    note: Annotated[str, Field(max_length=200)] = ""


class Heating(Chapter):
    """One way to feed the heater or filament; ``between`` where more than two pins make several."""

    volts: Volts
    amperes: Amperes
    between: list[list[int]] | None = None
    """Pins of one side, pins of the other."""


class PlatePoint(Chapter):
    """A published operating point, voltages to the cathode.

    Two of mu, transconductance and plate_ohms are needed of a triode; of a pentode the
    transconductance and what the screen takes.
    """

    plate_volts: Volts
    grid_volts: SignedVolts
    plate_amperes: Amperes
    mu: Factor | None = None
    """Of a pentode, from first to second grid."""
    transconductance: Siemens | None = None
    plate_ohms: Ohms | None = None
    screen_volts: Volts | None = None
    screen_amperes: Amperes | None = None


class Drop(Chapter):
    """Volts across a diode at a current."""

    volts: Volts
    amperes: Amperes


class LawEntry(Chapter):
    """How current follows voltage: a published point, a diode's drop, or parameters of a form."""

    section: Annotated[int, Field(ge=1, le=4)] | None = None
    """The section it is of; all that it fits where none is named."""
    point: PlatePoint | None = None
    drop: Drop | None = None
    form: Literal["koren", "reefman", "three-halves"] | None = None
    mu: Factor | None = None
    ex: Factor | None = None
    kg1: Factor | None = None
    kg2: Factor | None = None
    kp: Factor | None = None
    kvb: Factor | None = None
    beta: Factor | None = None
    plate_pull: Factor | None = None
    perveance: Factor | None = None
    source: Cite | None = None
    basis: BasisWord | None = None


class TubeEntry(Chapter):
    """A tube type the project adds: whole, or a known type with some of its values replaced."""

    like: Label | None = None
    source: Cite
    basis: BasisWord = "data sheet"
    base: Label | None = None
    """The socket it needs: B7G, B9A, octal, UX4, ..."""
    sections: (
        Annotated[
            list[Literal["triode", "pentode", "diode", "regulator"]],
            Field(min_length=1, max_length=4),
        ]
        | None
    ) = None
    """The tubes in the bulb; a beam tube is a pentode."""
    pins: dict[Label, Label] = {}
    """Pin to electrode; pins that are not there are left out."""
    heater: list[Heating] = []
    limits: dict[Label, Written | Cited] = {}
    capacitance: dict[Label, Written | Cited] = {}
    supply_ohms: dict[Label, Written | Cited] = {}
    """Rectifiers: a.c. volts of each plate, and the least resistance in series with it."""
    law: LawEntry | list[LawEntry] = []
    note: Annotated[str, Field(max_length=400)] = ""
    plate_volts: Volts | None = None
    """The limits most often changed may stand in the entry itself."""
    plate_watts: Watts | None = None
    screen_volts: Volts | None = None
    screen_watts: Watts | None = None
    cathode_amperes: Amperes | None = None
    grid_leak_cathode_ohms: Ohms | None = None
    """Most resistance from grid to ground with cathode bias."""
    grid_leak_fixed_ohms: Ohms | None = None
    """The same with fixed bias."""
    heater_cathode_volts_heater_negative: Volts | None = None
    heater_cathode_volts_heater_positive: Volts | None = None


class OwnLibrary(Chapter):
    """A builder's own tube types, for every project of his."""

    tubes: dict[Label, TubeEntry] = {}


DIRECT = tuple(name for name in TubeEntry.model_fields if name in LIMITS)
"""Limits that may stand in the entry itself."""
