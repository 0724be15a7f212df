"""Ground wires that carry a signal back together with what charges the reservoirs."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    GroundNetwork,
    Harm,
    Pass,
    Verdicts,
    allowed_hum,
    amp,
    cite,
    limit,
    ohm,
    rule,
    volt,
)


@rule(
    title="A signal comes back to ground by a wire that charges a reservoir",
    harm=Harm.UNDERPERFORMS,
    why="""
        A ground wire is a resistor of some milliohms. The pulses that charge a reservoir make
        some tenths of a millivolt along it; where a stage has its cathode on one end and its grid
        on the other it takes them for signal, and the stages behind amplify them. One end of one
        wire moved from the star to the reservoir is enough.
    """,
    sources=[cite("ground-hum"), cite("shared-return")],
    states=("warm, mains nominal",),
)
def shared_return(design: Design, ground: GroundNetwork) -> Verdicts:
    worst: dict[str, Fail] = {}
    for output in ground.outputs:
        most = allowed_hum(design, output.ref, limit("ground-hum").figure.value, cite("ground-hum"))
        heard = Figure(ground.brought(output, buses=False), "V")
        if heard.value <= most.figure.value:
            yield Pass(
                design.parts[output.ref].subject, heard, most, ground.state.name, ground.rests_on
            )
            continue
        shared = ground.most(output, buses=False)
        link, astray = shared.link, ground.astray(output, shared)
        along = f"{link.name}, which carries {amp(shared.amperes)} of the supply's ripple"
        if astray is not None:
            wire, here, there = astray
            about, says = wire.subject, f"{wire.name} comes back to ground by {along}"
            remedy = (
                f"move the end of {wire.name} at {here} to {there}: {volt(shared.left)} is left"
            )
        else:
            about, says = link.subject, f"a signal comes back to ground by {along}"
            remedy = f"keep what returns a signal off {link.reads}: {volt(shared.left)} is left"
        working = [
            f"{link.reads}: {amp(shared.amperes)} rms through {ohm(shared.ohms)},"
            f" {volt(shared.amperes * shared.ohms)} along it",
            f"{output.ref} hears {volt(shared.heard)} for each volt along it",
        ]
        if (widest := ground.widest()) is not None:
            stage, pair = widest
            working.append(
                f"{stage} has {volt(pair.volts)} between its {pair.a.what} ({pair.a.point}) and"
                f" {pair.b.what} ({pair.b.point}), {volt(pair.twice)} at twice the mains frequency"
            )
        fail = Fail(
            about=about,
            says=f"{says}: {output.ref} hums by {volt(heard.value)} more than its ripple",
            remedy=remedy,
            value=heard,
            limit=most,
            state=ground.state.name,
            others=(design.parts[output.ref].subject, *([link.subject] if astray else [])),
            working=tuple(working),
            rests_on=ground.rests_on,
        )
        before = worst.get(about.name)
        if before is None or before.value is None or heard.value > before.value.value:
            worst[about.name] = fail
    yield from worst.values()
