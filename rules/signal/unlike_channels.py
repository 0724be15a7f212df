"""Channels of one amplifier that are not alike."""

from __future__ import annotations

from coldcheck.lint.rulekit import (
    Channels,
    Fail,
    Harm,
    Pass,
    Verdicts,
    cite,
    farad,
    kinds,
    ohm,
    rule,
)


@rule(
    title="The channels are not alike",
    harm=Harm.UNDERPERFORMS,
    why="""
        The halves of a stereo amplifier are one circuit built twice. Where a value or a connection
        differs, one of the two is a slip, and the channels differ in level, in tone or in what they
        survive. Each is followed from its input to what both share, and laid on the other.
    """,
    sources=[cite("channels-alike")],
)
def unlike_channels(channels: Channels) -> Verdicts:
    for first, other, found in channels.differences():
        if not found:
            yield Pass(other.input.subject)
        for part, partner, values in found:
            if partner is None:
                yield Fail(
                    about=part.subject,
                    says=f"{part.ref} has no counterpart in the other channel, as"
                    f" {first.input.ref} and {other.input.ref} begin them",
                    remedy=f"what {part.ref} is in the one channel for the other too, or neither",
                )
                continue
            yield Fail(
                about=partner.subject,
                says=f"{partner.ref} is not as {part.ref}: {_words(values)}",
                remedy=f"{_said(part.spec, values)} for both, as {part.ref} has, or"
                f" {_said(partner.spec, values)} for both",
                working=(
                    f"{part.ref}: {_said(part.spec, values)}",
                    f"{partner.ref}: {_said(partner.spec, values)}",
                ),
            )


def _words(values: tuple[str, ...]) -> str:
    names = [name.replace("_", " ") for name in values]
    return f"it differs in {' and '.join(names)}"


def _said(spec: kinds.Part, values: tuple[str, ...]) -> str:
    """The values as a builder writes them."""
    words = []
    for name in values:
        value = getattr(spec, name)
        match spec, name:
            case (kinds.Resistor() | kinds.Potentiometer(), "value"):
                words.append(ohm(value))
            case (kinds.Capacitor(), "value"):
                words.append(farad(value))
            case _:
                words.append(f"{name.replace('_', ' ')} {value}")
    return ", ".join(words)
