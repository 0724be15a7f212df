"""Small signal, level plan and distortion, as lines of at most 80 columns."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from coldcheck.lint.model import Figure
from coldcheck.lint.printing import figure

Table = dict[str, Any]
LEAST = 1e-4
"""Share below which a harmonic is not told: capacitors and iron that are held ideal add as much."""
CUT = 0.02
"""Share of a tube's mean current below which it is said to be cut off; our choice."""
SILENT = 1e-5
"""Ripple's way to an output below which it is not told: 100 dB down; our choice."""
FAINT = 0.01
"""Share of all hum below which a cause is only counted; our choice."""
WORDS = {"connected": "loudspeaker connected", "open": "none connected", "capacitive": "0.1 uF"}


def small(told: Table) -> Iterator[str]:
    """One block an output: gain, band, impedances, feedback with its margins."""
    yield f"the source sees {_show(told['input_ohms'], 'ohm')} at 1 kHz"
    if told["high_lacks"] is not None:
        yield f"nothing is said of high frequencies without {told['high_lacks']}"
    for name, out in told["outputs"].items():
        gain = f"{_show(out['gain'], '')} times, {20.0 * math.log10(out['gain']):.1f} dB"
        low = _show(out["low_hertz"], "Hz") if out["low_hertz"] else "dc"
        high = f" to {_show(out['high_hertz'], 'Hz')}" if out["high_hertz"] else " up"
        inverted = ", inverted" if out["inverts"] else ""
        yield f"{name}: {gain}{inverted}; 3 dB down from {low}{high}"
        damping = f", damping {out['damping']:.3g}" if out["damping"] is not None else ""
        yield f"  behind it {_show(out['ohms'], 'ohm')}{damping}"
        for back in out["feedback"]:
            yield from _feedback(back)
    for net, heard in told["supply"].items():
        for name, times in heard.items():
            if times >= SILENT:
                decibels = -20.0 * math.log10(times)
                yield f"a volt of ripple at {net} is {_show(times, 'V')} at {name}, {decibels:.0f} dB down"
    yield "stage      at its grid      after it, for 1 V of the source"
    for stage, found in told["stages"].items():
        yield f"{stage:<11}{_show(found['grid'], 'V'):<17}{_show(found['output'], 'V')}"


def _feedback(back: Table) -> Iterator[str]:
    kind = "positive" if back["positive"] else "negative"
    where = "from the output" if back["overall"] else "within a stage"
    parts = ", ".join(back["parts"])
    yield f"  {kind} feedback {where} by {parts}, {back['decibels']:.1f} dB"
    for loading, found in back["margins"].items():
        words = [f"{f['degrees']:.0f} deg at {_show(f['hertz'], 'Hz')}" for f in found["phase"]]
        words += [f"{f['decibels']:.0f} dB at {_show(f['hertz'], 'Hz')}" for f in found["gain"]]
        yield f"    {WORDS[loading]}: {'; '.join(words) or 'never 1, never turned round'}"


def plan(told: Table) -> Iterator[str]:
    """Whether the source drives it to full power, and where the volume ends up."""
    needs, level = _show(told["sensitivity_volts"], "V"), _show(told["source_volts"], "V")
    yield f"clips with {needs} rms at its input, the volume turned up; the source gives {level}"
    if not told["loaded"]:
        given, most = (_show(told[k], "V") for k in ("output_volts", "clipping_output_volts"))
        yield f"turned up it gives {given} rms from that, and {most} before it clips"
    elif told["spare"] < 1.0:
        yield f"that is {1.0 / told['spare']:.3g} times too little: it needs more gain ahead of it"
    elif told["control_place"] is not None:
        controls = " and ".join(told["controls"])
        yield f"full power is reached with {controls} at {told['control_place']:.0%} of the track"
    else:
        yield f"that is {told['spare']:.3g} times enough"


def distortion(told: Table) -> Iterator[str]:
    """Harmonics in per cent of the fundamental, by share of the clipping amplitude."""
    yield "of clipping        volts      watts      2nd      3rd      4th      5th"
    for name, rows in told["outputs"].items():
        yield name
        for row in rows:
            watts = _show(row["watts"], "W") if row["watts"] is not None else ""
            shares = row["harmonics"] or []
            cells = "".join(f"{_per_cent(share):>9}" for share in shares)
            yield f"  {row['share']:<10.0%}{_show(row['volts'], 'V'):>12}{watts:>11}{cells}"
    yield "at clipping     swing, p-p   grid, most   plate, least  current, least"
    for stage, end in told["stages"].items():
        words = [_show(end[k], "V") for k in ("swing_volts", "grid_peak_volts")]
        words.append(_show(end["least_plate_volts"], "V"))
        yield f"  {stage:<12}{words[0]:>12}{words[1]:>13}{words[2]:>15}{_ends(end):>16}"


def _ends(end: Table) -> str:
    """The least current as a share of its mean, or that there is none."""
    share = end["least_current_share"]
    return f"{share:.0%}" if share >= CUT else "cut off"


def hum(told: Table) -> Iterator[str]:
    """The causes at each output, the largest first, and what would halve the whole."""
    for name, out in told["outputs"].items():
        yield f"{name}: {_show(out['volts'], 'V')} in all, as squares add{_loudness(out)}"
        loud = [c for c in out["causes"] if c["volts"] >= FAINT * out["volts"]]
        for cause in loud:
            yield f"  {_show(cause['volts'], 'V'):<11}{cause['name']}"
        if len(loud) < len(out["causes"]):
            yield f"  and {len(out['causes']) - len(loud)} causes below a hundredth of it"
        if not loud:
            continue
        if out["halving"] is not None:
            yield f"  half of it with {out['halving']:.0%} of the {loud[0]['name']} left:"
        else:
            yield f"  no one change halves it; most comes of the {loud[0]['name']}:"
        yield f"    {loud[0]['change']}"
    for gap in told["lacks"]:
        yield f"something is left out without {gap}"
    for datum in told["rests_on"]:
        yield f"rests on {datum}"


def _loudness(out: Table) -> str:
    """Below full power, and at the listener's place."""
    words = ""
    if out["decibels_below_full_power"] is not None:
        words += f", {out['decibels_below_full_power']:.0f} dB below full power"
    if out["decibels_spl"] is not None:
        words += f", {out['decibels_spl']:.0f} dB SPL at {out['metres'] or 1.0:g} m"
    return words


def _per_cent(share: float) -> str:
    return f"{100.0 * share:.2g} %" if share >= LEAST else f"<{100.0 * LEAST:g} %"


def _show(number: float, unit: str) -> str:
    return figure(Figure(number, unit))
