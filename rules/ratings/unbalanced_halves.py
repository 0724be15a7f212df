"""Push-pull transformers whose halves may carry more unlike currents than the core bears."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    FixedBias,
    Harm,
    Open,
    Pass,
    Ratings,
    Spread,
    Stages,
    Verdicts,
    Warm,
    amp,
    cite,
    kinds,
    known,
    limit,
    rule,
)


@rule(
    title="The halves of a push-pull transformer may carry unlike currents",
    harm=Harm.UNDERPERFORMS,
    why="""
        A push-pull core has no gap, and what one half carries more than the other magnetises it:
        the bass distorts long before anything is hot. On paper the halves are alike. Tubes of a type
        are not: unless they are sold as a matched set, or each has a preset of its own, many
        builds of a clean drawing come out beyond what the core bears.
    """,
    sources=[cite("part-rating"), cite("builds")],
    states=("a thousand builds",),
)
def unbalanced_halves(
    design: Design, ratings: Ratings, stages: Stages, bias: FixedBias, warm: Warm, spread: Spread
) -> Verdicts:
    few = limit("builds").figure.value
    for part in design.of(kinds.OutputTransformer):
        ends = part.net("primary.1"), part.net("primary.2")
        one, other = ([s for s in stages.amplifying if s.plate == net] for net in ends)
        if not part.spec.centre_tap or not one or not other:
            continue
        bound = known(ratings.stated, part, "primary.current", "A", "dc its primary is made for")
        if isinstance(bound, Open):
            continue  # asked for by what holds it against the drawing itself
        most = bound.figure.value
        drawn = abs(
            sum(warm.high.mean_amperes(s.name) for s in one)
            - sum(warm.high.mean_amperes(s.name) for s in other)
        )
        sides = {s.name for s in one}, {s.name for s in other}
        trims = [{s.name for s in preset.stages} for preset in bias.presets]
        if drawn > most or any(
            bool(trim & sides[0]) is not bool(trim & sides[1]) for trim in trims
        ):
            continue  # past it as drawn, or each half is set by hand
        builds = spread.nominal
        apart = builds.unlike([s.name for s in one], [s.name for s in other])
        share, value = builds.beyond(apart, most), Figure(builds.band(apart).high, "A")
        if share <= few:
            yield Pass(part.subject, value, bound, builds.name, builds.rests_on)
            continue
        yield Fail(
            about=part.subject,
            says=f"the halves of {part.ref} differ by more than its {amp(most)}"
            f" {builds.often(share)}",
            remedy=f"a matched set of tubes, written matched = 1 name for all of them, or a preset"
            f" for each; or a core that bears {amp(value.value)}",
            value=value,
            limit=bound,
            state=builds.name,
            others=tuple(s.part.subject for s in (*one, *other)),
            rests_on=builds.rests_on,
        )
