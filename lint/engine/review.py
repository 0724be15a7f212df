"""One review, start to finish: read, resolve, judge, settle."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from coldcheck.lint.design import tube_remarks
from coldcheck.lint.engine.abreast import judge_abreast
from coldcheck.lint.engine.catalogue import ACCEPTANCE, catalogue, selected
from coldcheck.lint.engine.judge import judge
from coldcheck.lint.engine.settle import accept, findings, order
from coldcheck.lint.engine.study import Study
from coldcheck.lint.model import Kind, Review
from coldcheck.lint.read.positions import Positions
from coldcheck.lint.read.project import Loaded, load
from coldcheck.lint.read.toml import read_file, read_text
from coldcheck.lint.read.tube_types import TubeTypes


def review_path(
    path: str | Path,
    today: datetime.date,
    only: Iterable[str] = (),
    types: TubeTypes | None = None,
    abreast: bool = False,
) -> Review:
    """Review a file; raises InputError when it cannot be read as a project document.

    types: the tube types there are beside the document's own; the shipped ones when not given.
    abreast: in two processes; for a process of one thread that is there for the review.
    """
    raw, positions = read_file(path)
    return review(load(raw, positions, str(path), types), today, only, abreast)


def review_text(
    data: bytes,
    name: str,
    today: datetime.date,
    only: Iterable[str] = (),
    types: TubeTypes | None = None,
    abreast: bool = False,
) -> Review:
    """Review a document held in memory, called ``name`` in the report."""
    raw, positions = read_text(data, name)
    return review(load(raw, positions, name, types), today, only, abreast)


def review_values(
    raw: Mapping[str, Any],
    positions: Positions,
    name: str,
    today: datetime.date,
    only: Iterable[str] = (),
    types: TubeTypes | None = None,
) -> Review:
    """Review a parsed document."""
    return review(load(raw, positions, name, types), today, only)


def review(
    loaded: Loaded, today: datetime.date, only: Iterable[str] = (), abreast: bool = False
) -> Review:
    """Run the selected rules, or all of them, on a loaded design."""
    design, known = loaded.design, catalogue()
    rules = selected(only)
    heard = (judge_abreast if abreast else judge)(rules, Study(design), design.subject)
    cards = {name: rule.card for name, rule in rules.items()} | {ACCEPTANCE.rule: ACCEPTANCE}
    settled = accept(
        findings(heard.verdicts, cards, loaded.place),
        design.document.accept,
        today,
        lambda name: name in rules if name in known.rules else None,
        loaded.place,
    )
    by_kind = {kind: tuple(order([f for f in settled if f.kind is kind])) for kind in Kind}
    return Review(
        file=loaded.file,
        project=design.document.project.name,
        revision=design.document.project.revision,
        findings=by_kind[Kind.FAIL],
        opens=by_kind[Kind.OPEN],
        passes=by_kind[Kind.PASS],
        not_applicable=heard.silent,
        crashes=(*known.missing, *heard.crashes),
        cards=cards,
        notes=tube_remarks(design),
        parts=len(design.parts),
        nets=len(design.nets),
        wires=len(design.wires),
    )
