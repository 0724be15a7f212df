"""What was computed, as text for a builder: tables of 80 columns that need no colour."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping

from coldcheck.lint.design import natural
from coldcheck.lint.model import Figure
from coldcheck.lint.printing import clean, figure
from coldcheck.lint.state import signal_text
from coldcheck.lint.state.values import LEVELS, Table

COLUMNS = 80
STANDS = 20.0
"""Volts from which a net is told of in the states beside the warm one; our choice."""
LEAST_DC = 1e-3
"""Volts of dc below which a chart says 0: what is left is a filament's own; our choice."""
NO_PIN = ("nc", "internal")


def text(told: Table) -> str:
    """The values as text: the voltage chart by tube pin and net first, then state by state.

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
        yield from _wrapped(note)
    yield from _chart(told)
    if all("not_computed" not in warm[level] for level in ("nominal", "high")):
        yield from _tubes(told)
        yield from _windings(told)
        yield from _resistors(warm["high"])
    chapters: tuple[tuple[str, str, Callable[[Table], Iterator[str]]], ...] = (
        ("full_drive", "Driven to clipping, below and beyond, mains high: the worst", _driven),
        ("signal", "Small signal, mains nominal, controls as they stand", signal_text.small),
        ("level_plan", "Level plan, mains nominal", signal_text.plan),
        ("distortion", "Distortion up to clipping, mains nominal", signal_text.distortion),
        ("hum", "Hum, mains nominal, no signal, rms", signal_text.hum),
        ("cold_start", "Cold start, mains high: largest voltage on each capacitor", _cold),
        ("inrush", "Inrush, mains high", _inrush),
        ("warming_up", "Warming up, mains high: share of the emission", _others),
        ("standings", "Other standings of the switches", _others),
        ("pulled", "One tube pulled", _others),
        ("bias", "Bias supply failed", _others),
        (
            "discharge",
            "Discharge after mains off, in the slowest state of switches and fuses",
            _discharge,
        ),
        ("faults", "Current in the primary with one part shorted, mains low", _faults),
    )
    for key, title, lines in chapters:
        if told[key]:
            yield from _section(title)
            yield from _or_why(told[key], lines)


def _section(title: str) -> Iterator[str]:
    yield ""
    yield title
    yield "-" * len(title)


def _or_why(table: Table, lines: Callable[[Table], Iterator[str]]) -> Iterator[str]:
    if "not_computed" in table:
        yield from _wrapped(f"not computed: {table['not_computed']}")
    else:
        yield from lines(table)


def _wrapped(said: str, indent: str = "") -> list[str]:
    """A text of any length in lines that fit, the later ones set in."""
    return textwrap.wrap(
        clean(said), COLUMNS, initial_indent=indent, subsequent_indent=f"{indent}  "
    )


def _row(name: str, room: int, cells: Iterable[str]) -> Iterator[str]:
    """A line of a table; a name too long for its column has a line to itself."""
    name = clean(name)
    if len(name) >= room:
        yield from _wrapped(name)
        name = ""
    yield f"{name:<{room}}{''.join(cells)}".rstrip()


# -- the voltage chart ---------------------------------------------------------------------------


def _chart(told: Table) -> Iterator[str]:
    yield from _section("Voltage chart, warm: dc to chassis, and where 9 builds in 10 lie")
    warm = told["warm"]
    known = {level: warm[level] for level in LEVELS if "not_computed" not in warm[level]}
    why: dict[str, list[str]] = {}
    for level in LEVELS:
        if level not in known:
            why.setdefault(warm[level]["not_computed"], []).append(level)
    for reason, levels in why.items():
        yield from _wrapped(f"not computed, mains {', '.join(levels)}: {reason}")
    if "nominal" not in known:
        return
    bands = told["builds"].get("nets", {})
    if not bands:
        yield from _wrapped(f"no builds: {told['builds']['not_computed']}")
    seen: set[str] = set()
    head = f"{'low':>10}{'nominal':>10}{'high':>10}   {'9 builds in 10':<18}"
    for ref, tube in sorted(told["tubes"].items(), key=lambda item: natural(item[0])):
        yield ""
        title = f"{ref}, {tube['type']}"
        yield f"{clean(title):<29}{head}".rstrip()
        for pin, entry in tube["pins"].items():
            net, electrode = entry["net"], entry["electrode"].replace("_", " ")
            if entry["electrode"] in NO_PIN and net is None:
                continue
            at = f"  {pin:>2} {electrode}"
            if net is None:
                yield from _row(f"{at}, left open", 29, ())
                continue
            seen.add(net)
            yield from _row(at, 29, _cells(net, known, bands))
    yield ""
    yield f"{'net':<20}{head}{'ripple':>9}"
    for net in sorted(known["nominal"]["nets"], key=natural):
        ripple = _volts(known["nominal"]["nets"][net]["ripple_volts"])
        yield from _row(net, 20, (*_cells(net, known, bands), f"{ripple:>9}"))
    for group in known["nominal"]["floating"]:
        yield from _wrapped(f"floats, taken as tied to the chassis: {', '.join(group)}")
    for weak in dict.fromkeys([*known["nominal"]["rests_on"], *told["builds"].get("rests_on", ())]):
        yield from _wrapped(f"rests on {weak}")


def _cells(net: str, known: Mapping[str, Table], bands: Table) -> list[str]:
    """Low, nominal and high, and the band of builds, in 51 columns."""
    cells = [
        f"{_dc(known[level]['nets'][net]['volts']) if level in known else '-':>10}"
        for level in LEVELS
    ]
    return [*cells, f"   {_between(bands.get(net)):<18}"]


def _between(band: list[float] | None) -> str:
    """ "245 to 268 V"; nothing where the band is all rounding."""
    if band is None or max(map(abs, band)) < LEAST_DC:
        return ""
    low, high = (_dc(edge) for edge in band)
    alike = low.split()[-1] == high.split()[-1]
    return f"{low.split()[0] if alike else low} to {high}"


# -- what parts carry ----------------------------------------------------------------------------


def _tubes(told: Table) -> Iterator[str]:
    high, driven = told["warm"]["high"]["tubes"], told["full_drive"]
    if not high:
        return
    yield from _section("Tubes: current, and dissipation against rating, mains high")
    yield f"{'tube':<8}{'plate':>10}{'idle':>10}{'driven':>10}{'rated':>9}" + (
        f"{'screen':>10}{'driven':>10}{'rated':>9}"
    )
    for name, entry in sorted(high.items(), key=lambda item: _section_order(item[0])):
        rated = told["ratings"].get(name, {})
        cells = [f"{_amperes(entry['plate_amperes']):>10}"]
        for key, room in (("plate_watts", 10), ("screen_watts", 10)):
            if key not in entry:
                continue
            worst = driven.get(key, {}).get(name, {}).get("value")
            figures = (entry[key], worst, rated.get(key))
            rooms = (room, 10, 9)
            cells += [
                f"{'-' if watts is None else _show(watts, 'W'):>{width}}"
                for watts, width in zip(figures, rooms, strict=True)
            ]
        yield from _row(name, 8, cells)


def _section_order(name: str) -> tuple[object, str]:
    """V1.1 before V2: by the tube, then by its section."""
    ref, _, section = name.partition(".")
    return natural(ref), section


def _windings(told: Table) -> Iterator[str]:
    nominal, high = told["warm"]["nominal"]["windings"], told["warm"]["high"]["windings"]
    if not high:
        return
    yield from _section("Winding currents")
    yield f"{'winding':<22}{'rms nominal':>14}{'rms high':>14}{'peak high':>14}{'rms driven':>14}"
    driven = told["full_drive"].get("windings", {})
    for name, entry in high.items():
        before = nominal[name]["rms_amperes"]
        figures = (before, entry["rms_amperes"], entry["peak_amperes"], driven.get(name))
        cells = ("-" if amps is None else _amperes(amps) for amps in figures)
        yield from _row(name, 22, (f"{cell:>14}" for cell in cells))


def _resistors(high: Table) -> Iterator[str]:
    watts = {ref: _show(w, "W") for ref, w in high["resistor_watts"].items() if w >= 1e-3}
    amps = {r: _amperes(a) for r, a in high["capacitor_ripple_amperes"].items() if a >= 1e-3}
    for title, figures in (
        ("Resistor dissipation, warm, mains high", watts),
        ("Capacitor ripple current, rms, warm, mains high", amps),
    ):
        cells = [f"{ref} {figures[ref]}" for ref in sorted(figures, key=natural)]
        if cells:
            yield from _section(title)
        for at in range(0, len(cells), 4):
            yield "".join(f"{cell:<20}" for cell in cells[at : at + 4]).rstrip()


def _driven(table: Table) -> Iterator[str]:
    peak = _volts(table["input_peak_volts"])
    yield f"clips with {peak} peak at the input, controls as they stand"
    for ref, watts in table["output_watts"].items():
        yield from _wrapped(f"{_show(watts, 'W')} into the load at {ref}, clipping")
    for key, what in (("plate_watts", "plate"), ("screen_watts", "screen")):
        for name, worst in table[key].items():
            said = f"{_show(worst['value'], 'W'):>9}   {worst['state'].rpartition(', ')[0]}"
            yield from _row(f"{name} {what}", 16, (said,))


def _cold(table: Table) -> Iterator[str]:
    for ref, entry in table["capacitors"].items():
        rated = entry["rated_volts"]
        against = f"rated {_show(rated, 'V')}" if rated is not None else "rating not stated"
        yield from _row(ref, 8, f"{_volts(entry['peak_volts']):>10}   {against}")
    for name, amps in table["surge_amperes"].items():
        yield from _row(name, 12, f"{_amperes(amps):>6}   largest current at switch-on")


def _inrush(table: Table) -> Iterator[str]:
    span = _show(table["seconds"], "s")
    for ref, amps in table["fuses"].items():
        yield from _row(ref, 8, f"{_amperes(amps):>10}   rms over the first {span}")
    for said in table["taken"]:
        yield from _wrapped(said)


def _others(table: Table) -> Iterator[str]:
    """States beside the warm one: each with its supply voltages and what its plates dissipate."""
    for name, state in table.items():
        volts = {net: v for net, v in state["nets"].items() if abs(v) >= STANDS}
        highest = sorted(volts, key=lambda net: (-abs(volts[net]), natural(net)))[:6]
        said = [f"{net} {_volts(volts[net])}" for net in highest]
        plates = sorted(state["plate_watts"], key=_section_order)
        said += [f"{tube} {_show(state['plate_watts'][tube], 'W')}" for tube in plates]
        yield from _wrapped(f"{name}: {', '.join(said) or 'nothing'}")


def _discharge(table: Table) -> Iterator[str]:
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


def _faults(table: Table) -> Iterator[str]:
    for name, case in table["cases"].items():
        flows = [f"{_show(amps, 'A')} in {ref}" for ref, amps in case["primary_amperes"].items()]
        yield from _wrapped(f"{name}: {', '.join(flows)}")
        for line in case["by_hand"]:
            yield from _wrapped(line, indent="  ")


# -- figures -------------------------------------------------------------------------------------


def _volts(volts: float | None) -> str:
    """Volts, numerical noise read as zero; a dash where there is no such net or electrode."""
    if volts is None:
        return "-"
    return _show(0.0 if abs(volts) < 5e-7 else volts, "V")


def _dc(volts: float | None) -> str:
    return _volts(0.0 if volts is not None and abs(volts) < LEAST_DC else volts)


def _amperes(amperes: float) -> str:
    """Amperes, numerical noise read as zero."""
    return _show(0.0 if abs(amperes) < 1e-9 else amperes, "A")


def _show(value: float, unit: str) -> str:
    return figure(Figure(value, unit))
