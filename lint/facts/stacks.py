"""Capacitors in series with nothing to fix how they share the voltage."""

from __future__ import annotations

from typing import NamedTuple

from coldcheck.lint.design import Design, Use
from coldcheck.schemas.parts import Capacitor


class Stack(NamedTuple):
    """Capacitors that meet on nets where nothing else is: leakage decides how they share."""

    parts: tuple[Use[Capacitor], ...]
    ends: tuple[str, str]
    """The nets it stands between."""

    def shares(self) -> dict[str, float]:
        """What each has of the voltage from the first end to the second, with the sign it counts
        its own terminals by, when charged from empty.

        Charge that flows into a net between capacitors is none: C v summed over it is nothing.
        """
        import numpy as np

        nets = {net for part in self.parts for net in part.ends.values()}
        index = {net: at for at, net in enumerate((*self.ends, *sorted(nets - set(self.ends))))}
        farads = np.zeros((len(index), len(index)))
        for part in self.parts:
            a, b = (index[part.ends[terminal]] for terminal in part.spec.terminals())
            farads[[a, b], [a, b]] += part.spec.value
            farads[[a, b], [b, a]] -= part.spec.value
        volts = np.zeros(len(index))
        volts[0] = 1.0
        volts[2:] = np.linalg.solve(farads[2:, 2:], -farads[2:, 0])
        at = {net: float(volts[k]) for net, k in index.items()}
        found = {}
        for part in self.parts:
            one, other = (part.ends[terminal] for terminal in part.spec.terminals())
            found[part.ref] = at[one] - at[other]
        return found


class Stacks(NamedTuple):
    """Stacks without resistors across them, and whose they are."""

    loose: tuple[Stack, ...]

    def of(self, ref: str) -> Stack | None:
        """The stack a capacitor is in; None when something fixes its voltage."""
        return next((s for s in self.loose if any(p.ref == ref for p in s.parts)), None)


def make(design: Design) -> Stacks:
    """Nets on which only capacitors end; raises nothing."""
    capacitors = {p.ref: p for p in design.of(Capacitor) if len(set(p.ends.values())) == 2}
    inner = {
        net
        for net, ends in design.nets.items()
        if {ref for ref, _terminal in ends} <= capacitors.keys()
    }
    found: list[Stack] = []
    waiting = sorted(inner)
    while waiting:
        edge = [waiting.pop(0)]
        within = set(edge)
        members: dict[str, Use[Capacitor]] = {}
        while edge:
            for ref, _terminal in design.nets[edge.pop()]:
                members[ref] = capacitors[ref]
                fresh = set(capacitors[ref].ends.values()) & inner - within
                within |= fresh
                edge += sorted(fresh)
        waiting = [net for net in waiting if net not in within]
        ends = dict.fromkeys(
            part.net(terminal) or ""
            for part in design.of(Capacitor)
            if part.ref in members
            for terminal in part.spec.terminals()
        )
        outer = [net for net in ends if net not in within]
        if len(outer) == 2:
            parts = tuple(part for ref, part in capacitors.items() if ref in members)
            found.append(Stack(parts, (outer[0], outer[1])))
    return Stacks(tuple(found))
