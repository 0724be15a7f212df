"""Pulled tubes: the warm state with one bulb out of its socket, heater and all."""

from __future__ import annotations

from coldcheck.lint.design import Design
from coldcheck.lint.facts.warm import ENOUGH, State, Warm, solve
from coldcheck.lint.netlist import Setting


class Pulled:
    """The state without each tube, with the mains at its highest; solved when first asked for."""

    def __init__(self, design: Design, warm: Warm) -> None:
        self._design = design
        self._warm = warm
        self._known: dict[str, State] = {}

    def without(self, ref: str) -> State:
        """The state with the tube of that reference pulled: "V2 pulled, mains high"."""
        if ref not in self._known:
            setting = Setting(self._warm.mains["high"], open_parts=frozenset({ref}))
            name = f"{ref} pulled, mains high"
            self._known[ref] = solve(self._design, name, setting, self._warm.high, ENOUGH)
        return self._known[ref]


def make(design: Design, warm: Warm) -> Pulled:
    """Lazy: nothing is solved until a tube is pulled."""
    return Pulled(design, warm)
