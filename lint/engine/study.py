"""Facts made on demand: each once, when the first rule that needs it is run."""

from __future__ import annotations

import importlib
from typing import Any

from coldcheck.lint.design import Design
from coldcheck.lint.model import Missing, NothingToJudge
from coldcheck.lint.rulekit import NEEDS


class Study:
    """Holds what has been made so far for one design.

    A fact that cannot be made is remembered as the exception it raised, so that every rule that
    needs it hears the same reason and nothing is computed twice.
    """

    def __init__(self, design: Design) -> None:
        self._made: dict[str, Any] = {"Design": design}
        self._failed: dict[str, Exception] = {}

    def get(self, name: str) -> Any:
        """The fact of that name; raises what its making raised."""
        if name in self._failed:
            raise self._failed[name]
        if name not in self._made:
            try:
                self._made[name] = self._make(name)
            except Exception as trouble:
                self._failed[name] = trouble
                raise
        return self._made[name]

    def _make(self, name: str) -> Any:
        module, _words = NEEDS[name]
        make = importlib.import_module(module).make
        asks = [need for slot, need in make.__annotations__.items() if slot != "return"]
        return make(*(self._given(need) for need in asks))

    def _given(self, need: str) -> Any:
        """A fact a maker asks for; None where "Name | None" allows for there being none."""
        name, optional = need.removesuffix(" | None"), need.endswith(" | None")
        try:
            return self.get(name)
        except (Missing, NothingToJudge):
            if optional:
                return None
            raise
