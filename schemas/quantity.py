"""Builder's notation to SI floats and back: ``4k7``, ``0.1u``, ``1-1/8 in``, ``275-0-275 V``.

Strict on purpose: a text with two plausible meanings is refused with a sentence saying what to
write, never guessed.  Every repeat in a pattern is bounded, so hostile text costs microseconds.
Decimal text is scaled by moving its exponent, so ``100u`` is exactly ``float("100e-6")``.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from coldcheck.schemas.units import SUFFIXES, UNITS, Unit

LONGEST = 32
"""Characters in one quantity; the longest sensible one is about twelve."""
LONGEST_LIST = 64
"""Characters in a list of winding sections."""
MOST_SECTIONS = 8
"""Sections of one winding; more is a slip of the pen, not a transformer."""

# [0-9] and not \d: \d also matches Arabic-Indic and other digits.
_DECIMAL = re.compile(
    r"([+-]?)((?:[0-9]{1,12}(?:\.[0-9]{0,12})?|\.[0-9]{1,12})(?:[eE]([+-]?[0-9]{1,2})(?![0-9]))?)"
    r" ?([^0-9. +-].{0,15})?"
)
_LETTER = re.compile(r"([+-]?)([0-9]{0,12})([A-Za-z])([0-9]{1,12})(?: ?([^0-9. +-].{0,15}))?")
_FRACTION = re.compile(
    r"([+-]?)(?:([0-9]{1,4})[- ])?([0-9]{1,4})/([0-9]{1,4}) ?([^0-9. +-].{0,15})"
)
_CENTRE_TAP = re.compile(r"([0-9.]{1,12}) ?- ?0 ?- ?([0-9.]{1,12})( ?[^0-9. +-].{0,15})?")
_TAPS = re.compile(
    r"(?:([2-4]) ?[x×] ?)?([0-9.]{1,12}(?: ?- ?[0-9.]{1,12}){0,8})( ?[^0-9. +-].{0,15})?"  # noqa: RUF001
)
_MICROFARADS = re.compile(r"[0-9.]+ ?(?:[muµ]{1,2}fd?s?|MFD?)", re.IGNORECASE)
_SAME = str.maketrans({"\u03bc": "u", "\u00b5": "u", "\u2126": "\u03a9", "\u2212": "-"})


class QuantityError(ValueError):
    """A text that is not one clear quantity: what was found, and what to write instead."""

    def __init__(self, found: str, expected: str) -> None:
        self.found = found if len(found) <= LONGEST else found[: LONGEST - 3] + "..."
        self.expected = expected
        super().__init__(f"found {self.found!r}, expected {expected}")


class Gauge(NamedTuple):
    """A conductor size as written, its copper area in m2 and the diameter in m of one round
    conductor of that area (a stranded wire is a little thicker)."""

    text: str
    area: float
    diameter: float


def parse(text: str, unit: str) -> float:
    """The value of ``text`` in the SI unit ``unit``, a key of :data:`coldcheck.schemas.units.UNITS`.

    ``%`` gives a ratio (``5 %`` is 0.05); ``degC`` and ``dB`` keep their own scale.

    Raises QuantityError when the text is not one clear quantity of that kind.

    >>> parse("4k7", "ohm"), parse("100u", "F"), parse("3/4 in", "m")
    (4700.0, 0.0001, 0.01905)
    """
    kind = UNITS[unit]
    given = _bounded(text, LONGEST, kind.expected)
    value = _decimal(given, kind)
    if value is None:
        value = _with_letter(given, kind)
    if value is None and kind.fractions:
        value = _fraction(given, kind)
    if value is None:
        raise QuantityError(text, _advice(given, kind))
    if value < 0 and not kind.signed:
        raise QuantityError(text, f"{kind.expected}; {kind.what} is not negative")
    return value


def parse_sections(text: str, unit: str) -> tuple[float, ...]:
    """The sections of a winding in SI units, in order.

    >>> parse_sections("275-0-275 V", "V"), parse_sections("6.3 V", "V")
    ((275.0, 275.0), (6.3,))
    >>> parse_sections("120+125", "ohm")
    (120.0, 125.0)

    Raises QuantityError.
    """
    example = {"V": '"6.3 V" or "275-0-275 V"', "ohm": '"245" or "120+125"'}.get(unit)
    expected = f"sections such as {example}" if example else UNITS[unit].expected
    given = _bounded(text, LONGEST_LIST, expected)
    if tapped := _CENTRE_TAP.fullmatch(given):
        halves = [tapped[1], tapped[2]]
        ending = tapped[3] or ""
        return tuple(_section(half + ending, unit, text, expected) for half in halves)
    pieces = [piece.strip() for piece in given.split("+")]
    if len(pieces) > MOST_SECTIONS:
        raise QuantityError(text, f"{expected}, with at most {MOST_SECTIONS} sections")
    ending = _shared_ending(pieces, unit, text)
    return tuple(
        _section(piece + ending if _is_number(piece) else piece, unit, text, expected)
        for piece in pieces
    )


def parse_taps(text: str) -> tuple[tuple[float, ...], ...]:
    """Volts at the taps of a winding, in order, by piece of wire, as a nameplate has them.

    The 0 is the common end, or within the winding where volts are counted both ways from it.

    >>> parse_taps("0-115-230 V"), parse_taps("275-0-275 V"), parse_taps("2 x 6.3 V")
    (((0.0, 115.0, 230.0),), ((-275.0, 0.0, 275.0),), ((0.0, 6.3), (0.0, 6.3)))

    Raises QuantityError.
    """
    expected = 'volts such as "6.3 V", "275-0-275 V", "0-115-230 V" or "2 x 115 V"'
    match = _TAPS.fullmatch(_bounded(text, LONGEST_LIST, expected))
    if match is None:
        parts = parse_sections(text, "V")  # "250+250 V"
        if len(parts) > 2:
            raise QuantityError(text, f"{expected}; name further windings apart")
        return ((-parts[0], 0.0, parts[1]) if len(parts) == 2 else (0.0, parts[0]),)
    times, ending = int(match[1] or 1), match[3] or ""
    pieces = [piece.strip() for piece in match[2].split("-")]
    volts = [_section(piece + ending, "V", text, expected) for piece in pieces]
    if len(volts) == 1:
        return ((0.0, volts[0]),) * times
    if 0.0 not in volts[:-1]:
        raise QuantityError(text, f"{expected}, with the 0 first or within")
    zero = volts.index(0.0)
    if times > 1 and zero > 0:
        raise QuantityError(text, f"{expected}; with centre taps, each winding by its own name")
    return ((*(-one for one in volts[:zero]), *volts[zero:]),) * times


def parse_gauge(text: str) -> Gauge:
    """A conductor size: ``18 AWG``, ``4/0 AWG``, ``0.75 mm2``, or strands ``24/0.2 mm``.

    AWG by ASTM B258: d = 0.127 mm x 92 ** ((36 - n) / 39), with 0 for 1/0 and -3 for 4/0.

    Raises QuantityError.
    """
    expected = 'a wire size such as "18 AWG", "0.75 mm2" or "24/0.2 mm"'
    given = _bounded(text, LONGEST, expected)
    if american := re.fullmatch(r"([1-4]/0|[0-9]{1,2}) ?AWG|AWG ?([1-4]/0|[0-9]{1,2})", given):
        number = american[1] or american[2]
        gauge = 1 - int(number[0]) if "/" in number else int(number)
        if gauge > 40:
            raise QuantityError(text, "an AWG size from 4/0 to 40")
        diameter = 0.127e-3 * 92.0 ** ((36 - gauge) / 39)
        return Gauge(f"{number} AWG", math.pi / 4.0 * diameter**2, diameter)
    if stranded := re.fullmatch(r"([0-9]{1,3})/([0-9]{0,2}\.[0-9]{1,3}) ?(?:mm)?", given):
        area = int(stranded[1]) * math.pi / 4.0 * (float(stranded[2]) * 1e-3) ** 2
    else:
        try:
            area = parse(given, "m2")
        except QuantityError:
            raise QuantityError(text, expected) from None
    if not 1e-10 <= area <= 1e-3:
        raise QuantityError(text, f"{expected}, between 0.0001 mm2 and 1000 mm2")
    return Gauge(given, area, 2.0 * math.sqrt(area / math.pi))


def show(value: float, unit: str, digits: int = 3) -> str:
    """``value`` in SI ``unit`` for a reader: three figures, a fitting prefix, no exponent.

    An unknown unit text is written after the number as it stands; "" gives the number alone.

    >>> show(47e3, "ohm"), show(0.00085, "A"), show(0.0015, "m"), show(0.05, "%")
    ('47 kohm', '0.85 mA', '1.50 mm', '5 %')
    """
    if math.isnan(value):
        return "not a number"
    if math.isinf(value):
        return "infinite" if value > 0 else "minus infinite"
    kind = UNITS.get(unit)
    if kind is None or value == 0.0:
        # Prefixed steps are pointless at nothing: 0 V, but lengths stay in millimetres.
        label = "mm" if unit == "m" else unit
        return f"{_figures(Decimal(repr(float(value) + 0.0)), digits)} {label}".rstrip()
    exact = _rounded(Decimal(repr(float(value))), digits)
    label = next(text for least, text in kind.steps if abs(exact) >= Decimal(repr(least)))
    scale = SUFFIXES[unit][label]
    if isinstance(scale, int):
        scaled = exact.scaleb(-scale)
    else:
        scaled = Decimal(repr(float(value))) / (Decimal(scale.numerator) / scale.denominator)
    return f"{_figures(scaled, digits, kind.trailing_zeros)} {label}"


def _bounded(text: str, longest: int, expected: str) -> str:
    if len(text) > longest:
        raise QuantityError(text, f"{expected}, in at most {longest} characters")
    given = text.strip(" ").translate(_SAME)
    if not given:
        raise QuantityError(text, expected)
    return given


def _decimal(given: str, kind: Unit) -> float | None:
    match = _DECIMAL.fullmatch(given)
    if match is None:
        return None
    sign, number, exponent, ending = match.groups()
    ending = ending or ""
    if kind.symbol == "degC" and ending in ("degF", "°F"):
        return float((Fraction(sign + number) - 32) / Fraction(9, 5))
    scale = SUFFIXES[kind.symbol].get(ending)
    if scale is None:
        return None
    if isinstance(scale, Fraction):
        return float(Fraction(sign + number) * scale)
    mantissa = number[: -len(exponent) - 1] if exponent else number
    return float(f"{sign}{mantissa}e{int(exponent or 0) + scale}")


def _with_letter(given: str, kind: Unit) -> float | None:
    match = _LETTER.fullmatch(given)
    if match is None:
        return None
    sign, whole, letter, rest, ending = match.groups()
    if letter not in kind.letters or (not whole and letter not in kind.leading):
        return None
    if ending is not None and ending not in kind.spellings:
        return None
    return float(f"{sign}{whole}.{rest}e{kind.letters[letter]}")


def _fraction(given: str, kind: Unit) -> float | None:
    match = _FRACTION.fullmatch(given)
    if match is None:
        return None
    sign, whole, top, bottom, ending = match.groups()
    scale = SUFFIXES[kind.symbol].get(ending)
    if scale is None or int(bottom) == 0:
        return None
    part = Fraction(int(top), int(bottom))
    if whole is not None:
        if not kind.mixed or part >= 1:
            return None
        part += int(whole)
    factor = scale if isinstance(scale, Fraction) else Fraction(10) ** scale
    return float(-part * factor if sign == "-" else part * factor)


def _is_number(piece: str) -> bool:
    return re.fullmatch(r"[0-9.]{1,12}", piece) is not None


def _shared_ending(pieces: list[str], unit: str, text: str) -> str:
    """What the last section says for the ones before it: " ohm" of "120 + 125 ohm"."""
    last = re.fullmatch(r"[0-9.]{1,12}( ?[^0-9. +-].{0,15})?", pieces[-1])
    ending = (last[1] or "") if last else ""
    if len(pieces) == 1 or not any(_is_number(piece) for piece in pieces[:-1]):
        return ""
    kind = UNITS[unit]
    if ending and not ending.strip().endswith(kind.spellings):
        # "120+1k": the builder may mean 120 ohm or 120 kohm.
        raise QuantityError(text, f"each section with its own unit, such as {kind.examples[0]}")
    return ending


def _section(piece: str, unit: str, text: str, expected: str) -> float:
    try:
        return parse(piece, unit)
    except QuantityError as error:
        advice = error.expected if "+" not in text and "-" not in text else expected
        raise QuantityError(text, advice) from None


def _advice(given: str, kind: Unit) -> str:
    """The sentence that helps most with a text that was refused."""
    expected = kind.expected
    if not given.isascii() and any(c.isdigit() and not c.isascii() for c in given):
        return f"{expected}, in the digits 0 to 9"
    if "," in given:
        return f"{expected}; the decimal sign is a point and thousands are not separated"
    if re.match(r"[+-]?[0-9.]+ +[0-9.]", given):
        return f"{expected}; no space inside the number"
    if kind.symbol == "F" and (_MICROFARADS.fullmatch(given) or given[-1:] == "m"):
        return f'{expected}; microfarads are written "uF" (old prints use m, mf and mfd for them)'
    bare = re.fullmatch(r"[+-]?[0-9]{0,12}\.?[0-9]{0,12} ?([A-Za-z]?)", given)
    if bare and bare[1] == "m" and kind.symbol == "ohm":
        return f'{expected}; write "1M" for a megohm, "1 mohm" for a milliohm'
    if bare and bare[1] == "":
        return f"{expected}; the unit is missing"
    return expected + _meant(given, kind)


def _meant(given: str, kind: Unit) -> str:
    """Names the quantity the text would be elsewhere, or the unit in its right capitals."""
    match = _DECIMAL.fullmatch(given)
    if match is None:
        return ""
    ending = match[4] or ""
    # M and m are never traded for one another: they differ by a factor of a thousand million.
    same = [text for text in SUFFIXES[kind.symbol] if text.casefold() == ending.casefold()]
    if ending and len(same) == 1 and ending[0] not in "Mm":
        return f'; capitals matter, write "{same[0]}"'
    for other in UNITS.values():
        if other is not kind and ending in SUFFIXES[other.symbol]:
            return f"; this reads as {other.what}"
    return ""


def _rounded(number: Decimal, digits: int) -> Decimal:
    return Decimal(f"{number:.{digits - 1}e}")


def _figures(number: Decimal, digits: int, trailing_zeros: bool = False) -> str:
    """``number`` to ``digits`` figures without an exponent while it fits twelve places."""
    rounded = _rounded(number, digits)
    if rounded and not -9 <= rounded.adjusted() <= 11:
        mantissa = f"{rounded.scaleb(-rounded.adjusted()).normalize():f}"
        return f"{mantissa}e{rounded.adjusted()}"
    plain = f"{rounded:f}"
    if (trailing_zeros and rounded) or "." not in plain:
        return plain
    return plain.rstrip("0").rstrip(".")
