"""The lock files pin every package by hash, agree with each other, and still answer pyproject.toml."""

from __future__ import annotations

import ast
import importlib.metadata
import re
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.house.tree import ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
DECLARED = [Requirement(text) for text in PROJECT["project"]["dependencies"]]
EXTRAS = [Requirement(text) for texts in PROJECT["project"]["optional-dependencies"].values() for text in texts]
BUILD = [Requirement(text) for text in PROJECT["dependency-groups"]["build"]]
DEV = [Requirement(text) for text in PROJECT["dependency-groups"]["dev"]]


def _entries(text: str) -> list[str]:
    """Return the logical lines of a lock file: continued lines joined, comments and blank lines left out."""
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    return [entry.strip() for entry in "\n".join(lines).replace("\\\n", " ").splitlines()]


def _pins(text: str) -> dict[str, str]:
    """Return the version pinned for each package; raises ValueError on an entry that is not pinned by hash."""
    pins: dict[str, str] = {}
    for entry in _entries(text):
        found = re.fullmatch(r"([A-Za-z0-9._-]+)==(\S+)(?: ; [^-]*?)?((?:\s+--hash=sha256:[0-9a-f]{64})+)", entry)
        if found is None:
            raise ValueError(f"not one package pinned by hash: {entry[:80]}")
        name = canonicalize_name(found.group(1))
        if name in pins:
            raise ValueError(f"{name} is pinned twice")
        pins[name] = found.group(2)
    return pins


def _unanswered(requirements: list[Requirement], pins: dict[str, str]) -> list[str]:
    return [
        str(requirement)
        for requirement in requirements
        if canonicalize_name(requirement.name) not in pins
        or not requirement.specifier.contains(pins[canonicalize_name(requirement.name)], prereleases=True)
    ]


RUN_PINS = _pins((ROOT / "requirements" / "run.txt").read_text(encoding="utf-8"))
DEV_PINS = _pins((ROOT / "requirements" / "dev.txt").read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "planted",
    ["numpy>=2.4", "numpy==2.4.6", "--index-url somewhere", "-e .", f"a==1 --hash=sha256:{'0' * 64}\n" * 2],
)
def test_an_entry_without_a_hash_is_refused(planted: str) -> None:
    with pytest.raises(ValueError, match=r"pinned by hash|pinned twice"):
        _pins(planted)


def test_the_locks_answer_what_the_project_asks_for() -> None:
    assert _unanswered([Requirement("numpy>=99")], RUN_PINS) == ["numpy>=99"]
    assert _unanswered([Requirement("not-there")], RUN_PINS) == ["not-there"]
    assert _unanswered(DECLARED + BUILD, RUN_PINS) == [], "run: make lock"
    assert _unanswered(DECLARED + BUILD + DEV, DEV_PINS) == [], "run: make lock"


def test_both_locks_give_the_same_program() -> None:
    assert RUN_PINS.items() <= DEV_PINS.items()


def test_the_build_backend_is_the_pinned_one() -> None:
    wanted = [Requirement(text) for text in PROJECT["build-system"]["requires"]]
    assert _unanswered(wanted, RUN_PINS) == []


def test_the_header_names_the_command_and_nothing_else() -> None:
    for name in ("run.txt", "dev.txt"):
        head = (ROOT / "requirements" / name).read_text(encoding="utf-8").splitlines()[:2]
        assert head[1] == "#    make lock"


def _imported(folders: list[Path]) -> set[str]:
    """Return the top names of everything imported by the Python files in some folders."""
    names: set[str] = set()
    for folder in folders:
        for path in folder.rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Import):
                    names |= {alias.name.split(".")[0] for alias in node.names}
                elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
                    names.add(node.module.split(".")[0])
    return names - set(sys.stdlib_module_names) - {"wringout", "tests", "tools", "benchmarks"}


def _distributions(modules: set[str]) -> dict[str, set[str]]:
    """Return the packages that could have provided each imported module."""
    provided = importlib.metadata.packages_distributions()
    return {module: {canonicalize_name(name) for name in provided.get(module, [])} for module in modules}


def _names(requirements: list[Requirement]) -> set[str]:
    return {canonicalize_name(requirement.name) for requirement in requirements}


def test_the_program_imports_only_what_it_declares() -> None:
    for module, candidates in _distributions(_imported([ROOT / "src"])).items():
        assert candidates & _names(DECLARED + EXTRAS), f"{module} is imported in src but not declared in pyproject.toml"


def test_the_tests_import_only_what_is_declared() -> None:
    declared = _names(DECLARED + BUILD + DEV)
    folders = [ROOT / "tests", ROOT / "tools", ROOT / "benchmarks"]
    for module, candidates in _distributions(_imported(folders)).items():
        assert candidates & declared, f"{module} is imported by the tests but not declared in pyproject.toml"


LEANED_ON = {"python-multipart"}
"""Declared for another package's sake: starlette reads forms with it, and does not ask for it itself."""


def test_everything_declared_is_used() -> None:
    used = LEANED_ON | set().union(*_distributions(_imported([ROOT / "src"])).values())
    assert _names(DECLARED) <= used, f"declared but never imported: {sorted(_names(DECLARED) - used)}"
