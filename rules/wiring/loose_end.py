"""Terminals left off the schematic although the part does nothing without them."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, PartUse, Pass, Verdicts, cite, rule

SOME = ("switch", "connector", "potentiometer")
"""Kinds of which two terminals are enough: throws, contacts and ends may stay unused."""
ELSEWHERE = ("tube", "terminal strip", "ground bus", "chassis bond")
"""Tubes have a rule of their own; the others have no terminal that could be left off."""


@rule(
    title="A terminal is left open",
    harm=Harm.UNDERPERFORMS,
    why="""
        A resistor with one net is a slip of the pen: a net name misspelt, a line not drawn. The
        rest of the review judges the circuit without it.
    """,
    sources=[cite("all-terminals")],
)
def loose_end(design: Design) -> Verdicts:
    for part in design.parts.values():
        kind = part.spec.kind
        if kind in ELSEWHERE or not part.ends:
            continue
        clear = True
        for what, terminals, least in _groups(part, kind):
            loose = [terminal for terminal in terminals if terminal not in part.ends]
            used = len(terminals) - len(loose)
            if used >= least:
                continue
            clear = False
            idle = used == 0 and "." in terminals[0]
            yield Fail(
                about=part.subject,
                says=f"{what} is not used"
                if idle
                else f"{what} is on {used} of the {least} nets it needs: its terminal"
                f"{'s' if len(loose) > 1 else ''} {', '.join(loose)} {'are' if len(loose) > 1 else 'is'} on none",
                remedy=f"insulate its {len(loose)} leads apart from one another"
                if idle
                else f"name {least} nets for {what} in [schematic]",
                harm=Harm.UNTIDY if idle else None,
            )
        if clear:
            yield Pass(about=part.subject)


def _groups(part: PartUse, kind: str) -> list[tuple[str, list[str], int]]:
    """Terminals that belong together, and how many of them must be on a net."""
    terminals = list(part.spec.terminals())
    if kind in SOME:
        return [(part.ref, terminals, min(2, len(terminals)))]
    if kind in ("inlet", "cord"):
        return [(part.ref, ["L", "N"], 2)]  # the earth pin is judged with the earth path
    if not kind.endswith("transformer"):
        return [(part.ref, terminals, len(terminals))]
    windings: dict[str, list[str]] = {}
    for terminal in terminals:
        windings.setdefault(terminal.partition(".")[0], []).append(terminal)
    return [(f"{part.ref} {name}", ends, min(2, len(ends))) for name, ends in windings.items()]
