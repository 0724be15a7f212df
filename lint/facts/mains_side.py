"""The mains side: what stands between the inlet and the transformer, in order."""

from __future__ import annotations

from dataclasses import dataclass

from coldcheck.lint.design import Design, PartUse
from coldcheck.lint.graphs.schematic import Body, Schematic, Section
from coldcheck.lint.model import Missing
from coldcheck.schemas.parts import Inlet


@dataclass(frozen=True, slots=True)
class MainsSide:
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
    primaries: tuple[str, ...]
    """Transformers fed from the mains."""

    @property
    def fuse(self) -> str | None:
        """The fuse that guards everything: the first one in the line conductor."""
        return self.line_fuses[0] if self.line_fuses else None


_THROUGH = (Body.FUSE, Body.SWITCH)


def make(design: Design, schematic: Schematic) -> MainsSide:
    """Walk from the inlet's pins; raises Missing when the design has no mains inlet."""
    inlets = list(design.of(Inlet))
    if not inlets:
        raise Missing('a mains inlet: a part of kind "inlet"', ("parts",))
    inlet = inlets[0]
    line, neutral = inlet.net("L"), inlet.net("N")
    if line is None or neutral is None:
        raise Missing(
            f"nets on L and N of {inlet.ref}", ("schematic", inlet.ref), inlet.subject
        )
    open_line = schematic.reach(line, lambda s: s.body is Body.SWITCH)
    unfused = {s.ref: s for net in open_line for s in schematic.at(net) if s.body is not Body.FUSE}
    live = schematic.reach(line, lambda s: s.body in _THROUGH)
    cold = schematic.reach(neutral, lambda s: s.body in _THROUGH)
    coils = {
        s.part
        for net in live | cold
        for s in schematic.at(net)
        if s.body is Body.COIL and s.name == "primary"
    }
    earth = inlet.net("PE")
    on_earth = schematic.at(earth) if earth is not None and earth not in (line, neutral) else ()
    return MainsSide(
        inlet,
        line,
        neutral,
        live | cold,
        tuple(unfused[ref] for ref in sorted(unfused)),
        _fuses(schematic, line),
        _fuses(schematic, neutral),
        tuple(sorted({s.part for s in on_earth if s.body is Body.FUSE})),
        tuple(sorted(coils)),
    )


def _fuses(schematic: Schematic, start: str) -> tuple[str, ...]:
    """Fuses reached from a net by fuses and switches, in the order they are met."""
    found: dict[str, None] = {}
    seen, edge = {start}, [start]
    while edge:
        following: list[str] = []
        for net in edge:
            for section in schematic.at(net):
                if section.body is Body.FUSE:
                    found.setdefault(section.part)
                if section.body in _THROUGH:
                    fresh = [other for other in section.nets if other not in seen]
                    seen.update(fresh)
                    following += fresh
        edge = following
    return tuple(found)
