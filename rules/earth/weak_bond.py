"""Protective earth paths that are too thin, too long, or held by another part's screw."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Exposed,
    Fail,
    Figure,
    Harm,
    Open,
    Pass,
    Verdicts,
    Wiring,
    cite,
    limit,
    metre,
    ohm,
    rule,
)


@rule(
    title="A protective earth path is weak",
    harm=Harm.FAULT_KILLS,
    why="""
        Earth carries the whole fault current until the fuse opens. A thin or long wire lets the
        metal rise to a dangerous voltage meanwhile, and a lug under a transformer bolt is
        loosened whenever the transformer is changed. Builders differ over transformer bolts; a
        screw of its own settles it.
    """,
    sources=[
        cite("earth-path"),
        cite("earth-conductor-size"),
        cite("earth-bond-fixing"),
        cite("copper-resistance"),
    ],
)
def weak_bond(exposed: Exposed, wiring: Wiring) -> Verdicts:
    pin = f"{exposed.inlet.ref}.L"
    line = max((w.type.size for w in wiring.design.wires.values() if pin in w.run), default=0.0)
    line = getattr(exposed.inlet.spec, "conductor", None) or line  # of a cord that is fixed
    if line == 0.0:
        yield Open(exposed.inlet.subject, f"a wire on {pin}, to hold the earth wire against")
    most, rho = limit("earth-resistance"), limit("copper-resistivity").figure.value
    wires = {wire.ref: wire for way in exposed.ways for wire in way.wires}
    for wire in wires.values():
        if wire.type.size < line * 0.999:
            area, least = wire.type.size * 1e6, line * 1e6
            yield Fail(
                about=wire.subject,
                says=f"{wire.ref} carries earth on {area:.2f} mm2, and {pin} has {least:.2f} mm2",
                remedy=f"an earth wire of {least:.2f} mm2 or more",
            )
        if wire.spec.length is None:
            yield Open(wire.subject, f"the length of {wire.ref}", (*wire.path, "length"))
    paths = {tuple(wire.ref for wire in way.wires): way for way in reversed(exposed.ways)}
    for path, way in sorted(paths.items()):
        lengths = {ref: wires[ref].spec.length or 0.0 for ref in path}
        if not path or 0.0 in lengths.values():
            continue
        total = sum(rho * length / wires[ref].type.size for ref, length in lengths.items())
        about, value = wires[path[-1]].subject, Figure(total, "ohm")
        if total <= most.figure.value:
            yield Pass(about=about, value=value, limit=most)
            continue
        yield Fail(
            about=about,
            says=f"{way.metal.reads.removeprefix('the ')} has {ohm(total)} to {exposed.pin}",
            remedy=f"{metre(sum(lengths.values()) * most.figure.value / total)} of that wire or"
            f" less, or wire of {total / most.figure.value:.2g} times its section",
            value=value,
            limit=most,
            working=tuple(f"{ref}: {metre(length)}" for ref, length in lengths.items()),
        )
    landings = {
        landing.name: (landing, way.fixing)
        for way in reversed(exposed.ways)
        if (landing := way.landing) is not None
    }
    for _name, (landing, fixing) in sorted(landings.items()):
        about, bond = landing.subject, landing.joint.value == "bond"
        if bond and fixing is None:
            where = (*about.path, "fixing")
            yield Open(about, f"the fixing of {about.name}: whose screw holds it", where)
        elif not bond or fixing != "own screw":
            held = f"a {fixing}" if fixing else "its own mounting"
            yield Fail(
                about=about,
                says=f"{about.name} takes protective earth to the metal under {held}",
                remedy="a lug with 1 screw of its own, lock washer and bare metal under it",
            )
