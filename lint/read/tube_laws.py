"""Current laws of the tube types a builder writes himself."""

from __future__ import annotations

from types import MappingProxyType

from coldcheck.lint.model import DocumentPath
from coldcheck.lint.read.problems import Problems
from coldcheck.schemas.tube_entry import LawEntry, PlatePoint, TubeEntry
from coldcheck.schemas.tube_points import Point, Unfit, pentode_through, triode_through
from coldcheck.schemas.tubes import FORMS, LAW_OF, TubeLaw, TubeType


def laws_of(
    entry: TubeEntry, kind: TubeType, path: DocumentPath, problems: Problems
) -> dict[int, TubeLaw]:
    """By section number: the laws an entry gives; what cannot be goes to ``problems``.

    kind: the type as far as it is known; path: of its entry.
    """
    found: dict[int, TubeLaw] = {}
    several = isinstance(entry.law, list)
    listed = entry.law if isinstance(entry.law, list) else [entry.law]
    for at, one in enumerate(listed):
        where: DocumentPath = (*path, "law", at) if several else (*path, "law")
        form = _form(one, where, problems)
        if form is None:
            continue
        fits = [
            section.number
            for section in kind.sections
            if LAW_OF.get(section.kind) == form and one.section in (None, section.number)
        ]
        if not fits:
            kinds = ", ".join(section.kind for section in kind.sections)
            said = f"a law that fits no section of {kind.name} ({kinds})"
            problems.add(where, said, "a law of one of its sections", on_key=True)
            continue
        law = _law(one, form, entry, where, problems)
        if law is not None:
            found |= dict.fromkeys(fits, law)
    return found


def _form(entry: LawEntry, path: DocumentPath, problems: Problems) -> str | None:
    """The form of law an entry is of; reports one that is of none, or of several at once."""
    ways = [way for way in ("point", "drop", "form") if getattr(entry, way) is not None]
    if len(ways) != 1:
        said = f"a law with {' and '.join(ways) or 'nothing to make it of'}"
        expected = "one of point (published currents), drop (a diode's) and form (parameters)"
        problems.add(path, said, expected, on_key=True)
        return None
    known = {name for names in FORMS.values() for name in names}
    given = {name for name in known if getattr(entry, name) is not None}
    wanted = set(FORMS[entry.form]) if entry.form is not None else set()
    if given != wanted:
        what = entry.form or ways[0]
        odd = sorted(given - wanted) or sorted(wanted - given)
        said = f"{what} {'with' if given - wanted else 'without'} {', '.join(odd)}"
        expected = ", ".join(FORMS[entry.form]) if entry.form is not None else "no parameters"
        problems.add(path, said, f"{expected} for {what}", on_key=True)
        return None
    if entry.form is not None:
        return entry.form
    if entry.point is None:
        return "three-halves"
    return "koren" if entry.point.screen_volts is None else "reefman"


def _law(
    entry: LawEntry, form: str, of: TubeEntry, path: DocumentPath, problems: Problems
) -> TubeLaw | None:
    source = entry.source or of.source
    basis = "assumed" if (entry.basis or of.basis) == "assumed" else "derived"
    if entry.form is not None:
        parameters = {name: float(getattr(entry, name)) for name in FORMS[form]}
        return TubeLaw(form, MappingProxyType(parameters), 0, {}, 0, {}, basis, source)
    if entry.drop is not None:
        parameters = {"perveance": entry.drop.amperes / entry.drop.volts**1.5}
        said = f"derived from one drop: {source}"
        return TubeLaw(form, MappingProxyType(parameters), 1, {}, 0, {}, basis, said)
    point = _point(entry.point) if entry.point is not None else None
    if point is None:
        problems.add((*path, "point", "grid_volts"), "a grid above its cathode", "0 V or less")
        return None
    try:
        made = triode_through(point) if form == "koren" else pentode_through(point)
    except Unfit as fault:
        said = "a point no law can be made of"
        problems.add((*path, "point"), said, str(fault), on_key=True)
        return None
    if form == "reefman":
        basis = "assumed"  # the knee is, and it decides what a driven screen takes
    said = "; ".join(filter(None, ("derived from one point", made.assumed)))
    return TubeLaw(
        form,
        MappingProxyType(made.parameters),
        1,
        MappingProxyType(made.worst),
        0,
        {},
        basis,
        f"{said}: {source}",
    )


def _point(written: PlatePoint) -> Point | None:
    if written.grid_volts > 0.0:
        return None
    return Point(
        plate=written.plate_volts,
        grid=written.grid_volts,
        amperes=written.plate_amperes,
        mu=written.mu,
        transconductance=written.transconductance,
        plate_ohms=written.plate_ohms,
        screen=written.screen_volts,
        screen_amperes=written.screen_amperes,
    )
