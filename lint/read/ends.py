"""What one part's entry in [schematic] or [leads] says, terminal by terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from coldcheck.lint.design import METAL, socket_pins, tie_points
from coldcheck.lint.model import DocumentPath
from coldcheck.lint.read.problems import Problems
from coldcheck.schemas.document import Ends
from coldcheck.schemas.parts import AnyPart, GroundBus, TerminalStrip, Tube
from coldcheck.schemas.reference import TubeType

Written = dict[str, tuple[str, DocumentPath]]
"""Terminal -> the name it was given, and where that is written."""


def resolved(
    ref: str,
    spec: AnyPart,
    kind: TubeType | None,
    given: Ends,
    path: DocumentPath,
    problems: Problems,
    section: int | None = None,
) -> Written:
    """The names an entry gives to the terminals of a part; what cannot be goes to ``problems``.

    section: of a twin tube, the one that electrode names mean.
    """
    terminals = spec.terminals()
    if isinstance(given, dict):
        found: Written = {}
        for name, value in given.items():
            here = (*path, name)
            one = _by_name(ref, spec, kind, name, value, here, problems, section)
            for terminal in found.keys() & one.keys():
                problems.add(here, f'"{name}" of {ref}, given twice', "each once", on_key=True)
                del one[terminal]
            found |= one
        return found
    if isinstance(spec, Tube | TerminalStrip | GroundBus):
        by = (
            "pin"
            if isinstance(spec, Tube)
            else "lug"
            if isinstance(spec, TerminalStrip)
            else "point"
        )
        many = "a list" if isinstance(given, list) else "one name"
        problems.add(path, f"{many} for {ref}", f'names by {by}, such as {{ 1 = "..." }}')
        return {}
    if isinstance(given, str):
        if len(terminals) != 1:
            problems.add(path, f"one name for {ref}", _in_order(terminals))
            return {}
        return {terminals[0]: (given, path)}
    return _listed(ref, terminals, given, path, problems)


def _by_name(
    ref: str,
    spec: AnyPart,
    kind: TubeType | None,
    name: str,
    value: str | list[str],
    here: DocumentPath,
    problems: Problems,
    section: int | None,
) -> Written:
    terminals = spec.terminals()
    group = tuple(terminal for terminal in terminals if terminal.startswith(f"{name}."))
    if isinstance(value, list):
        if group:
            return _listed(f"{ref} {name}", group, value, here, problems)
        windings = sorted({t.partition(".")[0] for t in terminals if "." in t})
        expected = f"one of its windings: {', '.join(windings)}" if windings else "one name"
        problems.add(here, f'a list for "{name}" of {ref}', expected, name, windings, on_key=True)
        return {}
    if isinstance(spec, Tube):
        pin = electrode_pin(kind, name, section)
        if pin is not None:
            return {str(pin): (value, here)}
        expected, known = _pins(spec, kind, section)
        problems.add(here, f'pin "{name}" of {ref}', expected, name, known, on_key=True)
        return {}
    if name in terminals:
        return {name: (value, here)}
    if group:
        problems.add(here, f'one name for "{name}" of {ref}', _in_order(group), on_key=True)
        return {}
    known = (*terminals, *dict.fromkeys(t.partition(".")[0] for t in terminals if "." in t))
    problems.add(here, f'terminal "{name}" of {ref}', _one_of(terminals), name, known, on_key=True)
    return {}


def _listed(
    what: str, terminals: tuple[str, ...], given: list[str], path: DocumentPath, problems: Problems
) -> Written:
    if len(given) != len(terminals):
        names = "1 name" if len(given) == 1 else f"{len(given)} names"
        problems.add(path, f"{names} for {what}", _in_order(terminals))
        return {}
    pairs = zip(terminals, given, strict=True)
    return {terminal: (name, (*path, at)) for at, (terminal, name) in enumerate(pairs)}


def tie_point(
    text: str,
    specs: Mapping[str, AnyPart],
    types: Mapping[str, TubeType | None],
    path: DocumentPath,
    problems: Problems,
) -> str:
    """ "V1.5", "V1.plate" or "E1" as a tie point; "" and a problem when there is no such point."""
    ref, _dot, name = text.partition(".")
    spec = specs.get(ref)
    if spec is None:
        expected = "a tie point of a listed part, such as TB1.2"
        if ref == METAL:
            expected = "a tie point; the metal is reached by the lug of a chassis bond"
        problems.add(path, f'"{text}", and there is no part "{ref}"', expected, ref, specs)
        return ""
    kind = types.get(ref)
    points = tie_points(spec, kind)
    if not name and len(points) == 1:
        return f"{ref}.{points[0]}"
    if name in points:
        return f"{ref}.{name}"
    expected, known = _one_of(points), points
    if isinstance(spec, Tube):
        pin = electrode_pin(kind, name, None)
        if pin is not None:
            return f"{ref}.{pin}"
        expected, known = _pins(spec, kind, None)
    what = f'{ref} has no point "{name}"' if name else f"it names no point of {ref}"
    problems.add(path, f'"{text}", and {what}', expected, name, known)
    return ""


def electrode_pin(kind: TubeType | None, name: str, section: int | None) -> int | None:
    """Pin of a socket by its number, or by electrode name within a section of the tube."""
    if name.isascii() and name.isdigit():
        pin = int(name[:4])
        return pin if pin in socket_pins(kind) else None
    return _electrodes(kind, section).get(name)


def _electrodes(kind: TubeType | None, section: int | None) -> Mapping[str, int]:
    """Electrodes that go by name: those of the section, or of a tube that has only one."""
    if kind is None:
        return {}
    wanted = [s for s in kind.sections if section is None or s.number == section]
    return wanted[0].electrodes if len(wanted) == 1 else {}


def _pins(spec: Tube, kind: TubeType | None, section: int | None) -> tuple[str, tuple[str, ...]]:
    """What pins a tube's socket has, in words and as a list of names."""
    pins, names = socket_pins(kind), tuple(_electrodes(kind, section))
    expected = f"a pin from {pins[0]} to {pins[-1]}"
    if names:
        expected += f", or {', '.join(names)}"
    elif kind is None:
        expected += f" ({spec.type} is not in the library: its electrodes are not known by name)"
    elif len(kind.sections) > 1 and section is None:
        expected += f" (it has {len(kind.sections)} sections: electrode names are not enough)"
    return expected, (*map(str, pins), *names)


def _in_order(terminals: Sequence[str]) -> str:
    if not terminals:
        return "nothing: it has no terminals of its own"
    # a winding with a tap that is left unused
    single = f'; or single ones, such as "{terminals[0]}" = "..."' if "." in terminals[0] else ""
    return f"{len(terminals)}, in this order: {', '.join(terminals)}{single}"


def _one_of(names: Sequence[str]) -> str:
    return f"one of {', '.join(names)}" if names else "nothing: it has no terminals of its own"


def names_in(table: Mapping[str, Ends], path: DocumentPath) -> Iterator[tuple[str, DocumentPath]]:
    """Every name a table of ends gives, with its place."""
    waiting: list[tuple[object, DocumentPath]] = [(table, path)]
    while waiting:
        given, here = waiting.pop()
        if isinstance(given, str):
            yield given, here
        elif isinstance(given, Mapping):
            waiting += [(value, (*here, key)) for key, value in reversed(list(given.items()))]
        elif isinstance(given, list):
            waiting += [(given[at], (*here, at)) for at in reversed(range(len(given)))]
