"""What every kind of part has: the base of the kinds in :mod:`coldcheck.schemas.parts`."""

from collections.abc import Iterator
from typing import Annotated, Any, get_args

from pydantic import Field

from coldcheck.schemas.fields import BasisWord, Chapter, Measure


class Part(Chapter):
    """What every part may say besides its kind's own values."""

    kind: str
    note: Annotated[str, Field(max_length=400)] = ""
    basis: BasisWord | dict[str, BasisWord] | None = None
    """Where the values come from; one word for all, or one per value name."""
    size: Annotated[tuple[Measure, Measure, Measure], Field(strict=False)] | None = None
    """Width, depth and height of the body, in millimetres."""

    def terminals(self) -> tuple[str, ...]:
        """Terminal names in list order; empty for mere tie points and for tubes (pins)."""
        return ("1", "2")

    @classmethod
    def value_names(cls) -> Iterator[str]:
        """Names that ``basis`` may give a word for: the part's values, windings' included."""
        waiting: list[Any] = [cls]
        while waiting:
            kind = waiting.pop()
            if isinstance(kind, type) and issubclass(kind, Chapter):
                fields = {n: f for n, f in kind.model_fields.items() if n not in Part.model_fields}
                yield from fields.keys() - {"kind"}
                waiting += [field.annotation for field in fields.values()]
            else:
                waiting += get_args(kind)

    def basis_of(self, value: str) -> BasisWord | None:
        """The stated basis of one of this part's values."""
        return self.basis.get(value) if isinstance(self.basis, dict) else self.basis
