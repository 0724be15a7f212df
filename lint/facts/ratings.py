"""Ratings: what the document states for a part, else what the library knows of its kind."""

from __future__ import annotations

from typing import Any

from coldcheck.lint.design import Design, PartUse, Use
from coldcheck.lint.model import Basis, Figure, Limit, Missing, Source, Subject
from coldcheck.schemas.build import WireType
from coldcheck.schemas.parts import Resistor, Tube
from coldcheck.schemas.rated import Rated
from coldcheck.schemas.reference import (
    ampacity_for_area,
    resistor_derating,
    resistor_voltage_default,
    tube,
    tube_like,
    tube_names,
    wire_style,
)
from coldcheck.schemas.tube_entry import DIRECT

# Air inside a closed chassis with tubes on it, over the room: brings a 30 degC room to the 50 degC
# that is the usual design figure (common practice, no source).
RISE_INSIDE = 20.0
# What the tabled currents of wire are for: air of 70 degC around it (FAA AC 43.13-1B table 11-9).
TABLED_CELSIUS = 70.0
CLASSES = (105, 150, 200)
# Insulation of which nothing is said is taken for the coolest that hook-up wire has: UL 758 styles
# begin at 60, usual ones at 80 degC (from memory).
LEAST_CELSIUS = 80.0


class Ratings:
    """Limits of parts, each with its source; raises Missing where one is neither stated nor known."""

    def __init__(self, design: Design) -> None:
        self._design = design
        self.inside = design.document.site.ambient + RISE_INSIDE
        """Temperature inside the chassis, degC."""

    def stated(self, part: PartUse, key: str, unit: str, words: str) -> Limit:
        """A rating written in the document; raises Missing naming the key when it is not.

        A key within a table of the part is dotted: "primary.current".
        """
        steps = key.split(".")
        value: Any = part.spec
        for step in steps:
            value = getattr(value, step)
        if value is None:
            raise Missing(f"the {words} of {part.ref}", (*part.path, *steps), part.subject)
        basis = part.spec.basis_of(steps[-1])
        known = Basis(basis) if basis is not None else Basis.DECLARED
        return Limit(Figure(value, unit), Source("", f"rating of {part.ref}", known))

    def resistor_watts(self, part: Use[Resistor]) -> Limit:
        """Rated power at the temperature inside the chassis, in watts."""
        spec = part.spec
        rating = self.stated(part, "power", "W", "power rating")
        ends = resistor_derating(spec.style)
        if ends is None or self.inside <= ends[0].value:
            return rating
        full, zero = ends
        left = max(0.0, (zero.value - self.inside) / (zero.value - full.value))
        text = (
            f"rating of {part.ref}, {left:.0%} of it left at {self.inside:.0f} degC inside,"
            f" taken {RISE_INSIDE:.0f} over the room ({spec.style}: {full.source})"
        )
        figure = Figure(rating.figure.value * left, "W")
        return Limit(figure, Source("", text, Basis(full.basis)))

    def resistor_volts(self, part: Use[Resistor]) -> Limit:
        """Working voltage: as stated, else the lowest seen for its size, in volts."""
        spec = part.spec
        usual = resistor_voltage_default(spec.power, spec.style) if spec.power is not None else None
        if spec.voltage is not None or usual is None:
            return self.stated(part, "voltage", "V", "working voltage")
        text = f"usual for its size: {usual.source}"
        return Limit(Figure(usual.value, "V"), Source("", text, Basis.ASSUMED))

    def wire_volts(self, name: str, kind: WireType) -> Limit:
        """What a wire's insulation bears, in volts rms or dc: as stated, else its listed style's."""
        style = wire_style(kind.style) if kind.style is not None else None
        if kind.voltage is not None:
            source = Source("", f'rating of wire type "{name}"', Basis.DECLARED)
            return Limit(Figure(kind.voltage, "V"), source)
        if style is None:
            about = Subject("wire type", name, ("wire_types", name))
            raise Missing(f"the voltage or the style of {name}", about.path, about)
        source = Source("", f"{style.name}: {style.source}", Basis(style.basis))
        return Limit(Figure(style.volts, "V"), source)

    def wire_amperes(self, name: str, kind: WireType) -> Limit:
        """What a wire carries in a full bundle, in amperes rms.

        The table's row for its insulation, times sqrt((class - inside) / (class - 70)): heat goes
        with the square of the current and leaves in proportion to the rise.  Raises Missing below
        24 AWG, where the table ends.
        """
        style = wire_style(kind.style) if kind.style is not None else None
        celsius = kind.temperature or (style.celsius if style is not None else LEAST_CELSIUS)
        row = max((c for c in CLASSES if c <= celsius), default=CLASSES[0])
        tabled = ampacity_for_area(kind.size, row)
        if tabled is None:
            about = Subject("wire type", name, ("wire_types", name))
            raise Missing(f"a current for {name}, thinner than 24 AWG", about.path, about)
        rise = max(0.0, celsius - self.inside) / (row - TABLED_CELSIUS)
        figure = Figure(tabled.value * rise**0.5, "A")
        text = (
            f'wire type "{name}", {celsius:.0f} degC insulation in {self.inside:.0f} degC inside:'
            f" {tabled.source}, scaled from 70 degC"
        )
        return Limit(figure, Source("", text, Basis(tabled.basis)))

    def near_type(self, name: str) -> str | None:
        """The tube type of the library that a misspelt or unknown name comes nearest to."""
        import difflib

        near = tube_like(name)
        if near is not None:
            return near.name
        known = {each.upper(): each for each in tube_names()}
        close = difflib.get_close_matches(name.upper(), known, 1)
        return known[close[0]] if close else None

    def tube(self, part: Use[Tube], name: str, section: int | None = None) -> Limit | None:
        """A limit of a tube type by its library name ("plate_watts"); None when not known."""
        known = part.tube.limit(name, section) if part.tube is not None else None
        return None if known is None else as_limit(known, part.spec.type)

    def own_entry(self, part: Use[Tube]) -> tuple[str, str] | None:
        """The name a tube's type has in the project's [tubes], and the library's type it is like."""
        kind, own = part.tube, self._design.document.tubes
        if kind is None or kind.origin != "project" or kind.name not in own:
            return None
        shipped = tube(own[kind.name].like or kind.name)
        return None if shipped is None else (kind.name, shipped.name)

    def shipped(self, kind: str, name: str) -> Limit | None:
        """A limit of a type as the library that comes with this has it; None when not known."""
        found = tube(kind)
        known = found.limits.get(name) if found is not None else None
        return None if known is None else as_limit(known, kind)

    def of_tube(self, part: Use[Tube], name: str, words: str, section: int = 1) -> Limit:
        """As :meth:`tube`; raises Missing naming the limit in words when it is not known."""
        found = self.tube(part, name, section)
        if found is None:
            kind = part.spec.type
            table = f'tubes."{kind}"' if name in DIRECT else f'tubes."{kind}".limits'
            written = f": {name} in [{table}]"
            datum = f"the {words} a {kind} is rated for{written}"
            raise Missing(datum, (*part.path, "type"), part.subject)
        return found


def as_limit(known: Rated, of: str, most: bool = True) -> Limit:
    """A library value as a limit that names whose it is."""
    note = f", {known.note}" if known.note else ""
    source = Source("", f"{of}: {known.source}{note}", Basis(known.basis))
    return Limit(Figure(known.value, known.unit), source, most)


def make(design: Design) -> Ratings:
    """Needs only the document and the library."""
    return Ratings(design)
