"""The mains side: what stands between the inlet and the transformer, in order."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from coldcheck.lint.design import Design, PartUse, Use
from coldcheck.lint.facts.live import IN_LINE, THROUGH, mains_nets, touched_nets
from coldcheck.lint.graphs.schematic import Body, Schematic, Section
from coldcheck.lint.model import Missing, NothingToJudge
from coldcheck.lint.netlist import running_position
from coldcheck.schemas.parts import Capacitor, MainsEntry, MainsTransformer, Switch, VoltageSource

ALIKE = 0.02
"""Of the whole primary: sections that differ by less are wound for the same (our choice)."""
MOST_IN_LINE = 1e3
"""Ohms: what limits an inrush has tens at the most, what discharges a capacitor 100 kohm and more."""


class Escape(NamedTuple):
    """A conductive way from the mains to something a person touches, past no isolation."""

    pole: str
    """"line" or "neutral"."""
    way: tuple[str | Section, ...]
    """Net, section, net, ...; one net alone where the pole's net is itself touched."""
    touched: str
    """What is reached, as a reader would say it."""
    amperes: float | None = None
    """What a capacitor alone lets out at nominal mains, 2 pi f C V; None for other ways."""

    @property
    def by(self) -> Section | None:
        """The part that lets it out: the first on the way that is no fuse or switch."""
        return next((s for s in self.sections if s.body not in THROUGH), None)

    @property
    def sections(self) -> tuple[Section, ...]:
        return tuple(step for step in self.way if isinstance(step, Section))


class MainsSide(NamedTuple):
    """Parts on the line, neutral and earth conductors of the inlet."""

    inlet: PartUse
    line: str
    neutral: str
    nets: frozenset[str]
    """Nets at mains potential: reached from line or neutral without crossing a winding."""
    unfused: tuple[Section, ...]
    """What hangs on the line ahead of any fuse."""
    line_fuses: tuple[str, ...]
    """Fuses in the line conductor, nearest the inlet first."""
    neutral_fuses: tuple[str, ...]
    earth_fuses: tuple[str, ...]
    line_switches: tuple[str, ...]
    neutral_switches: tuple[str, ...]
    primaries: tuple[str, ...]
    """Transformers fed from the mains."""
    opposed: frozenset[str]
    """Of these, those of which sections of the primary work against one another."""
    made_for: Mapping[str, float]
    """Volts each mains transformer of them is made for, its primary joined as it is when all switches are on."""
    escapes: tuple[Escape, ...]

    @property
    def fuse(self) -> str | None:
        """The fuse that guards everything: the first one in the line conductor."""
        return self.line_fuses[0] if self.line_fuses else None


def make(design: Design, schematic: Schematic) -> MainsSide:
    """Walk from the inlet's pins; raises as :func:`mains_inlet`, and where they are on no net."""
    inlet = mains_inlet(design)
    line, neutral = inlet.net("L"), inlet.net("N")
    if line is None or neutral is None:
        raise Missing(f"nets on L and N of {inlet.ref}", ("schematic", inlet.ref), inlet.subject)
    open_line = schematic.reach(line, lambda s: s.body is Body.SWITCH)
    unfused = {s.ref: s for net in open_line for s in schematic.at(net) if s.body is not Body.FUSE}
    nets = mains_nets(design, schematic)
    coils = {
        s.part
        for net in nets
        for s in schematic.at(net)
        if s.body is Body.COIL and s.name == "primary"
    }
    earth = inlet.net("PE")
    on_earth = schematic.at(earth) if earth is not None and earth not in (line, neutral) else ()
    made_for = {
        part.ref: _made_for(schematic, part, line, neutral)
        for part in design.of(MainsTransformer)
        if part.ref in coils
    }
    return MainsSide(
        inlet,
        line,
        neutral,
        nets,
        tuple(unfused[ref] for ref in sorted(unfused)),
        _met(schematic, line, Body.FUSE),
        _met(schematic, neutral, Body.FUSE),
        tuple(sorted({s.part for s in on_earth if s.body is Body.FUSE})),
        _met(schematic, line, Body.SWITCH),
        _met(schematic, neutral, Body.SWITCH),
        tuple(sorted(coils)),
        frozenset(ref for ref, (_volts, opposed) in made_for.items() if opposed),
        {ref: volts for ref, (volts, _opposed) in made_for.items()},
        tuple(_escapes(design, schematic, line, neutral)),
    )


def _made_for(
    schematic: Schematic, part: Use[MainsTransformer], line: str, neutral: str
) -> tuple[float, bool]:
    """Volts between line and neutral that the sections between them are wound for, in volts.

    Sections in series add and those in parallel are one.  And whether any of them work against one
    another: in series their volts cancel, in parallel they short each other.
    """
    spec = part.spec
    spans: list[tuple[str, str, float]] = []
    pieces = (terminals for name, terminals in spec.coils() if name == "primary")
    for terminals, taps in zip(pieces, spec.primary.voltage.taps, strict=True):
        used = [
            (part.ends[t], volts)
            for t, volts in zip(terminals, taps, strict=True)
            if t in part.ends
        ]
        spans += [(a, b, to - at) for (a, at), (b, to) in itertools.pairwise(used)]
    known = dict.fromkeys(_joined(schematic, line), 0.0)
    waiting = spans
    while waiting:
        reached = [span for span in waiting if not known.keys().isdisjoint(span[:2])]
        for a, b, volts in reached:
            for here, there, step in ((a, b, volts), (b, a, -volts)):
                if here in known and there not in known:
                    known |= dict.fromkeys(_joined(schematic, there), known[here] + step)
        waiting = [span for span in waiting if span not in reached] if reached else []
    whole = spec.primary.whole
    against = any(
        abs(known[b] - known[a] - volts) > ALIKE * whole
        for a, b, volts in spans
        if a in known and b in known
    )
    found = abs(known.get(neutral, 0.0))
    against = against or (len(spans) > 1 and neutral in known and found < ALIKE * whole)
    # a primary on line or neutral alone is taken as whole
    return found or whole, against


def _joined(schematic: Schematic, net: str) -> frozenset[str]:
    """Nets that are one with ``net`` when the amplifier runs, but for what stands in the line."""

    def through(section: Section) -> bool:
        spec = schematic.design.parts[section.part].spec
        if isinstance(spec, Switch):
            return section.name in spec.positions[running_position(spec)]
        return section.body in IN_LINE and getattr(spec, "value", 0.0) <= MOST_IN_LINE

    return schematic.reach(net, through)


def mains_inlet(design: Design) -> Use[MainsEntry]:
    """The inlet.  Raises Missing when there is none, NothingToJudge when none is needed."""
    inlet = next(design.of(MainsEntry), None)
    if inlet is not None:
        return inlet
    if any(design.of(VoltageSource)) and not any(design.of(MainsTransformer)):
        raise NothingToJudge("fed by a battery or a supply of its own")
    raise Missing('a mains inlet: a part of kind "inlet", or of kind "cord"', ("parts",))


def _met(schematic: Schematic, start: str, body: Body) -> tuple[str, ...]:
    """Fuses, or switches, reached from a net by fuses and switches, in the order they are met."""
    found: dict[str, None] = {}
    seen, edge = {start}, [start]
    while edge:
        following: list[str] = []
        for net in edge:
            for section in schematic.at(net):
                if section.body is body:
                    found.setdefault(section.part)
                if section.body in THROUGH:
                    fresh = [other for other in section.nets if other not in seen]
                    seen.update(fresh)
                    following += fresh
        edge = following
    return tuple(found)


def _escapes(design: Design, schematic: Schematic, line: str, neutral: str) -> Iterator[Escape]:
    """The shortest conductive way out by each part that lets one out.

    Windings are apart from one another, so only a transformer is not crossed; class Y capacitors
    are made to stand between mains and touchable metal, and are not crossed either.
    """
    touched = touched_nets(design, schematic)
    ways: dict[str, tuple[str, tuple[str | Section, ...]]] = {
        net: (pole, (net,)) for pole, net in (("line", line), ("neutral", neutral))
    }
    out: set[str] = set()
    open_poles = {net for net in ways if net in touched}
    for net in sorted(open_poles):
        yield Escape(ways[net][0], ways[net][1], touched[net])
    edge = [net for net in ways if net not in open_poles]
    while edge:
        following: list[str] = []
        for here in edge:
            pole, so_far = ways[here]
            for section in schematic.at(here):
                for net in section.nets if not _class_y(design, section) else ():
                    way = (*so_far, section, net)
                    if net in open_poles:
                        continue  # said already
                    if net in touched:
                        escape = Escape(pole, way, touched[net])
                        by = (escape.by or section).part
                        if by not in out:
                            out.add(by)
                            yield escape._replace(amperes=_leak(design, escape))
                    elif net not in ways:
                        ways[net] = pole, way
                        following.append(net)
        edge = following


def _class_y(design: Design, section: Section) -> bool:
    spec = design.parts[section.part].spec
    return isinstance(spec, Capacitor) and (spec.safety_class or "").startswith("Y")


def _leak(design: Design, escape: Escape) -> float | None:
    crossed = [s.part for s in escape.sections if s.body not in THROUGH]
    mains = design.document.site.mains
    spec = design.parts[crossed[0]].spec if len(crossed) == 1 else None
    if not isinstance(spec, Capacitor):
        return None
    return 2.0 * math.pi * mains.frequency * spec.value * mains.voltage
