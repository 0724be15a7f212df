"""What was computed, as text for a builder: tables of 80 columns that need no colour."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Iterable, Iterator

from coldcheck.lint.design import natural
from coldcheck.lint.model import Figure
from coldcheck.lint.printing import clean, figure
from coldcheck.lint.state.values import LEVELS, Table

COLUMNS = 80


def text(told: Table) -> str:
    """The values as text: a voltage chart first, then currents, start, discharge and faults.

    Tables have fixed columns and no line is longer than 80.
    """
    return "\n".join(_lines(told)) + "\n"


def _lines(told: Table) -> Iterator[str]:
    mains, warm = told["mains"], told["warm"]
    yield from _wrapped(f"Computed state of {told['project']}")
    yield (
        f"mains {_show(mains['volts'], 'V')} {_show(mains['hertz'], 'Hz')},"
        f" {_show(mains['tolerance'], '%')} either way"
    )
    for note in told["notes"]:
        yield from _wrapped(f"Remark: {note}")
    yield from _chart(warm)
    if all("not_computed" not in warm[level] for level in ("nominal", "high")):
        yield from _tubes(warm["nominal"], warm["high"])
        yield from _windings(warm["nominal"], warm["high"])
        yield from _resistors(warm["high"])
    yield from _section("Cold start, mains high: largest voltage on each capacitor")
    yield from _or_why(told["cold_start"], _cold_lines)
    yield from _section("Discharge after mains off, in the slowest state of switches and fuses")
    yield from _or_why(told["discharge"], _discharge_lines)
    yield from _section("Current in the primary with one part shorted, mains low")
    yield from _or_why(told["faults"], _fault_lines)


def _section(title: str) -> Iterator[str]:
    yield ""
    yield title
    yield "-" * len(title)


def _or_why(table: Table, lines: Callable[[Table], Iterator[str]]) -> Iterator[str]:
    if "not_computed" in table:
        yield from _wrapped(f"not computed: {table['not_computed']}")
    else:
        yield from lines(table)


def _wrapped(text: str, indent: str = "") -> list[str]:
    """A text of any length in lines that fit, the later ones set in."""
    return textwrap.wrap(
        clean(text), COLUMNS, initial_indent=indent, subsequent_indent=f"{indent}  "
    )


def _row(name: str, room: int, cells: Iterable[str]) -> Iterator[str]:
    """A line of a table; a name too long for its column has a line to itself."""
    name = clean(name)
    if len(name) >= room:
        yield from _wrapped(name)
        name = ""
    yield f"{name:<{room}}{''.join(cells)}".rstrip()


def _chart(warm: Table) -> Iterator[str]:
    yield from _section("Voltage chart, warm: dc to chassis, and ripple peak to peak at nominal")
    known = {level: warm[level] for level in LEVELS if "not_computed" not in warm[level]}
    why: dict[str, list[str]] = {}
    for level in LEVELS:
        if level not in known:
            why.setdefault(warm[level]["not_computed"], []).append(level)
    for reason, levels in why.items():
        yield from _wrapped(f"not computed, mains {', '.join(levels)}: {reason}")
    if "nominal" not in known:
        return
    yield f"{'net':<24}{'low':>12}{'nominal':>12}{'high':>12}{'ripple':>14}"
    for net in sorted(known["nominal"]["nets"], key=natural):
        entry = known["nominal"]["nets"][net]
        cells = [
            _volts(known[level]["nets"][net]["volts"]) if level in known else "-"
            for level in LEVELS
        ]
        ripple = _volts(entry["ripple_volts"])
        yield from _row(net, 24, (*(f"{cell:>12}" for cell in cells), f"{ripple:>14}"))
    for group in known["nominal"]["floating"]:
        yield from _wrapped(f"floats, taken as tied to the chassis: {', '.join(group)}")
    for weak in known["nominal"]["rests_on"]:
        yield from _wrapped(f"rests on {weak}")


def _tubes(nominal: Table, high: Table) -> Iterator[str]:
    if not nominal.get("tubes"):
        return
    yield from _section("Tubes: nominal volts to chassis; dissipation at mains high")
    head = f"{'tube':<8}{'plate':>10}{'screen':>10}{'grid':>10}{'cathode':>10}"
    yield head + f"{'plate':>11}{'plate':>9}{'screen':>9}"
    for name, entry in sorted(nominal["tubes"].items(), key=lambda item: natural(item[0])):
        hot = high["tubes"][name]
        cells = [
            _volts(entry["volts"].get(electrode))
            for electrode in ("plate", "screen", "grid", "cathode")
        ]
        screen = _show(hot["screen_watts"], "W") if "screen_watts" in hot else "-"
        volts = "".join(f"{cell:>10}" for cell in cells)
        amperes, watts = _amperes(entry["plate_amperes"]), _show(hot["plate_watts"], "W")
        yield from _row(name, 8, f"{volts}{amperes:>11}{watts:>9}{screen:>9}")


def _windings(nominal: Table, high: Table) -> Iterator[str]:
    if not high["windings"]:
        return
    yield from _section("Winding currents")
    yield f"{'winding':<24}{'rms nominal':>14}{'rms high':>14}{'peak high':>14}"
    for name, entry in high["windings"].items():
        before = nominal["windings"][name]["rms_amperes"]
        cells = (before, entry["rms_amperes"], entry["peak_amperes"])
        yield from _row(name, 24, (f"{_amperes(cell):>14}" for cell in cells))


def _resistors(high: Table) -> Iterator[str]:
    cells = [
        f"{ref} {_show(watts, 'W')}"
        for ref, watts in sorted(high["resistor_watts"].items(), key=lambda item: natural(item[0]))
        if watts >= 1e-3
    ]
    if cells:
        yield from _section("Resistor dissipation, warm, mains high")
    for at in range(0, len(cells), 4):
        yield "".join(f"{cell:<20}" for cell in cells[at : at + 4]).rstrip()


def _cold_lines(table: Table) -> Iterator[str]:
    for ref, entry in table["capacitors"].items():
        rated = entry["rated_volts"]
        against = f"rated {_show(rated, 'V')}" if rated is not None else "rating not stated"
        yield from _row(ref, 8, f"{_volts(entry['peak_volts']):>10}   {against}")


def _discharge_lines(table: Table) -> Iterator[str]:
    yield f"{'':<8}{'from':>9}{'energy':>10}{'to 50 V':>11}{'after 60 s':>12}   slowest state"
    for ref, entry in table["capacitors"].items():
        wait = entry["seconds_to_50_volts"]
        cells = (
            f"{_volts(abs(entry['start_volts'])):>9}",
            f"{_show(entry['joules'], 'J') if entry['joules'] > 1e-6 else '0 J':>10}",
            f"{_show(math.inf if wait is None else wait, 's'):>11}",
            f"{_volts(entry['volts_after_60_seconds']):>12}",
        )
        state = entry["slowest_state"] if wait is None or wait > 0 else "never above 50 V"
        fits = len(clean(state)) <= 27
        yield from _row(ref, 8, (*cells, f"   {clean(state)}") if fits else cells)
        if not fits:
            yield from _wrapped(state, indent=" " * 8)


def _fault_lines(table: Table) -> Iterator[str]:
    for name, case in table["cases"].items():
        flows = [f"{_show(amps, 'A')} in {ref}" for ref, amps in case["primary_amperes"].items()]
        yield from _wrapped(f"{name}: {', '.join(flows)}")
        for line in case["by_hand"]:
            yield from _wrapped(line, indent="  ")


def _volts(volts: float | None) -> str:
    """Volts, numerical noise read as zero; a dash where there is no such net or electrode."""
    if volts is None:
        return "-"
    return _show(0.0 if abs(volts) < 5e-7 else volts, "V")


def _amperes(amperes: float) -> str:
    """Amperes, numerical noise read as zero."""
    return _show(0.0 if abs(amperes) < 1e-9 else amperes, "A")


def _show(value: float, unit: str) -> str:
    return figure(Figure(value, unit))
