"""Fuses and the time-current gates their standard sets them."""

from __future__ import annotations

import math
from typing import NamedTuple

from coldcheck.lint.design import Design, Use
from coldcheck.lint.facts.live import mains_nets
from coldcheck.lint.facts.ratings import as_limit
from coldcheck.lint.graphs.schematic import Schematic
from coldcheck.lint.model import Basis, Datum, Figure, Limit, Missing, Source
from coldcheck.schemas.parts import Fuse
from coldcheck.schemas.rated import Rated
from coldcheck.schemas.reference import (
    Gate,
    breaking_capacity,
    fact,
    fuse_gates,
    fuse_item,
    fuse_ratings,
)

# Below this, in seconds, a fuse wire has no time to lose heat, and i2t decides (our choice; the
# time-current curves of miniature fuses turn into straight i2t lines between 10 and 50 ms).
ADIABATIC = 0.05
# Interrupting rating of UL 248-14 fuses up to 125 V.
UL_VOLTS, UL_AMPERES = 125.0, 10_000.0


class Guard(NamedTuple):
    """A fuse with the gates of every standard sheet it may have been made to."""

    part: Use[Fuse]
    rating: float
    sheets: tuple[tuple[Gate, ...], ...]
    melting_i2t: float | None
    """Nominal melting I2t in A2 s, as stated or of a maker's fuse of this kind; else None."""

    @property
    def standard(self) -> str:
        return self.sheets[0][0].source

    @property
    def loading(self) -> Rated:
        """The share of its rating it carries for good; the smaller where the standard is not told."""
        iec = self.part.spec.standard == "IEC 60127-2"
        return fact("fuses", f"continuous_loading_{'iec' if iec else 'ul'}_ratio")

    @property
    def bears_i2t(self) -> float:
        """i2t in A2 s that it bears ten thousand switch-ons of; 0 when no maker's figure is known."""
        return (self.melting_i2t or 0.0) * fact("fuses", "pulse_10000_ratio").value

    def opens_within(self, amperes: float) -> tuple[float, Gate] | None:
        """Longest time the standard lets it stay whole at a current, and the gate that says so.

        None when no gate promises that it opens at all.  Of several possible sheets the slowest
        counts: a fault must be cleared by whichever fuse was bought.
        """
        worst: tuple[float, Gate] | None = None
        for gates in self.sheets:
            passed = [
                gate
                for gate in gates
                if math.isfinite(gate.t_max) and gate.multiple * self.rating <= amperes
            ]
            if not passed:
                return None
            gate = max(passed, key=lambda gate: gate.multiple)
            if worst is None or gate.t_max > worst[0]:
                worst = (gate.t_max, gate)
        return worst

    def opens_by(self, seconds: float) -> float:
        """Least multiple of its rating at which every possible sheet has it open in that time."""
        return max(
            min((g.multiple for g in gates if g.t_max <= seconds), default=math.inf)
            for gates in self.sheets
        )

    def holds_for(self, amperes: float) -> tuple[float, Gate] | None:
        """Shortest time the standard promises it stays whole at a current; None if no gate tells.

        0 s where the standard lets it open at once.  Melting takes no less i2t at a smaller
        current than at a larger one, as heat is lost meanwhile: a gate promises its least time
        times the square of the ratio.  Past the last gate the same holds so long as that gate is
        short enough for the wire to keep its heat.
        """
        worst: tuple[float, Gate] | None = None
        amperes = max(amperes, 1e-9)
        for gates in self.sheets:
            told = [gate for gate in gates if gate.multiple * self.rating >= amperes]
            if not told and gates[-1].t_min > ADIABATIC:
                return None
            gate = max(told or gates[-1:], key=lambda gate: gate.t_min * gate.multiple**2)
            held = gate.t_min * (gate.multiple * self.rating / amperes) ** 2
            if worst is None or held < worst[0]:
                worst = (held, gate)
        return worst

    def bears(self, amperes: float, seconds: float) -> bool:
        """Whether it is sure to stay whole at a current for a time."""
        held = self.holds_for(amperes)
        by_gates = held is not None and held[0] >= seconds
        return by_gates or amperes**2 * seconds <= self.bears_i2t

    def rests_on(self, gate: Gate) -> tuple[Datum, ...]:
        """What a verdict from a gate rests on, when the gate is only remembered."""
        basis = Basis(gate.basis)
        what = f"the {gate.multiple:g} x gate of {gate.source}"
        return (Datum(what, basis),) if basis.weak else ()


class Fuses:
    """Fuses by reference; raises Missing where the speed is not stated."""

    def __init__(self, design: Design, mains: frozenset[str]) -> None:
        self._design = design
        self._mains = mains

    @property
    def all(self) -> tuple[Use[Fuse], ...]:
        return tuple(self._design.of(Fuse))

    def at_mains(self, part: Use[Fuse]) -> bool:
        """Whether it breaks the mains itself."""
        return not self._mains.isdisjoint(part.ends.values())

    def next_rating(self, amperes: float) -> float:
        """The smallest nominal rating that is not below a current, in amperes."""
        return min((r for r in fuse_ratings() if r >= amperes * (1 - 1e-9)), default=math.inf)

    def rating_below(self, amperes: float) -> float:
        """The largest nominal rating that is not above a current; 0 when there is none."""
        return max((r for r in fuse_ratings() if r <= amperes * (1 + 1e-9)), default=0.0)

    def breaking(self, part: Use[Fuse]) -> Limit:
        """The greatest current a fuse is sure to break; raises Missing where it is not told."""
        spec, volts = part.spec, self._design.document.site.mains.voltage
        standard = spec.standard or "IEC 60127-2"
        if standard == "UL 248-14" and volts <= UL_VOLTS:
            text = f"UL 248-14 at {UL_VOLTS:.0f} V (makers' data sheets)"
            return Limit(Figure(UL_AMPERES, "A"), Source("", text, Basis.STANDARD))
        known = breaking_capacity(spec.breaking, spec.current, standard)
        if known is None:
            raise Missing(
                f"the breaking capacity (L, E or H) of fuse {part.ref}",
                (*part.path, "breaking"),
                part.subject,
            )
        return as_limit(known, part.ref)

    def guard(self, ref: str) -> Guard:
        """The fuse with its gates; what the document leaves open is taken at its worst."""
        part = next(part for part in self.all if part.ref == ref)
        spec = part.spec
        if spec.speed is None:
            raise Missing(f"the speed (F or T) of fuse {ref}", (*part.path, "speed"), part.subject)
        standards = [spec.standard] if spec.standard else ["IEC 60127-2", "UL 248-14"]
        sheets = [spec.sheet] if spec.sheet else [None, 1, 2, 3, 5]
        letters = [spec.breaking] if spec.breaking else [None, "L", "H"]
        found: dict[tuple[Gate, ...], None] = {}
        for standard in standards:
            for sheet in sheets:
                for letter in letters:
                    gates = fuse_gates(standard, sheet, spec.speed, letter, spec.current)
                    if gates:
                        found.setdefault(tuple(gates))
        if not found:
            raise Missing(
                f"time-current gates for {ref}: no sheet in the library covers a"
                f" {spec.speed} {spec.current:g} A fuse of that standard",
                (*part.path, "standard"),
                part.subject,
            )
        item = fuse_item(spec.standard, spec.sheet, spec.current, spec.speed, spec.breaking)
        melting = spec.i2t or (item.i2t if item is not None else None)
        return Guard(part, spec.current, tuple(found), melting)


def make(design: Design, schematic: Schematic) -> Fuses:
    """Needs the library, and the schematic to tell the mains side."""
    return Fuses(design, mains_nets(design, schematic))
