"""Fuses and the time-current gates their standard sets them."""

from __future__ import annotations

from dataclasses import dataclass

from coldcheck.lint.design import Design, PartUse
from coldcheck.lint.model import Basis, Datum, Missing
from coldcheck.schemas.parts import Fuse
from coldcheck.schemas.reference import Gate, fuse_gates, fuse_item


@dataclass(frozen=True, slots=True)
class Guard:
    """A fuse with the gates of every standard sheet it may have been made to."""

    part: PartUse
    rating: float
    sheets: tuple[tuple[Gate, ...], ...]
    melting_i2t: float | None
    """Nominal melting I2t in A2 s of a maker's fuse of this kind; None when not known."""

    @property
    def standard(self) -> str:
        return self.sheets[0][0].source

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
                if gate.t_max is not None and gate.multiple * self.rating <= amperes
            ]
            if not passed:
                return None
            gate = max(passed, key=lambda gate: gate.multiple)
            assert gate.t_max is not None
            if worst is None or gate.t_max > worst[0]:
                worst = (gate.t_max, gate)
        return worst

    def holds_for(self, amperes: float) -> tuple[float, Gate] | None:
        """Shortest time the standard promises it stays whole at a current; None if no gate does."""
        worst: tuple[float, Gate] | None = None
        for gates in self.sheets:
            kept = [
                gate
                for gate in gates
                if gate.t_min is not None and gate.multiple * self.rating >= amperes
            ]
            if not kept:
                return None
            gate = max(kept, key=lambda gate: gate.t_min or 0.0)
            assert gate.t_min is not None
            if worst is None or gate.t_min < worst[0]:
                worst = (gate.t_min, gate)
        return worst

    def rests_on(self, gate: Gate) -> tuple[Datum, ...]:
        """What a verdict from a gate rests on, when the gate is only remembered."""
        basis = Basis(gate.basis)
        what = f"the {gate.multiple:g} x gate of {gate.source}"
        return (Datum(what, basis),) if basis.weak else ()


class Fuses:
    """Fuses by reference; raises Missing where the speed is not stated."""

    def __init__(self, design: Design) -> None:
        self._design = design

    @property
    def all(self) -> tuple[PartUse, ...]:
        return tuple(self._design.of(Fuse))

    def guard(self, ref: str) -> Guard:
        """The fuse with its gates; what the document leaves open is taken at its worst."""
        part = self._design.parts[ref]
        spec = part.spec
        assert isinstance(spec, Fuse)
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
        item = fuse_item(spec.standard, spec.sheet, spec.current)
        return Guard(part, spec.current, tuple(found), item.i2t if item is not None else None)


def make(design: Design) -> Fuses:
    """Needs only the document and the library."""
    return Fuses(design)
