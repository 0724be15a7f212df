"""Pins the maker reserves, used as tie points."""

from __future__ import annotations

from coldcheck.lint.rulekit import Design, Fail, Harm, Pass, Verdicts, cite, rule


@rule(
    title="A pin reserved for an internal connection is used",
    harm=Harm.WEARS,
    why="""
        A pin marked internal connection may hold a piece of the electrode structure, in one
        maker's tube and not in the next. As a handy tie point it brings plate voltage to a
        grid support, and the stage fails with the second tube.
    """,
    sources=[cite("internal-connection")],
)
def reserved_pin(design: Design) -> Verdicts:
    for part in design.parts.values():
        reserved = part.tube.pins_of("ic") if part.tube is not None else ()
        for pin in reserved:
            point = f"{part.ref}.{pin}"
            leads = [p.ref for p in design.parts.values() if point in p.leads.values()]
            wires = [wire.ref for wire in design.wires.values() if point in wire.run]
            net = part.net(str(pin))
            used = leads + wires + ([f"net {net}"] if net is not None else [])
            if not used:
                yield Pass(about=part.subject)
                continue
            yield Fail(
                about=part.subject,
                says=f"{part.ref} pin {pin} is an internal connection of the type, and"
                f" {', '.join(used)} {'is' if len(used) == 1 else 'are'} on it",
                remedy=f"move to a lug what is on pin {pin}, and leave the pin free",
                others=tuple(
                    design.parts[ref].subject if ref in design.parts else design.wires[ref].subject
                    for ref in leads + wires
                ),
            )
