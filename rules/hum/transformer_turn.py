"""Output transformers that a turn by a right angle would quieten."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    StrayFields,
    Verdicts,
    cite,
    kinds,
    limit,
    metre,
    rule,
    volt,
)

WORTH = 0.5
"""Of the voltage as drawn, that is left after a turn worth the trouble: our choice."""


@rule(
    title="An output transformer stands the wrong way round to a mains transformer",
    harm=Harm.UNDERPERFORMS,
    why="""
        The stray field of a mains transformer goes through the iron of an output transformer and
        hums in the loudspeaker with every tube pulled. It falls with the cube of the distance, and
        with the coils at right angles and one on the other's axis it all but vanishes. How strong
        the field is differs from unit to unit; by which turn it is least does not.
    """,
    sources=[cite("dipole"), cite("ground-loop"), cite("stray-output")],
)
def transformer_turn(design: Design, stray: StrayFields) -> Verdicts:
    most = limit("stray-output")
    wanted = list(design.of(kinds.OutputTransformer))
    for part in wanted:
        felt = [p for p in stray.of_mains if p.victim == part.ref and p.turned is not None]
        if not felt:
            continue
        spec = part.spec
        ratio = (float(spec.secondary.taps[-1]) / spec.primary.impedance) ** 0.5
        drawn = Figure(sum(p.volts for p in felt) * ratio, "V")
        turned = sum(p.turned or 0.0 for p in felt) * ratio
        rests_on = tuple(datum for p in felt for datum in p.rests_on)
        if drawn.value <= most.figure.value or turned >= WORTH * drawn.value:
            yield Pass(part.subject, drawn, most, rests_on=rests_on)
            continue
        near = max(felt, key=lambda p: p.volts)
        seat = part.seat.turn if part.seat is not None else 0.0
        yield Fail(
            about=part.subject,
            says=f"{part.ref} has {volt(drawn.value)} of hum induced in it, as its secondary sees"
            f" it, by {near.source}, {metre(near.metres)} away",
            remedy=f"turn {part.ref} by a right angle, to {(seat + 90.0) % 180.0:g} degrees, which"
            f" leaves {volt(turned)}, or else {near.source}",
            value=drawn,
            limit=most,
            others=tuple(design.parts[p.source].subject for p in felt),
            working=(*dict.fromkeys(w for p in felt for w in p.working), f"x {ratio:.2g} of turns"),
            rests_on=rests_on,
        )
    wound = {p.subject for p in design.of(kinds.OutputTransformer, kinds.MainsTransformer)}
    for gap in stray.lacks:
        if wanted and (gap.about is None or gap.about in wound):
            yield Open(gap.about or design.subject, gap.datum, gap.where)
