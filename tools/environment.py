"""Build the project's own environment, ``.venv``, from a lock file with hashes.

Usage: ``python tools/environment.py run`` (what the program needs) or ``dev`` (that, and what its checks need).

Uses the standard library only, so that it runs on a bare machine. Safe to run every time: it does nothing when
the environment already matches the lock, installs again when the lock or ``pyproject.toml`` changed, and rebuilds
from nothing when an earlier attempt was cut short. A ``.venv`` that somebody made by hand is kept and installed into.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

LEVELS = ("run", "dev")
OLDEST_PYTHON = (3, 11)

Runner = Callable[[Sequence[str]], int]
"""Runs a command and returns its exit code."""


class EnvironmentBuildError(Exception):
    """The environment could not be built; the text is one sentence saying why and what to do."""


class Environment:
    """The ``.venv`` folder of one checkout, and the notes kept inside it about what was installed."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.folder = root / ".venv"
        self.python = self.folder / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
        self.stamp = self.folder / "wringout-installed.json"
        self.unfinished = self.folder / "wringout-unfinished"

    def lock(self, level: str) -> Path:
        """Return the lock file of a level."""
        return self.root / "requirements" / f"{level}.txt"

    def digest(self, level: str) -> str:
        """Return a hash over all that decides what a level installs."""
        parts = [self.lock(level).read_bytes(), (self.root / "pyproject.toml").read_bytes()]
        return hashlib.sha256(b"\0".join(parts)).hexdigest()

    def note(self) -> dict[str, object]:
        """Return what the last finished installation wrote down; empty when there is none that can be read."""
        try:
            noted = json.loads(self.stamp.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return noted if isinstance(noted, dict) else {}

    def must_be_rebuilt(self) -> bool:
        """Return whether an earlier attempt was cut short, or the folder was moved (its commands hold the old path)."""
        return self.unfinished.exists() or self.note().get("folder", str(self.folder)) != str(self.folder)

    def is_current(self, level: str) -> bool:
        """Return whether the level is installed already; the larger level covers the smaller one."""
        if self.must_be_rebuilt():
            return False
        installed = self.note()
        covering = LEVELS[LEVELS.index(level) :]
        return any(installed.get("level") == name and installed.get("digest") == self.digest(name) for name in covering)


def run_quietly(command: Sequence[str]) -> int:
    """Run a command, showing only its error output, and return its exit code (127 when it cannot start)."""
    try:
        return subprocess.run(command, stdout=subprocess.DEVNULL, check=False).returncode
    except OSError:
        return 127


def is_usable(python: Path, run: Runner = run_quietly) -> bool:
    """Return whether an interpreter starts, is new enough and has pip."""
    if not python.exists():
        return False
    check = (
        "import sys\n"
        f"if sys.version_info < {OLDEST_PYTHON}: sys.exit(1)\n"
        "try: import pip\n"
        "except ImportError: sys.exit(1)"
    )
    return run([str(python), "-c", check]) == 0


def prepare(environment: Environment, run: Runner) -> None:
    """Make sure there is a working, not half-made ``.venv``; raises EnvironmentBuildError if none can be made."""
    folder = environment.folder
    if not environment.must_be_rebuilt() and is_usable(environment.python, run):
        return
    if folder.is_symlink() or folder.is_file():
        folder.unlink()
    elif folder.exists():
        shutil.rmtree(folder)
    folder.mkdir(parents=True)
    environment.unfinished.touch()
    if run([sys.executable, "-m", "venv", str(folder)]) != 0 or not is_usable(environment.python, run):
        raise EnvironmentBuildError(
            f"{sys.executable} could not build the environment {folder}: see the message above; "
            "on Debian or Ubuntu the package python3-venv may be missing."
        )


def install(environment: Environment, level: str, run: Runner) -> None:
    """Install a level's lock and the project itself; raises EnvironmentBuildError if either fails."""
    environment.unfinished.touch()
    environment.stamp.unlink(missing_ok=True)
    pip = [str(environment.python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--no-input"]
    lock = environment.lock(level)
    # The lock lists everything; older pips stumble over its extras when they look for dependencies all the same.
    if run([*pip, "--no-deps", "--require-hashes", "--only-binary", ":all:", "--requirement", str(lock)]) != 0:
        raise EnvironmentBuildError(
            f"The packages in {lock.relative_to(environment.root)} could not be installed with Python "
            f"{sys.version_info.major}.{sys.version_info.minor}: see the message above; check the network and run "
            "make again, or name another Python with make PYTHON=/path/to/python3."
        )
    if run([*pip, "--no-deps", "--no-build-isolation", "--editable", str(environment.root)]) != 0:
        raise EnvironmentBuildError("The project itself could not be installed: see the message above.")
    note = {"level": level, "digest": environment.digest(level), "folder": str(environment.folder)}
    environment.stamp.write_text(json.dumps(note), encoding="utf-8")
    environment.unfinished.unlink()


_IMPORTED = re.compile(r"from (\w[\w.]*) import (\([^)]*\)|[^\n]*)")


def compiled_from(source: Path) -> list[Path]:
    """Return the files that hold compiled routines, and those they import names or numbers from."""
    every = {path: path.read_text(encoding="utf-8") for path in sorted(source.rglob("*.py"))}
    found = {path for path, text in every.items() if "njit" in text or ".compiling import" in text}
    for path in tuple(found):
        for module, names in _IMPORTED.findall(every[path]):
            home = source.joinpath(*module.split("."))
            beside = {home / f"{name}.py" for name in re.findall(r"\w+", names)}
            found |= {home.with_suffix(".py"), *beside} & every.keys()
    return sorted(found)


def drop_stale_kernels(root: Path) -> int:
    """Delete compiled routines when any source of one changed since they were compiled; return how many files went.

    The compiler keeps its results beside each source and looks only at that source's own date. A routine that calls
    one in another module, or a number of it, would go on with the old one, so all are dropped together when any of them
    or of the modules they import changes.
    """
    source = root / "src"
    digest = hashlib.sha256(b"\0".join(path.read_bytes() for path in compiled_from(source))).hexdigest()
    note = root / ".venv" / "wringout-kernels"
    if note.exists() and note.read_text(encoding="utf-8") == digest:
        return 0
    stale = [path for pattern in ("*.nbi", "*.nbc") for path in source.rglob(pattern)]
    for path in stale:
        path.unlink(missing_ok=True)
    if note.parent.exists():
        note.write_text(digest, encoding="utf-8")
    return len(stale)


BROWSERS = ("chromium", "chromium-browser", "google-chrome")


def provide_browser(
    run: Runner, find: Callable[[str], str | None] = shutil.which, user: Callable[[], int] | None = None
) -> str:
    """Make sure there is a Chromium for the tests of pages; return "" or the sentence that says what to do.

    It is installed only where that is this machine's own way: Debian's packages, as root.
    """
    if any(find(name) for name in BROWSERS):
        return ""
    user = user or getattr(os, "geteuid", None)
    if user is not None and user() == 0 and find("apt-get"):
        print("Installing chromium for the tests of pages (once) ...", flush=True)
        packages = ["apt-get", "install", "--yes", "--quiet", "--no-install-recommends", "chromium"]
        if run(["apt-get", "update", "--quiet"]) == 0 and run(packages) == 0 and any(find(name) for name in BROWSERS):
            return ""
    return "The tests of pages need a Chromium, and none was found: install the package chromium and run make again."


def main(arguments: Sequence[str], root: Path, run: Runner = run_quietly) -> int:
    """Bring ``.venv`` up to date for the level named in the arguments and return the exit code."""
    if len(arguments) != 1 or arguments[0] not in LEVELS:
        print("Say which environment to build: run (to use the program) or dev (to check it).", file=sys.stderr)
        return 2
    level = arguments[0]
    environment = Environment(root)
    try:
        if not (environment.is_current(level) and is_usable(environment.python, run)):
            print(f"Building .venv from requirements/{level}.txt (a minute or so, once) ...", flush=True)
            prepare(environment, run)
            install(environment, level, run)
    except EnvironmentBuildError as problem:
        print(problem, file=sys.stderr)
        return 1
    if level == "dev" and (missing := provide_browser(run)):
        print(missing, file=sys.stderr)  # the tests of pages will say so too; all others can run
    drop_stale_kernels(root)  # last, since its note lies in the environment
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:], Path(__file__).resolve().parent.parent))
