"""The repository says nothing of the machine or the way it was made, and keeps its own shape.

Each rule is first shown to fail on a planted breach, so that a rule which can no longer see anything is noticed.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from tests.house import rules
from tests.house.tree import ROOT, found_by_walking, project_files, text_files, tracked_by_git

FILES = project_files()
TEXTS = text_files(FILES)
NAMES = set(FILES)


def _report(breaches: list[str]) -> str:
    return "\n" + "\n".join(breaches)


def test_the_files_looked_at_are_the_project() -> None:
    assert {"pyproject.toml", "Makefile", "LICENSE", "src/wringout/__init__.py", "tests/house/rules.py"} <= NAMES
    assert not any(name.startswith((".venv/", ".git/")) for name in NAMES)


def test_walking_finds_what_git_tracks_when_there_is_no_git(tmp_path: Path) -> None:
    for name in ("Makefile", "src/wringout/__init__.py", "docs/page.md"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("x", encoding="utf-8")
    for name in (".venv/lib/x.py", "src/wringout/__pycache__/x.pyc", "demo/study.db"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("x", encoding="utf-8")
    assert tracked_by_git(tmp_path) == []
    assert sorted(project_files(tmp_path)) == ["Makefile", "docs/page.md", "src/wringout/__init__.py"]
    assert {name for name in NAMES if (ROOT / name).is_file()} <= set(found_by_walking(ROOT))


@pytest.mark.parametrize(
    "line",
    [
        "cp /wo" + "rk/main/a b",
        'OPEN = "/ro' + 'ot/.cache/x"',
        "see /tm" + "p/x/notes.md",
        "/ho" + "me/someone/a",
        "C:\\Us" + "ers\\x",
    ],
)
def test_a_planted_machine_path_is_seen(line: str) -> None:
    assert len(rules.machine_paths({"a.py": f"first\n{line}\n"})) == 1


@pytest.mark.parametrize(
    "line",
    [
        "https://example.org/home/page",
        "src/wo" + "rk/x",
        "../ro" + "ot/y",
        "f / root / 2",
        "./tm" + "p/x",
        "{base}/home/x",
        "/home/x/a.csv",
    ],
)
def test_an_innocent_slash_is_not_a_machine_path(line: str) -> None:
    assert rules.machine_paths({"a.py": line}) == []


def test_a_path_of_the_machine_running_this_is_seen() -> None:
    assert rules.machine_paths({"a.md": "in /srv/checkout/x"}, ("/srv/checkout",)) != []


def test_no_file_names_a_path_of_a_machine() -> None:
    breaches = rules.machine_paths(TEXTS, (str(ROOT), str(Path.home())))
    assert not breaches, _report(breaches)


@pytest.mark.parametrize(
    "host", ["py" + "pi.org", "files.python" + "hosted.org", "registry.np" + "mjs.org", "crates" + ".io"]
)
def test_a_planted_registry_host_is_seen(host: str) -> None:
    assert rules.registry_hosts({"requirements/run.txt": f"--index-url https://{host}/simple"}) != []


def test_no_file_names_a_registry_host() -> None:
    breaches = rules.registry_hosts(TEXTS)
    assert not breaches, _report(breaches)


@pytest.mark.parametrize(
    "line",
    [
        "written by an ag" + "ent",
        "left for the next ses" + "sion",
        "done in iss" + "ue 12",
        "closes #" + "4",
        "ask a col" + "league",
    ],
)
def test_a_planted_word_about_the_making_is_seen(line: str) -> None:
    assert len(rules.workplace_words({"a.md": line})) == 1


@pytest.mark.parametrize(
    "line", ["with Session(engine) as session:", "color: #123456", "issue a warning", "see #top", "reagents"]
)
def test_an_ordinary_word_is_left_alone(line: str) -> None:
    assert rules.workplace_words({"a.py": line}) == []


def test_no_file_speaks_of_how_it_was_made() -> None:
    breaches = rules.workplace_words(TEXTS)
    assert not breaches, _report(breaches)


def test_every_module_says_what_it_is_for() -> None:
    assert rules.module_docstrings({"src/wringout/a.py": "x = 1\n"}) != []
    assert rules.module_docstrings({"src/wringout/a.py": '"""Why."""\n'}) == []
    breaches = rules.module_docstrings(TEXTS)
    assert not breaches, _report(breaches)


def test_no_source_file_is_too_long() -> None:
    assert rules.long_sources({"src/wringout/a.py": "x\n" * (rules.LONGEST_SOURCE_LINES + 1)}) != []
    assert rules.long_sources({"src/wringout/a.py": "x\n" * rules.LONGEST_SOURCE_LINES}) == []
    breaches = rules.long_sources(TEXTS)
    assert not breaches, _report(breaches)


def test_no_function_imports_another_room() -> None:
    planted = "def f():\n    from wringout.services import x\n    return x\n"
    assert rules.imports_inside_functions({"src/wringout/store/a.py": planted}) != []
    assert rules.imports_inside_functions({"src/wringout/store/a.py": "def f():\n    import zlib\n"}) == []
    assert rules.imports_inside_functions({"src/wringout/cli/a.py": planted}) == []
    breaches = rules.imports_inside_functions(TEXTS)
    assert not breaches, _report(breaches)


def test_fonts_and_vendored_files_carry_their_licences() -> None:
    font = "src/wringout/briefs/fonts/Face-Regular.ttf"
    assert rules.missing_licences({font, "LICENSE"}) != []
    assert rules.missing_licences({"src/wringout/web/static/chart.min.js"}) != []
    assert rules.missing_licences({font, "src/wringout/briefs/fonts/OFL.txt"}) == []
    vendored = "src/wringout/web/static/vendor/chart-1.0.min.js"
    assert rules.missing_licences({vendored, "src/wringout/web/static/vendor/other-1.0.LICENSE"}) != []
    assert rules.missing_licences({vendored, "src/wringout/web/static/vendor/chart-1.0.LICENSE"}) == []
    breaches = rules.missing_licences(NAMES)
    assert not breaches, _report(breaches)


def test_licence_is_complete_and_named_in_the_metadata() -> None:
    text = TEXTS["LICENSE"]
    assert text.startswith("MIT License")
    assert "Wringout contributors" in text
    assert 'license = "MIT"' in TEXTS["pyproject.toml"]


def test_links_between_pages_lead_somewhere() -> None:
    assert rules.broken_links({"docs/a.md": "[b](b.md)"}, {"docs/a.md"}) != []
    assert rules.broken_links({"docs/a.md": "[up](../../x.md)"}, {"docs/a.md", "x.md"}) != []
    assert rules.broken_links({"docs/a.md": "[b](../b.md#c) [d](#e) [f](https://g.h)"}, {"docs/a.md", "b.md"}) == []
    breaches = rules.broken_links(TEXTS, NAMES)
    assert not breaches, _report(breaches)


def test_the_front_page_shows_commands_figure_and_cautions() -> None:
    good = (
        "```sh\nmake demo\nmake test\n```\n![what it shows](docs/a.svg)\n"
        "The approved manual comes first; fly with a qualified instructor."
    )
    assert rules.readme_gaps(good, {"docs/a.svg"}) == []
    assert len(rules.readme_gaps(good, set())) == 1
    assert len(rules.readme_gaps("make demo and make test", set())) == 5
    breaches = rules.readme_gaps(TEXTS["README.md"], NAMES)
    assert not breaches, _report(breaches)


def test_the_continuous_run_is_the_same_command() -> None:
    assert "make test" in TEXTS[".ci/run"].splitlines()
    assert "set -euo pipefail" in TEXTS[".ci/run"].splitlines()
    parsed = subprocess.run(["bash", "-n", str(ROOT / ".ci/run")], capture_output=True, text=True, check=False)
    assert parsed.returncode == 0, parsed.stderr
