"""Fetch the browser libraries that pages use, once, at development time, and keep them with licence and hash.

Usage: ``python tools/vendor_assets.py``. Needs npm. Writes ``src/wringout/web/static/vendor/`` with one file for each
asset under a name that carries its version, the licence beside it, and ``vendored.json`` with the hash of every file.
Nothing of this happens at run time: pages load these files from the program itself.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import sys
import tarfile
import tempfile
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "src" / "wringout" / "web" / "static" / "vendor"
LIST = "vendored.json"


@dataclass(frozen=True, slots=True)
class Asset:
    """A package of the browser world: which release, which of its files, under which names."""

    package: str
    version: str
    licence: str
    files: tuple[tuple[str, str], ...]


ASSETS = (
    Asset(
        "htmx.org", "2.0.11", "0BSD", (("dist/htmx.min.js", "htmx-2.0.11.min.js"), ("LICENSE", "htmx-2.0.11.LICENSE"))
    ),
    Asset(
        "uplot",
        "1.6.32",
        "MIT",
        (
            ("dist/uPlot.iife.min.js", "uplot-1.6.32.iife.min.js"),
            ("dist/uPlot.min.css", "uplot-1.6.32.min.css"),
            ("LICENSE", "uplot-1.6.32.LICENSE"),
        ),
    ),
)


def _npm() -> str:
    """Return where npm stands."""
    found = shutil.which("npm")
    if found is None:
        sys.exit("npm was not found; install Node.js, then run this again.")
    return found


def fetch(asset: Asset, scratch: Path) -> dict[str, bytes]:
    """Return the wanted files of a package by the name they are kept under; npm checks the package's own hash."""
    spec = f"{asset.package}@{asset.version}"
    done = subprocess.run(
        [_npm(), "pack", "--silent", "--pack-destination", str(scratch), spec],
        check=True,
        capture_output=True,
        text=True,
        cwd=scratch,
    )
    found = {}
    with tarfile.open(scratch / done.stdout.strip().splitlines()[-1]) as archive:
        for inside, name in asset.files:
            member = archive.extractfile(f"package/{inside}")
            if member is None:
                raise FileNotFoundError(f"{spec} has no file {inside}")
            found[name] = member.read()
    return found


def listed(asset: Asset, files: dict[str, bytes]) -> list[dict[str, str]]:
    """Return the lines of the list for one package."""
    return [
        {
            "file": name,
            "package": asset.package,
            "version": asset.version,
            "licence": asset.licence,
            "sha256": hashlib.sha256(data).hexdigest(),
        }
        for name, data in files.items()
    ]


def main() -> int:
    """Fetch everything and write the list; return the exit code."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    lines: list[dict[str, str]] = []
    with tempfile.TemporaryDirectory() as scratch:
        for asset in ASSETS:
            files = fetch(asset, Path(scratch))
            for name, data in files.items():
                (FOLDER / name).write_bytes(data)
            lines += listed(asset, files)
    (FOLDER / LIST).write_text(json.dumps(lines, indent=1) + "\n", encoding="utf-8")
    print(f"{len(lines)} files are kept in {FOLDER.name}/.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
