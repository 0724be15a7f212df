"""Loudspeakers on a tap of the output transformer that is made for another impedance."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Design,
    Fail,
    Figure,
    Harm,
    Pass,
    Verdicts,
    cite,
    kinds,
    limit,
    ohm,
    rule,
)


@rule(
    title="The loudspeaker is on a tap made for another",
    harm=Harm.UNDERPERFORMS,
    why="""
        The output transformer shows the tubes the loudspeaker times the square of its turns ratio.
        On another tap than its own they see more or fewer ohms than the transformer is named for:
        fewer cost volts and heat the plates, more cost amperes and raise the peaks at the primary.
        How far off is borne is a matter on which practice varies; the ratings of the tubes and of
        the transformer are judged with the load as it is.
    """,
    sources=[cite("load-mismatch")],
)
def load_mismatch(design: Design) -> Verdicts:
    load, most = design.document.site.load, limit("load-mismatch")
    loud = (part for part in design.of(kinds.Connector) if part.spec.role == "loudspeaker")
    for part in loud if load is not None else ():
        ends = {part.net(part.spec.contacts[0]), part.net(part.spec.contacts[-1])}
        for transformer in design.of(kinds.OutputTransformer):
            spec = transformer.spec
            taps = [
                tap for tap in spec.secondary.taps if transformer.net(f"secondary.{tap}") in ends
            ]
            if load is None or len(taps) != 2 or len(ends) != 2:
                continue
            low, high = sorted(map(float, taps))
            # turns go with the root of the ohms a tap is named for
            named = (high**0.5 - low**0.5) ** 2
            ratio = load.impedance / named
            off = Figure(max(ratio, 1.0 / ratio), "x")
            if off.value <= most.figure.value:
                yield Pass(part.subject, off, most)
                continue
            wanted = min(
                spec.secondary.taps[1:], key=lambda tap: abs(float(tap) / load.impedance - 1.0)
            )
            fits = abs(float(wanted) / load.impedance - 1.0) < most.figure.value - 1.0
            yield Fail(
                about=part.subject,
                says=f"{part.ref}, of {ohm(load.impedance)}, is on {ohm(named)} of"
                f" {transformer.ref}: the tubes see {ohm(ratio * spec.primary.impedance)} instead of"
                f" {ohm(spec.primary.impedance)}",
                remedy=f"the tap of {wanted} ohm"
                if fits
                else f"a transformer with a tap for {ohm(load.impedance)}",
                value=off,
                limit=most,
            )
