"""The one table that turns a kind of harm, and how far the limit is passed, into a signal word."""

from __future__ import annotations

from coldcheck.lint.model import Basis, Fail, Harm, Signal

# Each row: (past the limit by at least this factor, signal word), mildest first.  A factor below
# 1 is a breach of margin only: the trade's practice is broken, the rating itself is not.
# 6.25 = 2.5 squared: IEC 60115-1 short-time overload test is 2.5 x rated voltage for 5 s (from
# memory); past that power no film resistor is even tested, and it chars what is around it.
SIGNAL_WORDS: dict[Harm, tuple[tuple[float, Signal], ...]] = {
    Harm.KILLS: ((0.0, Signal.DANGER),),
    Harm.FAULT_KILLS: ((0.0, Signal.WARNING),),
    Harm.OVERHEATS: ((0.0, Signal.NOTICE), (1.0, Signal.CAUTION), (6.25, Signal.WARNING)),
    Harm.WEARS: ((0.0, Signal.NOTICE), (1.0, Signal.CAUTION)),
    Harm.UNDERPERFORMS: ((0.0, Signal.NOTICE),),
    Harm.UNTIDY: ((0.0, Signal.NOTE),),
}


def signal_word(harm: Harm, exceeds: float | None) -> Signal:
    """The signal word for a harm when its limit is passed ``exceeds`` times (1.0 = at it).

    Without a number the harm is taken as fully there.
    """
    rows = SIGNAL_WORDS[harm]
    if exceeds is None:
        return next(word for least, word in reversed(rows) if least <= 1.0)
    return [word for least, word in rows if exceeds >= least or least == 0.0][-1]


def gravest(harm: Harm) -> Signal:
    """The gravest word this harm can lead to short of extremes (what an unjudged rule counts as)."""
    return signal_word(harm, None)


def exceedance(fail: Fail) -> float | None:
    """How many times past its limit a fail is, from its own numbers."""
    if fail.exceeds is not None or fail.value is None or fail.limit is None:
        return fail.exceeds
    value, limit = abs(fail.value.value), abs(fail.limit.figure.value)
    low, high = (limit, value) if fail.limit.most else (value, limit)
    if low == 0.0:
        return None if high == 0.0 else float("inf")
    return high / low


def rank(fail: Fail) -> float:
    """SARIF rank, 0 to 100: how far past the limit, taken down where the evidence is weak.

    1 x the limit ranks 50, 2 x ranks 75, 10 x ranks 95; no number ranks 90: it is a plain fact.
    """
    ratio = exceedance(fail)
    raw = 90.0 if ratio is None else 100.0 - 50.0 / max(ratio, 0.5)
    weak = any(datum.basis.weak for datum in fail.rests_on)
    if fail.limit is not None and fail.limit.source.basis in (Basis.MEMORY, Basis.ASSUMED):
        weak = True
    return round(raw * (0.8 if weak else 1.0), 1)
