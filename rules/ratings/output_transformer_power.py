"""Output transformers that are given more power than they are made for."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    FullDrive,
    Harm,
    Open,
    Pass,
    Ratings,
    Verdicts,
    cite,
    kinds,
    known,
    rule,
    watt,
)


@rule(
    title="An output transformer is given more power than it is made for",
    harm=Harm.UNDERPERFORMS,
    why="""
        Its rated power is what the core takes at the lowest frequency it is made for: the flux goes
        with the voltage and with one over the frequency. Beyond, the bass clips in the iron and
        loads the tubes as a short does, while the middle of the band still sounds clean. What is
        counted is what it hands on at clipping.
    """,
    sources=[cite("part-rating"), cite("transformer-power")],
    states=("driven to clipping, mains nominal",),
)
def output_transformer_power(design: Design, ratings: Ratings, full: FullDrive) -> Verdicts:
    for part in design.of(kinds.OutputTransformer):
        fed = [out for out in full.outputs if {out.a, out.b} <= set(part.ends.values())]
        if not fed:
            continue
        rating = known(ratings.stated, part, "power", "W", "rated power")
        if isinstance(rating, Open):
            yield rating
            continue
        most, drive = rating.figure.value, full.high
        heard = [out.ref for out in fed if out.ref in drive.output_watts]
        if not heard:
            continue
        if sum(drive.output_watts[ref] for ref in heard) > most:
            drive = full.nominal
        state, given = drive.clipping.name, sum(drive.output_watts[ref] for ref in heard)
        value = Figure(given, "W")
        if given <= most:
            yield Pass(part.subject, value, rating, state, full.rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"{part.ref} hands on {watt(given)} at clipping, rated {watt(most)}",
            remedy=f"a transformer for {watt(given)} or more; this one is full at"
            f" {(given / most) ** 0.5:.2g} times its lowest frequency",
            value=value,
            limit=rating,
            state=state,
            rests_on=full.rests_on,
        )
