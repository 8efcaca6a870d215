"""What the program is made of: the licence of every locked package, and whether what is installed is what was locked.

Usage: ``python tools/supply.py licences`` writes docs/licences.md; ``python tools/supply.py audit`` holds the installed
packages against the lock and every installed file against the hash its package came with. Neither needs a network.

An audit against published advisories needs one, and a tool made for it; feed such a tool ``requirements/run.txt``.
"""

from __future__ import annotations

import base64
import hashlib
import importlib.metadata
import re
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "licences.md"
_PIN = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;]+)(?: ; ([^\\\n]*?))?\s*\\$", re.MULTILINE)
_BY_WORDS = (
    (r"apache", "Apache-2.0"),
    (r"mozilla|mpl", "MPL-2.0"),
    (r"lesser general|lgpl", "LGPL-2.1-or-later"),
    (r"python software|psf", "PSF-2.0"),
    (r"\bmit\b", "MIT"),
    (r"bsd", "BSD"),
)
"""Words of older metadata, and the licence they mean; a BSD licence may be any of its forms."""
HEAD = """# Licences of what Wringout is built from

Made by `tools/supply.py licences` from the lock files and the packages' own metadata; a test holds it to the lock.
"program" is what a user installs, "extra" what only some do (video, speech, cluster) and the checks use too,
"checks" what only tests and tools use. Fonts and vendored scripts carry their licences beside them.

| package | version | licence | for |
| --- | --- | --- | --- |
"""


@dataclass(frozen=True, slots=True)
class Pin:
    """One locked package; ``where`` is the marker it is locked under, "" for everywhere."""

    name: str
    version: str
    where: str


def plain(name: str) -> str:
    """Return a package's name in its normal form (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def pins(level: str, root: Path = ROOT) -> dict[str, Pin]:
    """Return the packages of a lock file by name."""
    text = (root / "requirements" / f"{level}.txt").read_text(encoding="utf-8")
    found = (Pin(plain(m[1]), m[2], (m[3] or "").strip()) for m in _PIN.finditer(text))
    return {pin.name: pin for pin in found}


def licence_of(package: importlib.metadata.Distribution) -> str:
    """Return the licence a package states: its expression, else the words of its metadata, else its licence file."""
    told = package.metadata
    for expression in told.get_all("License-Expression") or []:
        return str(expression)
    classifiers = [c for c in told.get_all("Classifier") or [] if c.startswith("License ::")]
    texts = [*classifiers, *(str(words)[:400] for words in told.get_all("License") or [])]
    files = [file for file in package.files or [] if re.search(r"(?i)(licen[cs]e|copying)[^/]*$", str(file))]
    texts += [Path(str(file.locate())).read_text(encoding="utf-8", errors="replace")[:2000] for file in files]
    for text in texts:
        for words, licence in _BY_WORDS:
            if re.search(words, text, re.IGNORECASE):
                return licence
    return "not stated"


def rows(root: Path = ROOT) -> Iterator[tuple[str, str, str, str]]:
    """Yield package, version, licence and use of every locked package, in order of name."""
    run, dev = pins("run", root), pins("dev", root)
    extras = _needed_by_extras()
    for name, pin in sorted((run | dev).items()):
        use = "program" if name in run else "extra" if name in extras else "checks"
        try:
            licence = licence_of(importlib.metadata.distribution(name))
        except importlib.metadata.PackageNotFoundError:
            licence = f"not installed here ({pin.where})" if pin.where else "not installed"
        yield name, pin.version, licence, use


def _needed_by_extras() -> set[str]:
    """Return the packages that the extras of the program bring along."""
    wanted = [r for r in importlib.metadata.requires("wringout") or [] if "extra ==" in r]
    found: set[str] = set()
    queue = [plain(re.split(r"[^A-Za-z0-9._-]", r, maxsplit=1)[0]) for r in wanted]
    while queue:
        name = queue.pop()
        if name not in found:
            found.add(name)
            try:
                more = importlib.metadata.requires(name) or []
            except importlib.metadata.PackageNotFoundError:
                continue
            queue += [plain(re.split(r"[^A-Za-z0-9._-]", r, maxsplit=1)[0]) for r in more if "extra ==" not in r]
    return found


def page(root: Path = ROOT) -> str:
    """Return docs/licences.md."""
    return HEAD + "".join(f"| {' | '.join(cells)} |\n" for cells in rows(root))


def not_as_locked(locked: Iterable[Pin]) -> list[str]:
    """Return a sentence for each package whose installed version is not the locked one."""
    found = []
    for pin in locked:
        try:
            version = importlib.metadata.version(pin.name)
        except importlib.metadata.PackageNotFoundError:
            if not pin.where:
                found.append(f"{pin.name} is locked and not installed")
            continue
        if version != pin.version:
            found.append(f"{pin.name} is installed as {version}, locked as {pin.version}")
    return found


def changed_files(package: importlib.metadata.Distribution) -> list[str]:
    """Return the files of a package that do not have the hash it came with, or are gone."""
    wrong = []
    for file in package.files or []:
        if file.hash is None:
            continue  # the list itself, and what the interpreter compiled
        try:
            digest = hashlib.new(file.hash.mode, Path(str(file.locate())).read_bytes()).digest()
        except OSError:
            wrong.append(f"{file} is gone")
            continue
        if base64.urlsafe_b64encode(digest).rstrip(b"=").decode() != file.hash.value:
            wrong.append(f"{file} was changed")
    return wrong


def audit() -> int:
    """Print what is not as it was locked, and return 1 when anything is not."""
    locked = pins("dev")
    wrong = not_as_locked(locked.values())
    files = 0
    for pin in locked.values():
        try:
            package = importlib.metadata.distribution(pin.name)
        except importlib.metadata.PackageNotFoundError:
            continue
        files += sum(file.hash is not None for file in package.files or [])
        wrong += [f"{pin.name}: {words}" for words in changed_files(package)]
    print("\n".join(wrong) or f"{len(locked)} packages and {files:,} files are as they were locked")
    return 1 if wrong else 0


def main() -> int:
    """Do what is asked."""
    if sys.argv[1:] == ["audit"]:
        return audit()
    if sys.argv[1:] == ["licences"]:
        PAGE.write_text(page(), encoding="utf-8")
        return 0
    print(__doc__)
    return 2


if __name__ == "__main__":
    sys.exit(main())
