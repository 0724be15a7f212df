"""``coldcheck review``: which documents, which form, which exit status."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

import sample_review
from coldcheck.lint.cli import main
from coldcheck.lint.cli.review import status
from coldcheck.lint.model import Finding, Review, Signal
from stand_in import DOCUMENT, Engine

Capture = pytest.CaptureFixture[str]
Patch = pytest.MonkeyPatch
CLEAN = sample_review.spotless()


def with_(*findings: Finding, opens: tuple[Finding, ...] = ()) -> Review:
    return CLEAN._replace(findings=findings, opens=opens)


def opened(signal: Signal) -> Finding:
    return sample_review.review().opens[0]._replace(signal=signal)


@pytest.mark.parametrize("least", list(Signal))
@pytest.mark.parametrize("signal", list(Signal))
def test_a_finding_counts_from_the_asked_word_up(signal: Signal, least: Signal) -> None:
    review = with_(sample_review.SLOW._replace(signal=signal))
    assert status(review, least, False) == (1 if signal >= least else 0)


def test_an_accepted_finding_does_not_count() -> None:
    assert status(with_(sample_review.KEPT), Signal.NOTE, False) == 0


@pytest.mark.parametrize("signal", list(Signal))
def test_a_grave_rule_that_could_not_judge_counts_unless_let(signal: Signal) -> None:
    review = with_(opens=(opened(signal),))
    grave = signal >= Signal.WARNING
    assert status(review, Signal.WARNING, let_open=False) == int(grave)
    assert status(review, Signal.NOTE, let_open=False) == int(grave)
    assert status(review, Signal.DANGER, let_open=False) == int(signal is Signal.DANGER)
    assert status(review, Signal.NOTE, let_open=True) == 0


def test_a_crash_counts_whatever_is_let() -> None:
    review = CLEAN._replace(crashes=sample_review.review().crashes)
    assert status(review, Signal.DANGER, let_open=True) == 1


def test_a_review_that_judged_nothing_is_not_clean() -> None:
    assert status(CLEAN._replace(passes=()), Signal.DANGER, let_open=True) == 1


def test_a_clean_review_exits_0(engine: Engine, amp: str, capsys: Capture) -> None:
    assert main(["review", amp]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Review of Quiet\n")
    assert err == ""
    assert engine.asked == [amp]


def test_findings_exit_1(engine: Engine, amp: str, capsys: Capture) -> None:
    engine.review = sample_review.review()
    assert main(["review", amp]) == 1
    assert "  DANGER: the output jack" in capsys.readouterr().out


def test_fail_from_and_let_open_reach_the_status(engine: Engine, amp: str) -> None:
    engine.review = with_(sample_review.TIDY, opens=(opened(Signal.DANGER),))
    assert main(["review", amp]) == 1
    assert main(["review", amp, "--let-open"]) == 0
    assert main(["review", amp, "--let-open", "--fail-from", "note"]) == 1


def test_an_unusable_document_exits_2_and_names_each_trouble(
    engine: Engine, amp: str, capsys: Capture
) -> None:
    engine.broken = {amp}
    assert main(["review", amp]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.splitlines() == [
        "amp.toml:3:5: found 'sixty', expected a voltage such as \"60 V\"",
        "amp.toml:4:1: found 'plts', expected a known key (did you mean plates?)",
    ]


def test_one_unusable_document_does_not_hide_the_others(
    engine: Engine, here: Path, capsys: Capture
) -> None:
    for name in ("a.toml", "b.toml"):
        (here / name).write_text(DOCUMENT, encoding="utf-8")
    engine.broken = {"a.toml"}
    assert main(["review", "a.toml", "b.toml", "--as", "json"]) == 2
    document = json.loads(capsys.readouterr().out)
    assert [review["file"] for review in document["reviews"]] == ["quiet.toml"]
    assert [entry["file"] for entry in document["unread"]] == ["a.toml"]


def test_folders_are_searched_for_documents(engine: Engine, here: Path, capsys: Capture) -> None:
    texts = {
        "b/amp.toml": DOCUMENT,
        "a/dotted.toml": 'format = 1\nparts.R1 = { kind = "resistor" }\n',
        "a/forgot-format.toml": "[parts]\n[schematic]\n",
        "a/pyproject.toml": "[project]\nname = 'x'\n[tool.y]\nformat = 'z'\n",
        "a/prompt.toml": 'format = "$all"\n',
        "a/notes.txt": DOCUMENT,
        ".hidden/amp.toml": DOCUMENT,
    }
    for name, text in texts.items():
        (here / name).parent.mkdir(exist_ok=True)
        (here / name).write_text(text, encoding="utf-8")
    assert main(["review", ".", "b"]) == 0
    assert [Path(name).as_posix() for name in engine.asked] == [
        "a/dotted.toml",
        "a/forgot-format.toml",
        "b/amp.toml",
    ]
    assert capsys.readouterr().out.count("Review of Quiet") == 3


def test_no_document_found_is_an_error(engine: Engine, here: Path, capsys: Capture) -> None:
    assert main(["review", "."]) == 2
    assert capsys.readouterr().err == "coldcheck: no coldcheck document was found in .\n"


def test_a_path_that_is_not_there_is_named(engine: Engine, here: Path, capsys: Capture) -> None:
    assert main(["review", "amp.tmol"]) == 2
    assert capsys.readouterr().err == "coldcheck: there is no file or folder 'amp.tmol'\n"


def test_a_named_file_is_reviewed_whatever_it_looks_like(engine: Engine, here: Path) -> None:
    (here / "odd.txt").write_text("", encoding="utf-8")
    assert main(["review", "odd.txt"]) == 0
    assert engine.asked == ["odd.txt"]


def test_a_hook_may_hand_over_files_of_other_tools(
    engine: Engine, here: Path, amp: str, capsys: Capture
) -> None:
    (here / "pyproject.toml").write_text("[project]\nname = 'x'\n", encoding="utf-8")
    assert main(["review", "--if-document", "pyproject.toml", amp]) == 0
    assert engine.asked == [amp]
    assert main(["review", "--if-document", "pyproject.toml"]) == 0
    assert capsys.readouterr().err == "coldcheck: none of the files is a coldcheck document\n"


def test_standard_input_is_reviewed(engine: Engine, here: Path, monkeypatch: Patch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(DOCUMENT.encode())))
    assert main(["review", "-", "-"]) == 0
    assert engine.asked == ["standard input"]


def test_the_same_file_is_reviewed_once(engine: Engine, amp: str) -> None:
    assert main(["review", amp, f"./{amp}", "."]) == 0
    assert engine.asked == [amp]


def test_sarif_holds_all_documents_in_one_run(engine: Engine, here: Path, capsys: Capture) -> None:
    for name in ("a.toml", "b.toml"):
        (here / name).write_text(DOCUMENT, encoding="utf-8")
    engine.review = sample_review.review()
    assert main(["review", ".", "--as", "sarif"]) == 1
    runs = json.loads(capsys.readouterr().out)["runs"]
    assert len(runs) == 1
    assert len(runs[0]["results"]) == 2 * 9


def test_a_report_can_go_to_a_file(engine: Engine, amp: str, here: Path, capsys: Capture) -> None:
    assert main(["review", amp, "--to", "report.txt"]) == 0
    out, err = capsys.readouterr()
    assert (out, err) == ("", "The report is in report.txt.\n")
    assert (here / "report.txt").read_bytes().startswith(b"Review of Quiet\n")


@pytest.mark.parametrize(
    ("target", "said"),
    [
        (".", "--to needs a file, and '.' is a folder"),
        ("amp.toml", "--to would overwrite the document 'amp.toml'"),
        (
            "no/where.txt",
            "the report could not be written to 'no/where.txt': No such file or directory",
        ),
    ],
)
def test_a_report_never_goes_where_it_must_not(
    engine: Engine, amp: str, here: Path, capsys: Capture, target: str, said: str
) -> None:
    assert main(["review", amp, "--to", target]) == 2
    assert capsys.readouterr().err == f"coldcheck: {said}\n"
    assert (here / amp).read_text(encoding="utf-8") == DOCUMENT


def test_only_some_rules(engine: Engine, amp: str, capsys: Capture) -> None:
    assert main(["review", amp, "--only", "tubes", "--only", "holes/one-punch"]) == 0
    assert engine.only == ("tubes", "holes/one-punch")
    out = capsys.readouterr().out
    assert "Remark: only 2 of 5 rules were asked for; what the others would find" in out
    assert main(["review", amp]) == 0
    assert engine.asked == [amp, amp] and not engine.only
    assert "Remark" not in capsys.readouterr().out


def test_an_unknown_rule_is_refused_before_any_work(
    engine: Engine, amp: str, capsys: Capture
) -> None:
    assert main(["review", amp, "--only", "tubes/grid-leek"]) == 2
    assert capsys.readouterr().err == (
        "coldcheck: there is no rule or area 'tubes/grid-leek'. Did you mean 'tubes/grid-leak'? "
        "`coldcheck rules` lists them.\n"
    )
    assert engine.asked == []


@pytest.mark.parametrize(
    ("options", "variables", "coloured"),
    [
        ([], {}, False),
        (["--colour", "always"], {}, True),
        (["--colour", "always"], {"NO_COLOR": "1"}, True),
        (["--colour", "never"], {}, False),
    ],
)
def test_colour(
    engine: Engine,
    amp: str,
    capsys: Capture,
    monkeypatch: Patch,
    options: list[str],
    variables: dict[str, str],
    coloured: bool,
) -> None:
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    main(["review", amp, *options])
    assert ("\x1b[" in capsys.readouterr().out) is coloured


@pytest.mark.parametrize(
    ("variables", "coloured"),
    [({}, True), ({"NO_COLOR": "1"}, False), ({"NO_COLOR": ""}, True), ({"TERM": "dumb"}, False)],
)
def test_colour_on_a_terminal(
    engine: Engine,
    amp: str,
    capsys: Capture,
    monkeypatch: Patch,
    variables: dict[str, str],
    coloured: bool,
) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    main(["review", amp])
    assert ("\x1b[" in capsys.readouterr().out) is coloured


def test_width(engine: Engine, amp: str, capsys: Capture) -> None:
    engine.review = sample_review.review()
    main(["review", amp, "--width", "50"])
    assert 40 < max(map(len, capsys.readouterr().out.splitlines())) <= 50


def test_passed_is_listed_when_asked(engine: Engine, amp: str, capsys: Capture) -> None:
    main(["review", amp])
    assert "tubes/grid-leak" not in capsys.readouterr().out
    main(["review", amp, "--passed"])
    assert "tubes/grid-leak" in capsys.readouterr().out
