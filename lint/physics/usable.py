"""Values no solver can use are refused before it is asked, by the element's own name."""

from __future__ import annotations

import functools
import math

from coldcheck.lint.physics.circuit import Coil, Element, Inductor, NotSolved, Transformer

_LIMITS = {
    "ohms": (0.0, "resistance"),
    "farads": (0.0, "capacitance"),
    "henries": (0.0, "inductance"),
    "slope": (1e-6, "slope voltage"),
    "perveance": (1e-300, "perveance"),
    "volts": (1e-3, "voltage it conducts at"),
    "turns": (1e-300, "number of turns"),
    "magnetising": (1e-300, "magnetising inductance"),
    "strikes": (1e-3, "striking voltage"),
    "gain": (1e-3, "current gain"),
    "steepness": (1e-300, "steepness"),
    "dropout": (1e-3, "drop-out voltage"),
    "most": (1e-6, "largest current"),
    "quiescent": (0.0, "quiescent current"),
}
_NAMES = ("dc", "peak", "phase", "amperes", "threshold", *_LIMITS)


def require_numbers(element: Element) -> None:
    """Raise NotSolved when a value of an element is not finite or out of its range."""
    things: list[Element | Coil] = [element]
    if isinstance(element, Transformer):
        things += element.coils
    for thing in things:
        kind: type = type(thing)
        for name, least, words in _bounds(kind):
            value = getattr(thing, name)
            if value is not None and (not math.isfinite(value) or value < least):
                raise _unusable(thing.name, words)
    saturation = getattr(element, "saturation", None)
    if isinstance(element, Inductor | Transformer):
        own = element.henries if isinstance(element, Inductor) else element.magnetising
        if saturation is not None:
            knee, left = saturation.amperes, saturation.henries
            if own is None:
                raise _unusable(element.name, "magnetising inductance")
            if not (math.isfinite(knee) and knee > 0.0 and 0.0 < left <= own):
                raise _unusable(element.name, "saturation")
    elif saturation is not None and not (math.isfinite(saturation) and saturation >= 1e-300):
        raise _unusable(element.name, "saturation current")


@functools.cache
def _bounds(kind: type) -> tuple[tuple[str, float, str], ...]:
    """Names of an element's numbers, each with the least it may be and how it is called."""
    own = [name for name in _NAMES if hasattr(kind, name)]
    return tuple((name, *_LIMITS.get(name, (-math.inf, name))) for name in own)


def _unusable(name: str, words: str) -> NotSolved:
    return NotSolved(f"{name} has no usable {words}", elements=(name,))
