"""The environment is built when it must be, left alone when it may be, and every refusal is one sentence."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.house.tree import ROOT
from tools.environment import Environment, drop_stale_kernels, is_usable, main, provide_browser

FIND = ROOT / "tools" / "find_python.sh"


class FakeRun:
    """Stands in for running commands: notes each one, makes the interpreter that venv would make, fails on request."""

    def __init__(self, environment: Environment, failing: str = "") -> None:
        self.environment = environment
        self.failing = failing
        self.commands: list[str] = []

    def __call__(self, command: Sequence[str]) -> int:
        """Note a command and return its exit code."""
        line = " ".join(command)
        self.commands.append(line)
        if self.failing and self.failing in line:
            return 1
        if "-m venv" in line:
            self.environment.python.parent.mkdir(parents=True)
            self.environment.python.touch()
        return 0

    def installed(self) -> list[str]:
        """Return the commands that made or filled the environment."""
        return [line for line in self.commands if " -c " not in line]


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    (tmp_path / "requirements").mkdir()
    (tmp_path / "requirements" / "run.txt").write_text("a==1", encoding="utf-8")
    (tmp_path / "requirements" / "dev.txt").write_text("a==1\nb==1", encoding="utf-8")
    (tmp_path / "pyproject.toml").write_text("[project]", encoding="utf-8")
    return tmp_path


def _build(checkout: Path, level: str, failing: str = "") -> tuple[int, list[str]]:
    run = FakeRun(Environment(checkout), failing)
    return main([level], checkout, run), run.installed()


def test_a_bare_checkout_is_built_from_the_lock_by_hash(checkout: Path) -> None:
    code, commands = _build(checkout, "run")
    assert code == 0
    assert len(commands) == 3
    assert "-m venv" in commands[0]
    assert "--require-hashes" in commands[1]
    assert commands[1].endswith("requirements/run.txt")
    assert "--no-build-isolation" in commands[2]
    assert "--no-deps" in commands[2]


def test_nothing_is_done_when_nothing_changed(checkout: Path) -> None:
    _build(checkout, "run")
    assert _build(checkout, "run") == (0, [])


def test_the_larger_environment_serves_the_smaller_need(checkout: Path) -> None:
    _build(checkout, "dev")
    assert _build(checkout, "run") == (0, [])


def test_the_smaller_environment_does_not_serve_the_larger_need(checkout: Path) -> None:
    _build(checkout, "run")
    code, commands = _build(checkout, "dev")
    assert code == 0
    assert len(commands) == 2
    assert commands[0].endswith("requirements/dev.txt")


@pytest.mark.parametrize("name", ["requirements/run.txt", "pyproject.toml"])
def test_a_changed_lock_or_project_installs_again_without_rebuilding(checkout: Path, name: str) -> None:
    _build(checkout, "run")
    (checkout / name).write_text("changed", encoding="utf-8")
    code, commands = _build(checkout, "run")
    assert code == 0
    assert len(commands) == 2
    assert not any("-m venv" in line for line in commands)


def test_a_moved_checkout_is_rebuilt_because_its_commands_hold_the_old_path(checkout: Path) -> None:
    _build(checkout, "run")
    moved = checkout.parent / f"{checkout.name}-moved"
    checkout.rename(moved)
    _, commands = _build(moved, "run")
    assert "-m venv" in commands[0]


@pytest.mark.parametrize("stage", ["-m venv", "--require-hashes", "--editable"])
def test_a_build_cut_short_is_begun_again_from_nothing(
    checkout: Path, stage: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _ = _build(checkout, "run", failing=stage)
    assert code == 1
    said = capsys.readouterr().err.strip()
    assert said.endswith(".")
    assert "\n" not in said
    (checkout / ".venv" / "half-written").touch()
    code, commands = _build(checkout, "run")
    assert code == 0
    assert "-m venv" in commands[0]
    assert not (checkout / ".venv" / "half-written").exists()


def test_an_interpreter_that_no_longer_starts_is_replaced(checkout: Path) -> None:
    _build(checkout, "run")
    Environment(checkout).python.unlink()
    _, commands = _build(checkout, "run")
    assert "-m venv" in commands[0]


def test_an_environment_made_by_hand_is_kept(checkout: Path) -> None:
    python = Environment(checkout).python
    python.parent.mkdir(parents=True)
    python.touch()
    (checkout / ".venv" / "mine").touch()
    code, commands = _build(checkout, "run")
    assert code == 0
    assert not any("-m venv" in line for line in commands)
    assert (checkout / ".venv" / "mine").exists()


def test_a_damaged_note_is_not_believed(checkout: Path) -> None:
    _build(checkout, "run")
    Environment(checkout).stamp.write_text("{half", encoding="utf-8")
    assert not Environment(checkout).is_current("run")


def test_an_unknown_level_is_refused(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["everything"], checkout, FakeRun(Environment(checkout))) == 2
    assert "run" in capsys.readouterr().err


def test_the_interpreter_running_this_is_usable() -> None:
    assert is_usable(Path(sys.executable))
    assert not is_usable(ROOT / "no-such-python")


def _stand_in(folder: Path, name: str, body: str) -> Path:
    path = folder / name
    path.write_text(f"#!/bin/sh\n{body}\n", encoding="utf-8")
    path.chmod(0o755)
    return path


def _find(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["/bin/sh", str(FIND), *arguments],
        env={"PATH": str(folder)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def _good(folder: Path, name: str) -> Path:
    return _stand_in(folder, name, f'exec "{sys.executable}" "$@"')


def test_a_stand_in_that_does_not_start_is_passed_over(tmp_path: Path) -> None:
    _stand_in(tmp_path, "python3.13", 'echo "python3.13: command not found" >&2; exit 127')
    _stand_in(tmp_path, "python3.12", "exit 0")
    _good(tmp_path, "python3")
    found = _find(tmp_path)
    assert found.returncode == 0, found.stderr
    assert os.access(found.stdout.strip(), os.X_OK)
    assert found.stderr == ""


def test_the_interpreter_asked_for_is_the_only_one_tried(tmp_path: Path) -> None:
    _good(tmp_path, "python3")
    assert _find(tmp_path, str(tmp_path / "python3")).returncode == 0
    refused = _find(tmp_path, "python9")
    assert refused.returncode == 1
    assert "python9" in refused.stderr


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (None, "none was found"),
        ("exit 3", "is older"),
        ("exit 4", "venv module"),
        ("exit 1", "none was found"),
    ],
)
def test_no_usable_interpreter_is_one_clear_sentence(tmp_path: Path, body: str | None, said: str) -> None:
    if body is not None:
        _stand_in(tmp_path, "python3", body)
    refused = _find(tmp_path)
    assert refused.returncode == 1
    assert refused.stdout == ""
    assert said in refused.stderr
    assert refused.stderr.count("\n") == 1
    assert "3.11" in refused.stderr or said == "venv module"


def test_an_interpreter_that_is_too_old_is_told_from_one_that_is_not(tmp_path: Path) -> None:
    old = f'exec "{sys.executable}" -c "import sys; sys.version_info = (3, 10, 9); exec(sys.argv[2])" "$@"'
    _stand_in(tmp_path, "python3", old)
    refused = _find(tmp_path)
    assert refused.returncode == 1
    assert "python3 is older" in refused.stderr


def test_compiled_routines_go_when_any_of_their_sources_changes(tmp_path: Path) -> None:
    room, cache = tmp_path / "src" / "wringout", tmp_path / "src" / "wringout" / "__pycache__"
    cache.mkdir(parents=True)
    (tmp_path / ".venv").mkdir()
    (room / "forces.py").write_text("@njit\ndef f(): return 1\n", encoding="utf-8")
    (room / "plain.py").write_text("x = 1\n", encoding="utf-8")
    assert drop_stale_kernels(tmp_path) == 0
    (cache / "f.nbi").touch()
    (cache / "f.1.nbc").touch()
    (room / "plain.py").write_text("x = 2\n", encoding="utf-8")
    assert drop_stale_kernels(tmp_path) == 0
    (room / "forces.py").write_text("@njit\ndef f(): return 2\n", encoding="utf-8")
    assert drop_stale_kernels(tmp_path) == 2
    assert list(cache.iterdir()) == []


@pytest.mark.parametrize("line", ["from rooms.numbers import LANES", "from rooms import numbers as n"])
def test_a_kernel_goes_when_a_number_it_imports_changes(tmp_path: Path, line: str) -> None:
    room = tmp_path / "src" / "rooms"
    cache = room / "__pycache__"
    cache.mkdir(parents=True)
    (tmp_path / ".venv").mkdir()
    (room / "numbers.py").write_text("LANES = 4\n", encoding="utf-8")
    (room / "kernel.py").write_text(f"{line}\nfrom rooms.compiling import compiled\n", encoding="utf-8")
    drop_stale_kernels(tmp_path)
    (cache / "f.nbi").touch()
    assert drop_stale_kernels(tmp_path) == 0
    (room / "numbers.py").write_text("LANES = 8\n", encoding="utf-8")
    assert drop_stale_kernels(tmp_path) == 1


def test_what_the_first_command_compiles_is_still_there_for_the_second(checkout: Path) -> None:
    cache = checkout / "src" / "wringout" / "__pycache__"
    cache.mkdir(parents=True)
    (cache.parent / "forces.py").write_text("@njit\ndef f(): return 1\n", encoding="utf-8")
    _build(checkout, "run")
    (cache / "f.nbi").touch()
    _build(checkout, "run")
    assert (cache / "f.nbi").exists()


def test_a_browser_is_installed_only_where_there_is_none_and_root_may() -> None:
    asked: list[str] = []

    def run(command: Sequence[str]) -> int:
        asked.append(command[0] + " " + command[1])
        return 0

    assert provide_browser(run, lambda name: "/usr/bin/chromium" if name == "chromium" else None) == ""
    assert asked == []
    here = iter([None, None, None, "/usr/bin/apt-get", "/usr/bin/chromium"])
    assert provide_browser(run, lambda _: next(here), lambda: 0) == ""
    assert asked == ["apt-get update", "apt-get install"]
    told = provide_browser(run, lambda _: None, lambda: 1000)
    assert told.startswith("The tests of pages need a Chromium")
    assert len(asked) == 2
