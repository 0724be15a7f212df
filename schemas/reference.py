"""The reference libraries: what standards, makers and handbooks say, read when first asked for."""

from __future__ import annotations

from coldcheck.schemas.rated import Rated
from coldcheck.schemas.tubes import (
    HeaterOption,
    Section,
    TubeLaw,
    TubeType,
    tube,
    tube_like,
    tube_names,
)

__all__ = [
    "HeaterOption",
    "Rated",
    "Section",
    "TubeLaw",
    "TubeType",
    "tube",
    "tube_like",
    "tube_names",
]
