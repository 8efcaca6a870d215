"""The page of licences says what the lock says, what the program is built from may be passed on, and an audit sees."""

from __future__ import annotations

import base64
import hashlib
import importlib.metadata
from pathlib import Path

import pytest

from tests.house.tree import ROOT
from tools.supply import HEAD, Pin, changed_files, licence_of, not_as_locked, pins, plain, rows

PAGE = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8")
LINES = [tuple(cell.strip() for cell in line.strip("|").split("|")) for line in PAGE[len(HEAD) :].splitlines()]
ROWS = list(rows())
PASSED_ON = ("MIT", "BSD", "Apache-2.0", "PSF-2.0", "MPL-2.0", "0BSD", "Zlib", "CC0-1.0")
"""Licences under which a user may be given the program with what it needs; of MPL-2.0 the files stay open."""


def test_the_page_names_every_locked_package_in_its_version() -> None:
    assert PAGE.startswith(HEAD)
    assert {(name, version, use) for name, version, _, use in LINES} == {(n, v, u) for n, v, _, u in ROWS}, (
        "run: make audit"
    )


def test_the_page_says_what_the_packages_say() -> None:
    here = {name: licence for name, _, licence, _ in ROWS if not licence.startswith("not installed")}
    assert {name: licence for name, _, licence, _ in LINES if name in here} == here, "run: make audit"
    assert len(here) > 60


def test_every_package_of_the_program_may_be_passed_on() -> None:
    for name, _, licence, use in LINES:
        assert licence != "not stated", name
        if use == "program":
            assert licence.startswith(PASSED_ON), (name, licence)
        assert "GPL" not in licence or use == "checks", (name, licence)


def test_what_is_installed_is_what_is_locked() -> None:
    assert len(pins("dev")) > 80
    assert not_as_locked(pins("dev").values()) == []
    click = importlib.metadata.version("click")
    assert len(not_as_locked([Pin("click", "0.1", ""), Pin("never-made", "1", ""), Pin("click", click, "")])) == 2


def planted(folder: Path, text: str) -> importlib.metadata.Distribution:
    """Return an installed package of one file, with the hash it came with."""
    digest = base64.urlsafe_b64encode(hashlib.sha256(b"x = 1\n").digest()).rstrip(b"=").decode()
    home = folder / "planted-1.0.dist-info"
    home.mkdir(parents=True)
    (folder / "planted.py").write_text(text, encoding="utf-8")
    (home / "METADATA").write_text("Metadata-Version: 2.1\nName: planted\nVersion: 1.0\nLicense: Mozilla\n", "utf-8")
    record = f"planted.py,sha256={digest},6\nlost.py,sha256={digest},6\nplanted-1.0.dist-info/RECORD,,\n"
    (home / "RECORD").write_text(record, encoding="utf-8")
    return importlib.metadata.PathDistribution(home)


def test_a_changed_and_a_lost_file_are_seen(tmp_path: Path) -> None:
    assert changed_files(planted(tmp_path / "a", "x = 1\n")) == ["lost.py is gone"]
    assert changed_files(planted(tmp_path / "b", "x = 2\n")) == ["planted.py was changed", "lost.py is gone"]
    assert licence_of(planted(tmp_path / "c", "")) == "MPL-2.0"


@pytest.mark.parametrize("name", ["click", "starlette", "sqlalchemy", "typst", "jinja2", "python-multipart", "gpxpy"])
def test_the_files_of_what_faces_strangers_are_as_they_came(name: str) -> None:
    assert changed_files(importlib.metadata.distribution(name)) == []


def test_names_are_folded_as_the_index_folds_them() -> None:
    assert plain("Ruamel.Yaml_Clib") == "ruamel-yaml-clib"
