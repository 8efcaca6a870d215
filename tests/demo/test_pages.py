"""The page on architecture names what is there: every room, and no file that is not."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "wringout"
PAGE = (ROOT / "docs" / "architecture.md").read_text(encoding="utf-8")
NAMED = set(re.findall(r"`([a-z_]+(?:/[a-z_]+)*(?:\.py|/))`", PAGE))


def _rooms() -> set[str]:
    packages = {f"{path.parent.name}/" for path in SOURCE.glob("*/__init__.py")}
    return packages | {path.name for path in SOURCE.glob("*.py") if path.name != "__init__.py"}


def _is_there(name: str) -> bool:
    """Return whether a named file or folder is somewhere in the project, by its own path or inside a room."""
    return (ROOT / name).exists() or any(SOURCE.rglob(name.rstrip("/")))


def test_every_room_is_on_the_page() -> None:
    assert _rooms() - NAMED == set()


def test_no_file_is_named_that_is_not_there() -> None:
    assert [name for name in sorted(NAMED) if not _is_there(name)] == []
    assert not _is_there("nowhere_at_all.py")
    assert len(NAMED) > 60


def test_the_layers_of_the_contract_are_the_rooms_of_the_page() -> None:
    layers = re.search(r"layers = \[(.*?)\]", (ROOT / "pyproject.toml").read_text(encoding="utf-8"), re.DOTALL)
    assert layers is not None
    named = set(re.findall(r"[a-z_]+", layers.group(1)))
    assert named == {name.removesuffix("/").removesuffix(".py") for name in _rooms()}
