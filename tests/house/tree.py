"""The files of the project, as git tracks them, or as they lie in the folder where there is no git."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
"""Root of the checkout."""

_CACHES = {".git", ".venv", "__pycache__", ".mypy_cache", ".ruff_cache", ".pytest_cache", ".hypothesis"}
_PRODUCTS_AT_THE_TOP = {".import_linter_cache", "build", "dist", "demo", "artefacts"}


def tracked_by_git(root: Path) -> list[str]:
    """Return the tracked paths under ``root``, relative to it; empty where git or a checkout is missing."""
    try:
        listed = subprocess.run(
            ["git", "-c", "safe.directory=*", "ls-files", "-z"], cwd=root, capture_output=True, check=False
        )
    except OSError:
        return []
    if listed.returncode != 0:
        return []
    return [name for name in listed.stdout.decode("utf-8", "surrogateescape").split("\0") if name]


def found_by_walking(root: Path) -> list[str]:
    """Return the paths of all files under ``root`` outside the folders that hold caches and products."""
    names = []
    for here, folders, files in os.walk(root):
        skipped = _CACHES | (_PRODUCTS_AT_THE_TOP if Path(here) == root else set())
        folders[:] = sorted(name for name in folders if name not in skipped and not name.endswith(".egg-info"))
        names += [(Path(here) / name).relative_to(root).as_posix() for name in sorted(files)]
    return names


def project_files(root: Path = ROOT) -> dict[str, bytes]:
    """Return every file of the project: its path relative to ``root``, and its bytes."""
    names = tracked_by_git(root) or found_by_walking(root)
    return {name: (root / name).read_bytes() for name in sorted(names) if (root / name).is_file()}


def text_files(files: dict[str, bytes]) -> dict[str, str]:
    """Return the files that are text; one with a zero byte near its start is not."""
    return {name: data.decode("utf-8", "replace") for name, data in files.items() if b"\0" not in data[:8192]}
