"""Terminals of one net that nothing joins."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Realised, Verdicts, cite, rule

SHOWN = 6


@rule(
    title="A connection in the schematic is missing in the wiring",
    harm=Harm.WEARS,
    why="""
        A wire that was never soldered is found with the meter if one is lucky. A missing ground
        of a cathode resistor or a bias line is found by the tube.
    """,
    sources=[cite("realise")],
)
def missing_connection(design: Design, realised: Realised) -> Verdicts:
    whole = set(design.nets) - {split.net for split in realised.splits}
    for split in realised.splits:
        main, *rest = split.pieces
        strays = [terminal for piece in rest for terminal in piece]
        apart = f"{len(strays)} of {len(main) + len(strays)} terminals"
        yield Fail(
            about=design.net_subject(split.net),
            says=f"{split.net} is soldered in {len(split.pieces)} pieces: {_listed(strays)}"
            f" ({apart}) {'is' if len(strays) == 1 else 'are'} apart from the rest",
            remedy="; ".join(f"1 wire from {piece[0]} to {main[0]}" for piece in rest[:SHOWN]),
            others=tuple(
                design.parts[t.partition(".")[0]].subject
                for t in strays[:SHOWN]
                if t.partition(".")[0] in design.parts
            ),
            working=tuple(f"{_listed(piece)} together" for piece in split.pieces),
        )
    for net in sorted(whole):
        yield Pass(about=design.net_subject(net))


def _listed(terminals: tuple[str, ...] | list[str]) -> str:
    more = len(terminals) - SHOWN
    return ", ".join(terminals[:SHOWN]) + (f" and {more} more" if more > 0 else "")
