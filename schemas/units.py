"""The units a document may use: how each is spelt, scaled and shown.  Standard library only.

Numbers are SI floats once read.  Two units keep their own scale: ``degC`` (degrees Celsius) and
``dB``.  A percentage is a plain ratio: ``5 %`` is 0.05.

Prefixes are those of the SI brochure (BIPM, 9th edition, table 7), case-sensitive.  Letters that
stand in for a decimal point (``4k7``, ``2n2``) are those of IEC 60062 (read in restatements of the
standard, not in the standard itself); ``4V7``, ``3A15`` and ``0W6`` are common practice, no source.
Inch 25.4 mm and foot 0.3048 m: NIST SP 811 (2008), appendix B.8.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import NamedTuple

PREFIXES: Mapping[str, int] = {
    "p": -12,
    "n": -9,
    "u": -6,
    "m": -3,
    "c": -2,
    "": 0,
    "k": 3,
    "M": 6,
    "G": 9,
}


class Unit(NamedTuple):
    """One kind of quantity: what is accepted, and how it is shown."""

    symbol: str
    what: str
    """With its article: "a resistance"."""
    spellings: tuple[str, ...]
    prefixes: str
    """Accepted SI prefixes; the unprefixed unit is always accepted."""
    examples: tuple[str, ...]
    steps: tuple[tuple[float, str], ...]
    """Output scale, largest first: (smallest magnitude shown so, unit text); text is parsable."""
    others: Mapping[str, int | Fraction] = MappingProxyType({})
    """Complete spellings with their power of ten, or exact factor, to SI."""
    letters: Mapping[str, int] = MappingProxyType({})
    """Letters that replace the decimal point, with their power of ten."""
    leading: str = ""
    """Those letters that may stand first, as in ``R47``."""
    bare: str = ""
    """Prefixes that name the quantity by themselves, so that the unit may be left out."""
    plain: bool = False
    """Whether a number alone is enough."""
    fractions: bool = False
    """``1/2``."""
    mixed: bool = False
    """``1-1/8``."""
    signed: bool = False
    trailing_zeros: bool = False
    """Shown to the full number of digits: a drilling dimension states its precision."""

    @property
    def expected(self) -> str:
        """A sentence end for messages: ``a resistance such as "47k" or "470 ohm"``."""
        return f"{self.what} such as " + " or ".join(f'"{example}"' for example in self.examples)


def _suffixes(unit: Unit) -> dict[str, int | Fraction]:
    table: dict[str, int | Fraction] = {
        prefix + spelling: PREFIXES[prefix]
        for spelling in unit.spellings
        for prefix in ("", *unit.prefixes)
    }
    for prefix in unit.bare:
        table[prefix] = PREFIXES[prefix]
        table.update({f"{prefix} {spelling}": PREFIXES[prefix] for spelling in unit.spellings})
    table.update(unit.others)
    if unit.plain:
        table[""] = 0
    return table


_RESISTANCE_LETTERS = {"R": 0, "K": 3, "k": 3, "M": 6, "G": 9, "L": -3}
_CAPACITANCE_LETTERS = {"p": -12, "n": -9, "u": -6, "m": -3, "F": 0}

_ALL = (
    Unit(
        "ohm",
        "a resistance",
        ("ohm", "ohms", "Ohm", "Ohms", "Ω"),
        "mkMG",
        ("47k", "4k7", "470 ohm", "1M"),
        ((1e9, "Gohm"), (1e6, "Mohm"), (1e3, "kohm"), (0.1, "ohm"), (0.0, "mohm")),
        # "meg" is the trade's own way out of M against m (common practice, no source).
        others={"R": 0, "K": 3, "L": -3, "Kohm": 3, "KΩ": 3, "meg": 6, "Meg": 6, "megohm": 6},
        letters=_RESISTANCE_LETTERS,
        leading="RKkMG",
        bare="kMG",
        plain=True,
    ),
    Unit(
        "F",
        "a capacitance",
        ("F",),
        "pnum",
        ("0.1u", "100n", "47 uF", "2n2"),
        ((1e-7, "uF"), (1e-9, "nF"), (0.0, "pF")),
        letters=_CAPACITANCE_LETTERS,
        leading="pnuF",
        bare="pnu",
    ),
    Unit(
        "H",
        "an inductance",
        ("H",),
        "num",
        ("10 H", "150 mH"),
        ((1.0, "H"), (1e-3, "mH"), (1e-6, "uH"), (0.0, "nH")),
        letters={"H": 0, "u": -6, "n": -9},
        bare="nu",
    ),
    Unit(
        "V",
        "a voltage",
        ("V", "volt", "volts"),
        "unmk",
        ("275 V", "90 mV"),
        ((1e4, "kV"), (0.1, "V"), (1e-4, "mV"), (1e-7, "uV"), (0.0, "nV")),
        letters={"V": 0},
        signed=True,
    ),
    Unit(
        "A",
        "a current",
        ("A", "amp", "amps"),
        "pnum",
        ("90 mA", "3.15 A"),
        ((1.0, "A"), (1e-4, "mA"), (1e-7, "uA"), (1e-10, "nA"), (0.0, "pA")),
        letters={"A": 0},
        fractions=True,
        signed=True,
    ),
    Unit(
        "W",
        "a power",
        ("W", "watt", "watts"),
        "umk",
        ("1/2 W", "5 W"),
        ((1e3, "kW"), (0.1, "W"), (1e-4, "mW"), (0.0, "uW")),
        letters={"W": 0},
        fractions=True,
    ),
    Unit(
        "VA",
        "an apparent power",
        ("VA",),
        "k",
        ("60 VA",),
        ((1e4, "kVA"), (0.0, "VA")),
    ),
    Unit(
        "Hz",
        "a frequency",
        ("Hz",),
        "mkM",
        ("50 Hz", "20 kHz"),
        ((1e6, "MHz"), (1e3, "kHz"), (0.1, "Hz"), (0.0, "mHz")),
    ),
    Unit(
        "m",
        "a length",
        ("m",),
        "umc",
        ("120 mm", "3/4 in", "1-1/8 in"),
        ((1.0, "m"), (1e-4, "mm"), (0.0, "um")),
        others={
            **dict.fromkeys(("in", "inch", "inches", '"'), Fraction(254, 10000)),
            **dict.fromkeys(("ft", "foot", "feet"), Fraction(3048, 10000)),
        },
        fractions=True,
        mixed=True,
        signed=True,
        trailing_zeros=True,
    ),
    Unit(
        "m2",
        "an area",
        ("m2", "m^2", "m²"),
        "",
        ("1.5 mm2", "24 cm2"),
        ((1.0, "m2"), (1e-3, "cm2"), (0.0, "mm2")),
        others={
            **dict.fromkeys(("mm2", "mm^2", "mm²"), -6),
            **dict.fromkeys(("cm2", "cm^2", "cm²"), -4),
        },
    ),
    Unit(
        "s",
        "a time",
        ("s",),
        "num",
        ("20 s", "2 min", "1000 h"),
        ((10800.0, "h"), (180.0, "min"), (0.1, "s"), (1e-3, "ms"), (1e-6, "us"), (0.0, "ns")),
        others={"min": Fraction(60), "h": Fraction(3600)},
    ),
    Unit(
        "degC",
        "a temperature",
        ("degC", "°C", "C"),
        "",
        ("30 degC", "86 degF"),
        ((0.0, "degC"),),
        signed=True,
    ),
    Unit("%", "a percentage", ("%", "percent"), "", ("5 %",), ((0.0, "%"),), signed=True),
    Unit("dB", "a level", ("dB",), "", ("88 dB",), ((0.0, "dB"),), signed=True),
    Unit(
        "ohm/m",
        "a resistance per length",
        ("ohm/m", "Ω/m"),
        "m",
        ("21 mohm/m",),
        ((0.1, "ohm/m"), (0.0, "mohm/m")),
        others={"ohm/km": -3, "Ω/km": -3},
    ),
    Unit(
        "S",
        "a transconductance",
        ("S",),
        "um",
        ("1.6 mS", "1600 umho"),
        ((1.0, "S"), (1e-4, "mS"), (0.0, "uS")),
        others={"mA/V": -3, "A/V": 0, "umho": -6},
    ),
    Unit("J", "an energy", ("J",), "um", ("10 J",), ((0.1, "J"), (1e-4, "mJ"), (0.0, "uJ"))),
    Unit("kg", "a mass", ("kg",), "", ("2.5 kg", "40 g"), ((1.0, "kg"), (0.0, "g")), {"g": -3}),
    Unit(
        "K/W", "a thermal resistance", ("K/W", "degC/W", "°C/W"), "", ("12 K/W",), ((0.0, "K/W"),)
    ),
    Unit(
        "T",
        "a magnetic field",
        ("T",),
        "num",
        ("30 uT", "300 mG"),
        ((0.1, "T"), (1e-4, "mT"), (1e-7, "uT"), (0.0, "nT")),
        others={"G": -4, "mG": -7, "kG": -1},
    ),
    Unit("A2s", "a melting integral", ("A2s", "A^2s", "A²s"), "", ("19 A2s",), ((0.0, "A2s"),)),
)

UNITS: Mapping[str, Unit] = {unit.symbol: unit for unit in _ALL}
"""The units by symbol."""

SUFFIXES: Mapping[str, Mapping[str, int | Fraction]] = {
    **{unit.symbol: _suffixes(unit) for unit in _ALL},
    "%": {"%": -2, "percent": -2},
}
"""Per unit: everything that may follow a number, with its power of ten or exact factor to SI."""
