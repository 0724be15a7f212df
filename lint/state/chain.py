"""Two projects one behind the other: does the first suit the second, and where is the volume set."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from coldcheck.lint.engine.study import Study
from coldcheck.lint.facts.level_plan import LevelPlan
from coldcheck.lint.facts.signal import Signal
from coldcheck.lint.model import Figure, Missing
from coldcheck.lint.printing import clean, figure

Table = dict[str, Any]
COLUMNS = 80
BRIDGING = 10.0
"""Times its own that the impedance after a stage should have: a loss of 0.8 dB; common practice,
no source."""


def chain(first: Study, second: Study) -> Table:
    """What the first project gives and the second needs, volts rms, in SI units.

    Raises Missing, NotSolved and NothingToJudge as the facts of either do, and Missing where the
    first drives a loudspeaker.
    """
    ahead, signal = first.get("LevelPlan"), first.get("Signal")
    after, entry = second.get("LevelPlan"), second.get("Signal")
    assert isinstance(ahead, LevelPlan)
    assert isinstance(signal, Signal)
    assert isinstance(after, LevelPlan)
    assert isinstance(entry, Signal)
    out = signal.outputs[0]
    if out.load is not None:
        what = (
            f"an output of the first project that is for another amplifier: {out.ref} is for a"
            " loudspeaker or headphones"
        )
        raise Missing(what, ("parts", out.ref))
    behind, into = signal.output_ohms(out), entry.input_ohms()
    left = into / (into + behind)
    gain = abs(signal.gain(out, full=True)) * left
    needs = after.sensitivity
    return {
        "first": first.get("Design").document.project.name,
        "second": second.get("Design").document.project.name,
        "source_volts": ahead.level,
        "gain": gain,
        "output_ohms": behind,
        "input_ohms": into,
        "most_volts": ahead.sensitivity * gain,
        "given_volts": min(ahead.level, ahead.sensitivity) * gain,
        "needs_volts": needs,
        "alone": after.level / needs,
        "controls": list(ahead.controls),
        "control_place": ahead.place_of(needs / (ahead.level * gain)) if ahead.controls else None,
    }


def text(told: Table) -> str:
    """The same in sentences, no line longer than 80."""
    return "\n".join(line for said in _sentences(told) for line in _wrapped(said)) + "\n"


def _sentences(told: Table) -> Iterator[str]:
    first, second = told["first"], told["second"]
    needs, most = told["needs_volts"], told["most_volts"]
    given, level = told["given_volts"], told["source_volts"]
    yield f"{first} ahead of {second}, mains nominal"
    yield (
        f"{second} needs {_volt(needs)} rms for full power. {first} gives up to {_volt(most)} before"
        f" it clips: {most / needs:.3g} times what {second} can use."
    )
    if most < needs:
        yield f"{first} clips before {second} does: full power is not to be had from it."
    if given < needs:
        yield (
            f"From a source of {_volt(level)} it gives {_volt(given)} turned up: {needs / given:.3g}"
            f" times too little."
        )
    elif told["control_place"] is not None:
        controls = " and ".join(told["controls"])
        yield (
            f"From a source of {_volt(level)} full power is reached with {controls} at"
            f" {told['control_place']:.0%} of the track."
        )
    if told["alone"] >= 1.0:
        yield (
            f"{second} does not need {first}: a source of {_volt(told['alone'] * needs)}, as its own"
            f" document has, drives it to full power, {told['alone']:.3g} times over."
        )
    behind, into = told["output_ohms"], told["input_ohms"]
    enough = into >= BRIDGING * behind
    yield (
        f"Behind {first} are {_ohm(behind)}, into {second} {_ohm(into)}: {into / behind:.3g} times as"
        f" much{'' if enough else f', and {BRIDGING:g} times is usual (common practice, no source)'}."
    )


def _wrapped(said: str) -> list[str]:
    return textwrap.wrap(clean(said), COLUMNS, subsequent_indent="  ")


def _volt(number: float) -> str:
    return figure(Figure(number, "V"))


def _ohm(number: float) -> str:
    return figure(Figure(number, "ohm"))
