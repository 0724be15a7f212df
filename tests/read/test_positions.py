"""The position scanner against tomli: same paths, and each span holds what it says."""

from __future__ import annotations

from typing import Any

import pytest
import tomli
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from coldcheck.lint.model import DocumentPath
from coldcheck.lint.read.positions import DEEPEST, Positions, Span, TooDeep, scan

# A generator of valid documents that uses every way TOML has of writing a thing.

_NASTY = "abR4_-. \"'\\=[]{}#,\té\u202e\U0001f600\u0000\n"
_KEYS = st.one_of(
    st.text("abR4_-", min_size=1, max_size=4),
    st.text(_NASTY, min_size=0, max_size=5),
)
_SCALARS = st.sampled_from(
    [
        "1",
        "0x1F",
        "+1_000",
        "0.5e-3",
        "inf",
        "true",
        "1979-05-27",
        "1979-05-27 07:32:00",
        "1979-05-27T07:32:00.5-07:00",
        "07:32:00",
        '"47k"',
        '"a # b ] } , \\" \\\\"',
        "'C:\\'",
        '""',
        '"""\nline one\n# "" two \\\n   ] three"""',
        '"""x""\\""""',
        '"""ends in two"""""',
        '"""""""',
        "'''\nraw ''\n\\'''",
        "'''ends in one''''",
        '"\U0001f600 é"',
    ]
)


def _escaped(key: str) -> str:
    marks = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t"}
    return '"' + "".join(marks.get(c, c if ord(c) > 31 else f"\\u{ord(c):04x}") for c in key) + '"'


def _spelt(draw: st.DrawFn, key: str) -> str:
    ways = [_escaped(key)]
    if key and all(c.isascii() and (c.isalnum() or c in "_-") for c in key):
        ways += [key, key]
    if "'" not in key and "\n" not in key and "\0" not in key:
        ways.append(f"'{key}'")
    return draw(st.sampled_from(ways))


def _gap(draw: st.DrawFn) -> str:
    return draw(st.sampled_from(["", " ", "\t ", "  "]))


def _lines(draw: st.DrawFn) -> str:
    return draw(st.sampled_from(["", "\n", " ", '\n\t# ] } = "\n', "# c\n\n"]))


def _dotted(draw: st.DrawFn, path: list[str]) -> str:
    dot = draw(st.sampled_from([".", " . ", ". "]))
    return dot.join(_spelt(draw, key) for key in path)


def _value(draw: st.DrawFn, item: Any) -> str:
    if isinstance(item, list):
        parts = [_lines(draw) + _value(draw, each) + _lines(draw) for each in item]
        comma = "," if len(parts) > 0 and draw(st.booleans()) else ""
        return "[" + ",".join(parts) + comma + _lines(draw) + "]"
    if isinstance(item, dict):
        parts = [_lines(draw) + line + _lines(draw) for line in _pairs(draw, item)]
        comma = "," if len(parts) > 0 and draw(st.booleans()) else ""
        return "{" + ",".join(parts) + comma + _lines(draw) + "}"
    return str(item)


def _pairs(draw: st.DrawFn, table: dict[str, Any], before: tuple[str, ...] = ()) -> list[str]:
    """``key = value`` texts of a table, some of its tables opened up as dotted keys."""
    lines: list[str] = []
    for key, item in table.items():
        path = [*before, key]
        if isinstance(item, dict) and item and draw(st.booleans()):
            lines += _pairs(draw, item, tuple(path))
        else:
            name = _dotted(draw, path)
            lines.append(f"{name}{_gap(draw)}={_gap(draw)}{_value(draw, item)}")
    return lines


def _tables(draw: st.DrawFn, table: dict[str, Any], path: list[str]) -> list[str]:
    """A table under its header: pairs first, then sub-tables and lists of tables."""
    below: list[str] = []
    here: dict[str, Any] = {}
    for key, item in table.items():
        sub = [*path, key]
        if isinstance(item, dict) and draw(st.booleans()):
            if (
                not item
                or draw(st.booleans())
                or not all(isinstance(v, dict) for v in item.values())
            ):
                below.append(f"[{_gap(draw)}{_dotted(draw, sub)}{_gap(draw)}]{_gap(draw)}#t")
                below += _tables(draw, item, sub)
            else:  # only the sub-tables have headers
                for name, inner in item.items():
                    below.append(f"[{_dotted(draw, [*sub, name])}]")
                    below += _tables(draw, inner, [*sub, name])
        elif (
            isinstance(item, list)
            and item
            and all(isinstance(each, dict) for each in item)
            and draw(st.booleans())
        ):
            for each in item:
                below.append(f"[[{_gap(draw)}{_dotted(draw, sub)}]]")
                below += _tables(draw, each, sub)
        else:
            here[key] = item
    lines = [_gap(draw) + line + _gap(draw) for line in _pairs(draw, here)]
    return [*lines, *below]


_TREES = st.dictionaries(
    _KEYS,
    st.recursive(
        _SCALARS,
        lambda inner: st.one_of(
            st.lists(inner, max_size=3),
            st.dictionaries(_KEYS, inner, max_size=3),
            st.lists(st.dictionaries(_KEYS, inner, max_size=2), min_size=1, max_size=2),
        ),
        max_leaves=8,
    ),
    min_size=1,
    max_size=4,
)


@st.composite
def documents(draw: st.DrawFn) -> str:
    """The text of a valid TOML document."""
    lines = _tables(draw, draw(_TREES), [])
    text = "".join(line + draw(st.sampled_from(["\n", "\n\n", " # c\n"])) for line in lines)
    if draw(st.booleans()):
        text = text.replace("\n", "\r\n")
    return text if draw(st.booleans()) else text.rstrip("\r\n")


def sliced(positions: Positions, span: Span) -> str:
    start = positions.offset(span.line, span.column)
    return positions.text[start : positions.offset(span.end_line, span.end_column)]


def everything(here: Any, path: DocumentPath = ()) -> dict[DocumentPath, Any]:
    found: dict[DocumentPath, Any] = {path: here} if path else {}
    if isinstance(here, dict | list):
        for step, item in here.items() if isinstance(here, dict) else enumerate(here):
            found.update(everything(item, (*path, step)))
    return found


def check(text: str) -> None:
    wanted = everything(tomli.loads(text))
    positions = scan(text)
    assert positions.stopped is None
    assert positions.repeats == []
    assert set(positions.paths()) == set(wanted)
    for path, item in wanted.items():
        if (key := positions.key(path)) is not None:
            assert list(tomli.loads(sliced(positions, key) + " = 1")) == [path[-1]]
        if (value := positions.value(path)) is not None:
            assert repr(tomli.loads("v = " + sliced(positions, value))["v"]) == repr(item)
        if (header := positions.header(path)) is not None:
            assert isinstance(item, dict)
            assert sliced(positions, header).startswith("[")
            assert sliced(positions, header).endswith("]")
        if not isinstance(item, dict | list):
            assert positions.value(path) is not None
        if isinstance(path[-1], str):
            assert key is not None
            assert positions.nearest(path) == key
        else:
            assert positions.nearest(path) == (header or value)
        assert positions.nearest((*path, "no such step", 7)) == positions.nearest(path)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(documents())
def test_random_documents_map_as_tomli_reads_them(text: str) -> None:
    check(text)


HAND_WRITTEN = [
    "a = 1",
    "a=1\r\nb = [\r\n 1, # one\r\n 2 ]\r\n[t]\r\nc='x'\r\n",
    "[[parts]]\nref = 'R1'\n[parts.size]\nw = 1\n[[parts]]\n[[parts.pins]]\nn = 1\n[[parts.pins]]\n",
    "a.b.c = 1\na.b.d = 2\na.'e.f'.\"g\\u0020h\" = 3",
    "[a.b]\nx = 1\n[a]\ny = 2\n[a.c.d]",
    'k = {a = {b.c = [1, {d = "]"}], e = """}\n"""}, f = \'#\'}',
    "k = {\n  a = 1, # comment with } and ]\n  b = 2,\n}",
    "a = [[], [[1], {}], [{x = []}]]",
    "[x.y.z.w]\n[x]\n",
    "\"\" . a = 2\n''.b = 1",
    "d = 1979-05-27 07:32:00 # a space inside\ne = [1979-05-27 07:32:00,07:32:00]",
    "s = \"\"\"\"one quote\"\"\"\"\nt = ''''''\nu = '''''x'''''",
    "v = '''a\r\nb'''\r\nw = 1",
    "x = 'é\U0001f600' # wide\ny = 2",
    "1 = 2\ntrue = false\n1979-05-27 = 3\n-1 = 4",
    "\n\n# only at the end\n\na = 1#no space",
]


@pytest.mark.parametrize("text", HAND_WRITTEN)
def test_hand_written_documents_map_as_tomli_reads_them(text: str) -> None:
    check(text)


def test_spans_count_characters_from_one() -> None:
    positions = scan('x = "\U0001f600"\ny.z = [1,\n  22]\n[t . "u v"]\n')
    assert positions.value(("x",)) == Span(1, 5, 1, 8)
    assert positions.key(("y",)) == Span(2, 1, 2, 2)
    assert positions.key(("y", "z")) == Span(2, 3, 2, 4)
    assert positions.value(("y", "z")) == Span(2, 7, 3, 6)
    assert positions.value(("y", "z", 1)) == Span(3, 3, 3, 5)
    assert positions.header(("t", "u v")) == Span(4, 1, 4, 12)
    assert positions.key(("t", "u v")) == Span(4, 6, 4, 11)
    assert positions.header(("t",)) is None
    assert positions.key(("nothing",)) is None
    assert positions.value(("nothing",)) is None
    assert positions.nearest(("nothing",)) == Span(1, 1, 1, 8)


def test_text_that_is_not_toml_is_mapped_up_to_the_fault() -> None:
    text = "a = 1\nb = [2,\n"
    positions = scan(text)
    assert positions.stopped == len(text)
    assert positions.value(("a",)) == Span(1, 5, 1, 6)
    assert [one.path for one in positions.statements] == [("a",), ("b",)]


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 10**5, "a" + ".a" * 10**5 + " = 1", "[a" + ".a" * 10**5 + "]", "a = {b" * 99],
)
def test_depth_is_bounded(text: str) -> None:
    with pytest.raises(TooDeep):
        scan(text)


def test_depth_bound_leaves_what_a_document_needs() -> None:
    check("a" + ".a" * (DEEPEST - 1) + " = 1")
    check("a = " + "[" * (DEEPEST - 1) + "]" * (DEEPEST - 1))


@pytest.mark.parametrize(
    "text",
    ['a = "' + "\\" * 99_999, 'a = """' + '""x' * 99_999, "a = '''" + "''x" * 99_999, " " * 10**6],
)
def test_hostile_strings_stop_the_scan_without_backtracking(text: str) -> None:
    positions = scan(text)
    assert set(positions.paths()) <= {("a",)}
