"""The commands that pages promise are there, and the page about building describes every one."""

from __future__ import annotations

import re
import subprocess

import pytest

from tests.house.tree import ROOT, project_files, text_files

MAKEFILE = (ROOT / "Makefile").read_text(encoding="utf-8")
COMMANDS = set(re.findall(r"^([a-z]+):.*## ", MAKEFILE, re.MULTILINE))
PAGES = {name: text for name, text in text_files(project_files()).items() if name.endswith(".md")}


def _promised(text: str) -> set[str]:
    """Return the commands written as code, `` `make test` `` or alone on a line of a code block."""
    in_prose = re.findall(r"`make ([a-z]+)", text)
    in_a_block = re.findall(r"^\s*(?:\$ )?make ([a-z]+)\b", text, re.MULTILINE)
    return {*in_prose, *in_a_block}


def test_the_usual_commands_are_there() -> None:
    assert {"demo", "test", "lint", "lock", "bench", "clean"} <= COMMANDS


def test_asking_for_nothing_lists_the_commands() -> None:
    listed = subprocess.run(["make", "-C", str(ROOT)], capture_output=True, text=True, timeout=30, check=True).stdout
    assert set(re.findall(r"make ([a-z]+)", listed)) == COMMANDS


def test_the_page_about_building_describes_every_command() -> None:
    assert COMMANDS - {"help"} <= _promised(PAGES["docs/building.md"])


def test_a_promise_is_seen_in_prose_and_in_a_code_block() -> None:
    assert _promised("run `make tea`\n```\nmake coffee X=1\n```\nmakes sense to make sure") == {"tea", "coffee"}


def test_no_page_promises_a_command_that_is_not_there() -> None:
    for name, text in PAGES.items():
        assert _promised(text) <= COMMANDS, name


@pytest.mark.parametrize("command", ["demo", "test", "bench"])
def test_a_command_brings_the_environment_up_to_date_first(command: str) -> None:
    steps = subprocess.run(
        ["make", "-C", str(ROOT), "--dry-run", "--no-print-directory", command],
        capture_output=True,
        text=True,
        timeout=30,
        check=True,
    ).stdout.splitlines()
    level = "run" if command == "demo" else "dev"
    assert steps[0].endswith(f"tools/environment.py {level}")
    assert len(steps) > 1
