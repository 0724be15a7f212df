"""Rule packs: found by entry point, named by path, and never able to end a run."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from coldcheck.lint.engine import packs


def install(root: Path, distribution: str, entries: str, files: dict[str, str]) -> None:
    """Write what pip would: a dist-info folder with entry points, and the package's files."""
    info = root / f"{distribution}-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(
        f"Metadata-Version: 2.1\nName: {distribution}\nVersion: 1.0\n", encoding="utf-8"
    )
    (info / "entry_points.txt").write_text(f"[coldcheck.packs]\n{entries}\n", encoding="utf-8")
    for name, text in files.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(text, encoding="utf-8")


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder on ``sys.path``; whatever is imported from it is forgotten afterwards."""
    monkeypatch.syspath_prepend(str(tmp_path))
    before = set(sys.modules)
    yield tmp_path
    for name in set(sys.modules) - before:
        del sys.modules[name]


def test_names_come_from_paths() -> None:
    assert packs.rule_name("coldcheck.rules.stored_energy.slow_discharge") == (
        "stored-energy/slow-discharge"
    )
    assert packs.rule_name("some.where.heaters.own_practice", "workshop") == (
        "workshop/heaters/own-practice"
    )


def test_a_pack_is_found_by_its_entry_point(site: Path) -> None:
    install(
        site,
        "bench-rules",
        "bench = packa_rules",
        {
            "packa_rules/__init__.py": "",
            "packa_rules/heaters/__init__.py": "",
            "packa_rules/heaters/own_practice.py": "",
            "packa_rules/heaters/_help.py": "raise RuntimeError",
            "packa_rules/_private/thing.py": "raise RuntimeError",
            "packa_rules/bare_area/second.py": "",
            "packa_rules/not_in_an_area.py": "raise RuntimeError",
            "packa_rules/limits.toml": "",
        },
    )
    found = packs.installed([str(site)])
    assert found.notes == ()
    assert found.packs == (
        packs.Pack(
            "bench",
            "packa_rules",
            (
                packs.RuleModule("bench/bare-area/second", "packa_rules.bare_area.second"),
                packs.RuleModule("bench/heaters/own-practice", "packa_rules.heaters.own_practice"),
            ),
        ),
    )


def test_a_pack_on_sys_path_is_found_without_being_told_where(site: Path) -> None:
    install(
        site,
        "found-anyway",
        "found-anyway = packf_rules",
        {"packf_rules/__init__.py": "", "packf_rules/area/rule.py": ""},
    )
    assert "found-anyway" in [pack.name for pack in packs.installed().packs]


@pytest.mark.parametrize("broken", ["1 / 0", "raise SystemExit(3)", "import no_such_thing_here"])
def test_a_pack_that_does_not_import_becomes_a_note(site: Path, broken: str) -> None:
    package = f"packb_{abs(hash(broken))}"
    install(site, "broken", f"broken = {package}", {f"{package}/__init__.py": broken})
    found = packs.installed([str(site)])
    assert found.packs == ()
    assert len(found.notes) == 1
    assert "'broken' was left out" in found.notes[0]


def test_one_broken_rule_does_not_take_the_others_with_it(site: Path) -> None:
    install(
        site,
        "half",
        "half = packh_rules",
        {
            "packh_rules/__init__.py": "",
            "packh_rules/area/good.py": "",
            "packh_rules/area/bad.py": "raise ValueError('two\\nlines')",
        },
    )
    found = packs.installed([str(site)])
    assert [rule.rule for rule in found.packs[0].rules] == ["half/area/good"]
    assert found.notes == (
        "rule half/area/bad was left out: ValueError (two) importing packh_rules.area.bad",
    )


def test_two_packs_of_one_name_are_both_left_out(site: Path) -> None:
    for number in (1, 2):
        package = f"packc{number}_rules"
        install(
            site,
            f"clash{number}",
            f"clash = {package}",
            {f"{package}/__init__.py": "", f"{package}/area/rule.py": ""},
        )
    found = packs.installed([str(site)])
    assert found.packs == ()
    assert [note.split(":")[1] for note in found.notes] == [
        " another installed pack has the same name"
    ] * 2


@pytest.mark.parametrize("name", ["Upper", "under_score", "a.b", "-x"])
def test_a_pack_name_must_be_usable_as_a_path_word(site: Path, name: str) -> None:
    install(site, "odd", f"{name} = packo_rules", {"packo_rules/__init__.py": ""})
    found = packs.installed([str(site)])
    assert found.packs == ()
    assert "small letters" in found.notes[0]


def test_a_pack_may_not_take_a_built_in_area(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rule = packs.RuleModule("earth/bond", "coldcheck.rules.earth.bond")
    monkeypatch.setattr(packs, "built_in", lambda: (rule,))
    install(site, "squatter", "earth = packs_rules", {"packs_rules/__init__.py": ""})
    assert "area of the built-in rules" in packs.installed([str(site)]).notes[0]


def test_a_pack_without_rules_is_said_to_hold_none(site: Path) -> None:
    install(site, "empty", "empty = packe_rules", {"packe_rules/__init__.py": ""})
    assert "holds no rules" in packs.installed([str(site)]).notes[0]


def test_built_in_rules_have_two_words_and_are_sorted() -> None:
    names = [rule.rule for rule in packs.built_in()]
    assert names == sorted(names)
    assert all(name.count("/") == 1 for name in names)


def test_without_packs_the_metadata_library_is_not_loaded(site: Path) -> None:
    program = (
        "import sys\nfrom coldcheck.lint.engine import packs\n"
        f"assert packs.installed([{str(site)!r}, '/nowhere']) == packs.Installed((), ())\n"
        "assert 'importlib.metadata' not in sys.modules\n"
    )
    path = str(Path(__file__).parents[2] / ".src")
    done = subprocess.run(
        [sys.executable, "-S", "-c", program],
        env={**os.environ, "PYTHONPATH": path},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_a_pack_in_a_zip_file_is_found(site: Path) -> None:
    install(site, "zipped", "zipped = packz_rules", {})
    archive = site / "packs.zip"
    with zipfile.ZipFile(archive, "w") as file:
        for path in (site / "zipped-1.0.dist-info").iterdir():
            file.write(path, f"zipped-1.0.dist-info/{path.name}")
    assert "importing packz_rules" in packs.installed([str(archive)]).notes[0]
