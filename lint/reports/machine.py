"""The review as JSON, for programs: nothing left out, SI units, the same bytes every time.

The document is one object::

    format    1; a change that could break a reader raises it
    coldcheck the version that wrote it
    reviews   one object for each document that could be read, in the order asked for
    unread    one object for each that could not: file, and its troubles as printed lines
    rules     rule name to its card: title, harm (a name of coldcheck.lint.model.Harm), why,
              sources, needs, states

A review has ``file``, ``project``, ``revision``, ``parts``, ``nets``, ``wires``, ``notes``,
``counts`` (signal word to findings not accepted), ``findings`` (gravest first), ``opens``,
``passes``, ``not_applicable`` (rule names) and ``crashes`` (``rule``, ``error``, ``where``).

Findings, opens and passes share one shape: ``rule``, ``title``, ``kind`` (``fail``, ``open``,
``pass``), ``signal``, ``about`` and ``others`` (``kind``, ``name``, ``path`` in the document),
``place`` (``file``, ``line``, ``column``, ``end_line``, ``end_column``; from 1, in characters, the
end exclusive; or null), ``says``, ``remedy``, ``value`` and ``limit`` (null when there is none),
``state``, ``working``, ``rests_on`` (``what``, ``basis``), ``datum`` (of an open: what is missing),
``rank`` (0 to 100) and ``accepted`` (``reason``, ``by``, ``date``, ``until``; or null).

A figure is ``{"value": number, "unit": SI symbol}``; as JSON has no infinity, ``value`` may be the
text ``"Infinity"``, ``"-Infinity"`` or ``"NaN"``.  A limit is ``figure``, ``source`` (``key``,
``text``, ``basis``) and ``most`` (true: an upper bound).  Texts are as the document has them:
whoever prints them makes control characters visible.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from enum import Enum

from coldcheck.lint.model import Card, Harm, Review, Signal
from coldcheck.lint.reports import words

FORMAT = 1

# File name and the lines that say why it could not be read.
Unread = tuple[str, tuple[str, ...]]


def report(reviews: Sequence[Review], version: str, unread: Sequence[Unread] = ()) -> str:
    """All reviews as one JSON document, keys sorted, ending in a newline."""
    cards: dict[str, Card] = {}
    for review in reviews:
        cards.update(review.cards)
    document = {
        "format": FORMAT,
        "coldcheck": version,
        "reviews": [_review(review) for review in reviews],
        "unread": [{"file": file, "troubles": list(lines)} for file, lines in unread],
        "rules": {rule: _without_name(card) for rule, card in cards.items()},
    }
    return json.dumps(document, allow_nan=False, ensure_ascii=True, indent=1, sort_keys=True) + "\n"


def _review(review: Review) -> dict[str, object]:
    entry = {name: _plain(value) for name, value in review._asdict().items() if name != "cards"}
    live = words.live(review)
    entry["counts"] = {word.name: sum(item.signal is word for item in live) for word in Signal}
    return entry


def _without_name(card: Card) -> dict[str, object]:
    return {name: _plain(value) for name, value in card._asdict().items() if name != "rule"}


def _plain(value: object) -> object:
    """A value of the model as what JSON can hold."""
    if isinstance(value, Signal | Harm):
        return value.name
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float) and not math.isfinite(value):
        return "NaN" if math.isnan(value) else "Infinity" if value > 0 else "-Infinity"
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return {name: _plain(item) for name, item in value._asdict().items()}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return value
