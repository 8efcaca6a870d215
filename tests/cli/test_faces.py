"""What every command has in common: JSON, exit codes, one sentence for an error, help with examples, the reference."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import click
import pytest

from tests.cli.conftest import Desk
from tests.services.texts import GEAR_RUN
from wringout.cli import codes
from wringout.cli.main import cli
from wringout.cli.reference import every_command, reference_text, root_context
from wringout.errors import BadInputError, FitError, LimitError, NotFoundError, StoreError

ROOT = Path(__file__).parents[2]
COMMANDS = {words: context.command for words, context in every_command(cli, (), root_context())}
LEAVES = {words: command for words, command in COMMANDS.items() if not isinstance(command, click.Group)}


@pytest.mark.parametrize(
    ("words", "kind", "fields"),
    [
        (("studies",), "studies", {"studies"}),
        (("show",), "study", {"name", "title", "question", "difference_words", "reduction", "matchup", "brief"}),
        (("history",), "history", {"edits"}),
        (("airplane", "show"), "airplane", {"name", "limits", "parameters", "flap_settings", "toml", "version"}),
        (("recordings",), "recordings", {"recordings"}),
        (("recordings", "G1-gear.csv"), "recording", {"name", "sha256", "read", "runs", "mapping", "problem"}),
        (("runs",), "runs", {"runs"}),
        (("run", "show", "G1"), "run", {"key", "method", "recording", "observed", "weight", "exceedances"}),
        (
            ("findings",),
            "findings",
            {"answer", "findings", "curves", "parameters", "runs", "seed", "settled", "remarks"},
        ),
        (("verdict",), "verdict", {"answer", "laws", "domain", "thresholds", "situation", "cautions", "seed"}),
        (("plan",), "plan", {"situation", "domain", "format"}),
        (("methods",), "methods", {"methods"}),
        (("card", "stall series"), "card", {"title", "steps", "cautions", "notices"}),
    ],
)
def test_the_json_of_a_reading_command(reduced: Desk, words: tuple[str, ...], kind: str, fields: set[str]) -> None:
    found = reduced.json(*words)
    assert found["kind"] == kind
    assert found["version"] == 1
    assert found["study"] == (None if kind in {"studies", "methods"} else "gear-or-flaps-first")
    assert fields <= set(found)


def test_json_and_text_tell_the_same(reduced: Desk) -> None:
    found = reduced.json("findings")
    said = reduced.ok("findings")
    assert said.splitlines()[0] == found["answer"]
    for item in found["findings"]:
        assert item["label"] in said
    verdict = reduced.json("verdict")
    assert reduced.ok("verdict").splitlines()[:3] == verdict["answer"]


def test_metric_units_change_the_text_and_not_the_json(reduced: Desk) -> None:
    def gear_line(*options: str) -> list[str]:
        lines = reduced.ok("findings", *options).splitlines()
        return re.split(r"\s{2,}", next(line for line in lines if line.startswith("drag area of gear, middle")))

    plain, metric = gear_line(), gear_line("--units", "metric")
    assert (plain[4], metric[4]) == ("ft²", "m²")
    # 1 ft2 = 0.0929 m2, 1 kt = 1.852 km/h (NIST SP 811)
    value = next(i["value"] for i in reduced.json("findings")["findings"] if i["key"] == "area.gear.middle")
    assert float(metric[1]) == pytest.approx(value * 0.09290304, abs=0.01)
    assert "km/h" in metric[5]
    assert reduced.json("findings", "--units", "metric") == reduced.json("findings")


@pytest.mark.parametrize(
    ("words", "code", "kind"),
    [
        (("show", "--study", "nowhere"), 5, "not found"),
        (("run", "show", "Z9"), 5, "not found"),
        (("recordings", "nothing.csv"), 5, "not found"),
        (("airplane", "show", "--version", "9"), 5, "not found"),
        (("new", ""), 3, "bad input"),
        (("new", "T", "--difference", "25 kt"), 3, "bad input"),
        (("airplane", "put", "missing.toml"), 3, "bad input"),
        (("run", "aside", "G1", " "), 3, "bad input"),
        (("take-in", "x.csv", "--set", "weight"), 3, "bad input"),
        (("card", "level deceleration", "entry speed=140 kt"), 4, "limit"),
        (("import", "missing.zip"), 3, "bad input"),
        (("compare", "--draws", "5"), 3, "bad input"),
        (("fly",), 2, "usage"),
        (("run", "add"), 2, "usage"),
        (("run", "add", "G1-gear.csv", "--from", "3"), 2, "usage"),
        (("reduce", "--draws", "many"), 2, "usage"),
        (("reduce", "--colour"), 2, "usage"),
        (("take-in", "a.csv", "b.csv", "--run", "G1"), 2, "usage"),
    ],
)
def test_an_error_has_one_sentence_one_code_and_one_json_shape(
    reduced: Desk, words: tuple[str, ...], code: int, kind: str
) -> None:
    plain, told = reduced.run(*words), reduced.run(*words, "--json")
    assert plain.exit_code == told.exit_code == code, plain.stderr
    lines = plain.stderr.strip().splitlines()
    assert len(lines) == 1
    assert lines[0].endswith((".", "'"))
    if kind == "bad input" and words[0] == "take-in":
        assert told.stdout
    found = json.loads(told.stdout)
    assert set(found) == {"kind", "version", "study", "error"}
    assert set(found["error"]) == {"kind", "exit_code", "sentence", "what", "where", "advice"}
    assert (found["error"]["kind"], found["error"]["exit_code"]) == (kind, code)
    assert found["error"]["sentence"] == lines[0]


@pytest.mark.parametrize("words", [(), ("run",), ("airplane",)])
def test_a_command_that_asks_for_nothing_gets_the_help_as_it_is(desk: Desk, words: tuple[str, ...]) -> None:
    told = desk.run(*words)
    assert told.exit_code == 2
    assert told.stderr == ""
    assert told.stdout.strip() == desk.ok(*words, "--help").strip()
    assert len(told.stdout.splitlines()) > 8


def test_every_kind_of_error_has_its_code() -> None:
    found = [codes.code_of(kind("x")) for kind in (BadInputError, LimitError, StoreError, NotFoundError, FitError)]
    assert found == [3, 4, 5, 5, 6]
    assert set(found) < set(codes.CODES)


def test_what_nobody_expected_is_one_sentence_and_a_traceback_only_when_asked(
    reduced: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def burst(*_: object) -> None:
        raise ZeroDivisionError("a wheel came off")

    monkeypatch.setattr("wringout.services.study.studies.summary", burst)
    quiet, loud = reduced.run("show"), reduced.run("show", "--debug")
    assert quiet.exit_code == loud.exit_code == 1
    assert len(quiet.stderr.strip().splitlines()) == 1
    assert "ZeroDivisionError: a wheel came off" in quiet.stderr
    assert "Traceback" not in quiet.stderr + quiet.stdout
    assert "Traceback" in loud.stderr
    assert json.loads(reduced.run("show", "--json").stdout)["error"]["kind"] == "unexpected"


def test_nothing_is_made_by_asking(desk: Desk) -> None:
    assert desk.run("studies").exit_code == 5
    assert desk.run("show").exit_code == 5
    assert list(desk.folder.iterdir()) == []


def test_the_options_may_stand_before_the_command(reduced: Desk, tmp_path: Path) -> None:
    found = reduced.json("--study", "gear-or-flaps-first", "show")
    assert found["study"] == "gear-or-flaps-first"
    assert reduced.run("--study", "other", "show").exit_code == 5
    assert (
        reduced.run("--database", str(tmp_path / "none.db"), "show", "--database", str(reduced.database)).exit_code == 0
    )


def test_what_a_user_typed_cannot_drive_the_terminal(study: Desk) -> None:
    study.ok("take-in", study.file("G1.csv", GEAR_RUN + "1:30, 91, \x1b[31mred \x07bell\n"), "--run", "G1")
    said = study.ok("recordings", "G1.csv")
    assert "\x1b" not in said
    assert "\x07" not in said
    marked = study.ok("new", "[bold]Title[/bold] :smile:", "--name", "odd")
    assert "odd" in marked
    assert "[bold]Title[/bold] :smile:" in study.ok("show", "--study", "odd")


@pytest.mark.parametrize("words", sorted(LEAVES))
def test_every_command_takes_json_debug_and_teaches_with_an_example(words: str) -> None:
    command = LEAVES[words]
    options = {name for parameter in command.params for name in parameter.opts}
    assert f"wringout {words}" in (command.help or "")
    assert "Example" in (command.help or "")
    if words != "completion":
        assert {"--json", "--debug"} <= options
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{words} {parameter.opts}"


def test_the_reference_is_what_the_help_says() -> None:
    page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    assert page == reference_text(), (
        "docs/commands.md is stale: run python -m wringout.cli.reference > docs/commands.md"
    )
    for words in COMMANDS:
        assert f"### wringout {words}\n" in page


def test_every_kind_of_document_is_described(reduced: Desk) -> None:
    page = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    for words in (["findings"], ["verdict"], ["show"], ["runs"], ["recordings"], ["airplane", "show"]):
        found = reduced.json(*words)
        assert f"`{found['kind']}`" in page
        for field in found:
            assert f"`{field}`" in page, f"docs/json.md does not name {field} of {found['kind']}"


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_shell_gets_its_completion(desk: Desk, shell: str) -> None:
    assert "_WRINGOUT_COMPLETE" in desk.ok("completion", shell)


def test_help_and_version_load_no_numerics(desk: Desk) -> None:
    code = (
        "import sys; from wringout.cli.main import cli\n"
        "try: cli(['--help'], prog_name='wringout')\n"
        "except SystemExit as e: assert e.code == 0\n"
        "assert not {'numba', 'scipy', 'matplotlib', 'polars'} & set(sys.modules), sorted(sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=desk.folder)
    assert done.returncode == 0, done.stderr
    assert "wringout demo" in done.stdout


@pytest.mark.parametrize("enough", [10, 0])  # with nothing read the pipe is closed before the first word is written
def test_a_reader_that_has_read_enough_is_no_error(reduced: Desk, enough: int) -> None:
    environment = {**os.environ, "WRINGOUT_DATABASE": str(reduced.database)}
    code = "from wringout.cli.main import main; main()"
    words = [sys.executable, "-c", code, "findings", "--json"]
    writer = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment)
    assert writer.stdout is not None
    assert writer.stderr is not None
    writer.stdout.read(enough)
    writer.stdout.close()
    said = writer.stderr.read().decode()
    writer.stderr.close()
    assert writer.wait(timeout=60) == 0, said
    assert "Traceback" not in said


def test_metric_units_reach_every_sentence(reduced: Desk) -> None:
    for command in (
        ["findings"],
        ["landing-climb"],
        ["card", "level-deceleration", "device=gear", "entry speed=110 kt"],
    ):
        plain, metric = reduced.ok(*command), reduced.ok(*command, "--units", "metric")
        assert re.search(r"\d (?:kt|ft|lb)\b", plain)
        assert not re.search(r"\d (?:kt|ft|lb|ft²|kt/s)(?!\w)", metric)
        assert re.search(r"\d (?:km/h|m|kg)\b", metric)
