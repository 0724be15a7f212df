"""Bad input: one clear line with a place, never a traceback, never a long wait."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lint.model import Place
from coldcheck.lint.read.errors import InputError, Trouble, clean
from coldcheck.lint.read.spelling import nearest
from coldcheck.lint.read.toml import LARGEST, read_file, read_text


def trouble(data: str | bytes) -> Trouble:
    with pytest.raises(InputError) as caught:
        read_text(data.encode() if isinstance(data, str) else data, "amp.toml")
    assert str(caught.value) == "\n".join(one.text() for one in caught.value.troubles)
    for one in caught.value.troubles:
        assert one.text().isprintable()
        assert one.text().startswith(f"{one.place}: found ")
    return caught.value.troubles[0]


@pytest.mark.parametrize(
    ("text", "place", "found", "expected"),
    [
        ("a = 47k", (1, 5, 1, 8), '"47k"', "text in quotes"),
        ("a = 4,7", (1, 6, 1, 7), '","', "the end of the line"),
        ("R4 = {kind = resistor}", (1, 14, 1, 22), '"resistor"', "text in quotes"),
        ("x = 1\ny =\n", (2, 4, 2, 4), "the end of the line", "a value"),
        ("a b = 1", (1, 3, 1, 4), '"b"', 'a "=" after the key'),
        ("= 1", (1, 1, 1, 2), '"="', "key = value"),
        ("a = [1 2]", (1, 8, 1, 9), '"2"', 'a comma or "]"'),
        ("a = [1,\n2\nc = 3\n", (3, 1, 3, 2), '"c"', 'a comma or "]"'),
        ("a = {b = 1", (1, 11, 1, 11), "the end of the file", 'a comma or "}"'),
        ('a = "b\nc"', (1, 7, 1, 7), "the end of the line", "a closing quote"),
        ('a = """b\n', (2, 1, 2, 1), "the end of the file", "a closing quote"),
        ("[parts", (1, 7, 1, 7), "the end of the file", '"]"'),
        ("[]", (1, 2, 1, 3), '"]"', "a key"),
        ('a = "\\q"', (1, 6, 1, 8), '"\\q"', "a known escape"),
        ("a = 2026-13-01", (1, 5, 1, 15), '"2026-13-01"', "a value"),
        ('a = "x\x01"', (1, 7, 1, 8), '"\x01"', "control characters"),
        ("é = 1", (1, 1, 1, 2), '"é"', "key = value"),
    ],
)
def test_a_slip_is_shown_where_it_is(
    text: str, place: tuple[int, int, int, int], found: str, expected: str
) -> None:
    got = trouble(text)
    assert got.found == found
    assert expected in got.expected
    assert got.place.file == "amp.toml"
    assert got.place == Place("amp.toml", *place)


def test_a_slip_in_a_long_statement_names_its_first_line() -> None:
    assert trouble("a = [\n1,\n2\nc = 3\n").hint == "the statement begins on line 1"


@pytest.mark.parametrize(
    ("text", "word", "place", "first"),
    [
        ("a = 1\na = 2", "a", (2, 1), 1),
        ("a = [\n1,\n]\n\na = [\n3\n]\n", "a", (5, 1), 1),
        ("[x]\nb = 1\n[x]\n", "x", (3, 2), 1),
        ("k = {b = 1, b = 2}", "b", (1, 13), 1),
        ("a.b = 1\na = 2", "a", (2, 1), 1),
        ("a = 1\n[a]\n", "a", (2, 2), 1),
        ("[a]\n[[a]]\n", "a", (2, 3), 1),
        ("a.b = 1\n[a]\n", "a", (2, 1), 1),
        ("a = {}\n[a.b]\n", "a", (2, 2), 1),
        ("[parts]\nR1 = 1\nR2 = 2\nR1 = {\n a = 1}\n", "R1", (4, 1), 2),
    ],
)
def test_a_second_definition_points_at_its_key_and_names_the_first(
    text: str, word: str, place: tuple[int, int], first: int
) -> None:
    got = trouble(text)
    assert (got.place.line, got.place.column) == place
    assert got.found == f'"{word}" a second time'
    assert got.expected.endswith(f"first written on line {first}")


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"", "an empty file"),
        (b" \n\t\n", "an empty file"),
        (b"# nothing\n", "no keys"),
        (b"\xef\xbb\xbf", "an empty file"),
        (b"\xff\xfea\0=\0", "UTF-16 text"),
        (b"a = 1\nb = '\xe9'", "byte 0xe9"),
        (b"a = 1\n\x7fELF\0", "a NUL character"),
        (b"a = " + b"9" * 5000, "a number of thousands of digits"),
        (b"a = 0x" + b"f" * 9000, "a number beyond 64 bits"),
        (b"a = [{b = 9223372036854775808}]", "a number beyond 64 bits"),
        (b"a = -9223372036854775809", "a number beyond 64 bits"),
        (b"a = " + b"[" * 10**5, "tables nested more than 32 deep"),
        (b"a = " + b"{a=" * 10**5, "tables nested more than 32 deep"),
        (b"a" + b".a" * 10**5 + b" = 1", "tables nested more than 32 deep"),
        (b"a = 1 #" + b"x" * LARGEST, f"{LARGEST + 7} bytes"),
    ],
)
def test_what_is_no_document_is_refused(data: bytes, found: str) -> None:
    assert trouble(data).found == found


def test_places_of_bytes_and_numbers() -> None:
    assert trouble(b"a = 1\nb = '\xe9'").place == Place("amp.toml", 2, 6, 2, 6)
    assert trouble("x = 1\na = 0x" + "f" * 17).place == Place("amp.toml", 2, 5, 2, 24)


def test_a_good_document_is_read_with_positions() -> None:
    data = b"\xef\xbb\xbfformat = 1\r\n[parts]\r\nR1 = '47k'\r\n"
    raw, positions = read_text(data, "amp.toml")
    assert raw == {"format": 1, "parts": {"R1": "47k"}}
    assert positions.key(("format",)) == (1, 1, 1, 7)
    assert positions.value(("parts", "R1")) == (3, 6, 3, 11)


def test_every_64_bit_number_is_read() -> None:
    raw, _ = read_text(b"a = 9223372036854775807\nb = -9223372036854775808", "amp.toml")
    assert raw == {"a": 2**63 - 1, "b": -(2**63)}


def test_fifty_megabytes_are_refused_unread(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "huge.toml"
    with open(path, "wb") as file:
        file.truncate(50_000_000)
    monkeypatch.setattr("builtins.open", None)  # by its size alone: it is never opened
    with pytest.raises(InputError) as caught:
        read_file(path)
    assert caught.value.troubles[0].found == "50000000 bytes"


def test_an_endless_file_is_read_only_up_to_the_limit() -> None:
    with pytest.raises(InputError) as caught:
        read_file("/dev/zero")
    assert caught.value.troubles[0].found == f"more than {LARGEST} bytes"


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    sealed = tmp_path / "sealed.toml"
    sealed.write_text("a = 1")
    sealed.chmod(0)
    cases: list[tuple[str | Path, str]] = [
        (tmp_path, "a folder"),
        (tmp_path / "none.toml", "no such file"),
        ("nul\0.toml", "a file that cannot be read: embedded null"),
        ("long" * 999, "a file that cannot be read: file name too long"),
    ]
    if os.geteuid() != 0:
        cases.append((sealed, "a file that cannot be read: permission denied"))
    for path, found in cases:
        with pytest.raises(InputError) as caught:
            read_file(path)
        assert caught.value.troubles[0].found.startswith(found)
        assert caught.value.troubles[0].text().isprintable()


def test_read_file_names_the_file_as_given(tmp_path: Path) -> None:
    path = tmp_path / "amp.toml"
    path.write_bytes(b"format = 1\n")
    assert read_file(path)[0] == {"format": 1}
    path.write_bytes(b"format = \n")
    with pytest.raises(InputError) as caught:
        read_file(path)
    assert caught.value.troubles[0].place.file == str(path)


@given(st.binary(max_size=60))
def test_any_bytes_are_read_or_refused_in_printable_lines(data: bytes) -> None:
    try:
        read_text(data, "amp.toml")
    except InputError as error:
        assert error.troubles
        for one in error.troubles:
            assert one.text().isprintable()
            assert one.place.line >= 1 and one.place.column >= 1
            assert (one.place.end_line, one.place.end_column) >= (one.place.line, one.place.column)


@given(st.text("ab1.=[]{}\"'\n\r#, \t\\-", max_size=40))
def test_any_toml_like_text_is_read_or_refused(text: str) -> None:
    try:
        _, positions = read_text(text.encode(), "amp.toml")
    except InputError as error:
        assert error.troubles[0].expected
    else:
        assert positions.stopped is None


@given(st.text())
def test_clean_text_prints_and_keeps_what_printed(text: str) -> None:
    assert clean(text).isprintable()
    assert text.isprintable() == (clean(text) == text)


def test_clean_writes_marks_as_their_codes() -> None:
    assert clean("a\x1b[2J\x9b\u202e\n\u200d\U000e0001") == (
        "a\\u001b[2J\\u009b\\u202e\\u000a\\u200d\\U000e0001"
    )


def test_nearest_spelling() -> None:
    keys = ["dielectric", "value", "voltage", "heater_winding", "kind"]
    assert nearest("dielectic", keys) == "dielectric"
    assert nearest("Heater-winding", keys) == "heater_winding"
    assert nearest("voltag", keys) == "voltage"
    assert nearest("vlaue", keys) == "value"
    assert nearest("colour", keys) is None
    assert nearest("x" * 10**6, keys) is None
    assert nearest("value", []) is None
