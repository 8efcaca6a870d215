"""Feed every reader with damaged and invented files, and keep what breaks it.

Usage: ``python tools/fuzz.py [--minutes M] [--jobs N] [--out FOLDER] [TARGET ...]``

Each target (``tests/fuzz/targets.py``) runs in a process of its own for its share of the minutes. Where atheris can be
imported, it is guided by coverage; otherwise known files are changed at random. Inputs that broke something are written
to ``FOLDER/found/TARGET/``, one for each place it broke, and the inputs that reached new code to ``FOLDER/reached/``.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib
import importlib.util
import json
import os
import random
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))  # the targets live beside the tests

GUIDED = ("wringout", "tomllib", "gpxpy", "pynmea2", "zipfile", "csv")
"""Packages in which atheris watches which code is reached."""
READING = ("recordings", "store", "handbooks", "planning", "instruments", "airplane", "services", "units")
COMPILED = ("airplane/forces.py", "airplane/vector.py", "services/matchups/compiled.py")
"""Compiled functions cannot be watched."""
LONGEST_BYTES = 65_536
SWOLLEN_BYTES = 1 << 20
NOTE_EVERY_S = 2.0
JOINTS = (
    b",",
    b";",
    b"\n",
    b"\r\n",
    b"\t",
    b'"',
    b"'",
    b"\x00",
    b"=",
    b"[",
    b"{",
    b"<",
    b"&",
    b"9" * 40,
    b"-1",
    b"1e999",
)
WORDS = (
    *JOINTS,
    b"NaN",
    "\u202e".encode(),
    "\ufeff".encode(),
    b"\xff",
    "é".encode(),
    b"../",
    b"1:59:60",
    b"2027-02-29",
)


def _beside_the_tests() -> tuple[Any, Any]:
    return importlib.import_module("tests.fuzz.judging"), importlib.import_module("tests.fuzz.targets")


class Harness:
    """Reads inputs for one target, counts them, and writes down each new fault once."""

    def __init__(self, name: str, out: Path) -> None:
        judging, targets = _beside_the_tests()
        self.target = targets.TARGETS[name]
        self.judge, self.peak_mb = judging.judge, judging.peak_mb
        self.found = out / "found" / name
        self.reached = out / "reached" / name
        kept = [path.read_bytes() for path in sorted((targets.CORPUS / name).glob("*"))]
        self.seeds = [*self.target.seeds(), *kept]
        for seed in self.seeds:
            self.judge(self.target, seed)
        self.base_mb, self.begin_s = self.peak_mb(), time.monotonic()
        self.tried, self.slowest_s, self.noted_s, self.places = 0, 0.0, self.begin_s, set[tuple[str, str]]()
        self.note = out / f"{name}.json"
        self.found.mkdir(parents=True, exist_ok=True)

    def feed(self, data: bytes) -> None:
        """Try one input."""
        begin_s = time.process_time()
        fault = self.judge(self.target, data)
        self.tried += 1
        if time.monotonic() > self.noted_s + NOTE_EVERY_S:
            self.report()
        self.slowest_s = max(self.slowest_s, time.process_time() - begin_s)
        if fault is not None and (fault.kind, fault.place) not in self.places:
            self.places.add((fault.kind, fault.place))
            name = hashlib.sha256(f"{fault.kind} {fault.place}".encode()).hexdigest()[:12]
            (self.found / f"{fault.kind}-{name}").write_bytes(data)
            (self.found / f"{fault.kind}-{name}.txt").write_text(f"{fault.place}\n{fault.words}\n", encoding="utf-8")
            print(f"{self.target.name}: {fault.kind}: {fault.place}: {fault.words}", flush=True)

    def swell(self, seconds: float, dice: random.Random) -> None:
        """Try seeds with one of their lines or signs repeated to a megabyte, until the time is over."""
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s:
            seed = dice.choice(self.seeds)
            lines = [line for line in seed.splitlines(keepends=True) if line] or [b"x"]
            line = dice.choice(lines)
            part = line if dice.randrange(2) else line[dice.randrange(len(line)) :][: dice.choice((1, 1, 2, 5))]
            at = seed.find(part)
            self.feed(seed[:at] + part * (SWOLLEN_BYTES // len(part)) + seed[at:])

    def report(self) -> None:
        """Write the figures down; atheris ends the process without a word, so this is done every few seconds."""
        self.noted_s = time.monotonic()
        figures = {
            "target": self.target.name,
            "tried": self.tried,
            "seconds": round(self.noted_s - self.begin_s),
            "slowest_s": round(self.slowest_s, 2),
            "grown_mb": round(self.peak_mb() - self.base_mb),
            "faults": len(self.places),
        }
        self.note.write_text(json.dumps(figures), encoding="utf-8")


def changed(data: bytes, others: list[bytes], dice: random.Random) -> bytes:
    """Return bytes with one to eight changes in them."""
    made = bytearray(data)
    for _ in range(dice.choice((1, 1, 2, 3, 8))):
        at, length = dice.randrange(len(made) + 1), dice.choice((1, 1, 2, 4, 16, 64))
        match dice.randrange(7):
            case 0:
                made[at : at + 1] = bytes([dice.randrange(256)])
            case 1:
                del made[at : at + length]
            case 2:
                made[at:at] = dice.choice(WORDS)
            case 3:
                made[at : at + length] = dice.choice(WORDS)
            case 4:
                made[at:at] = bytes(made[at : at + length]) * dice.choice((1, 2, 50))
            case 5:
                other = dice.choice(others)
                start = dice.randrange(len(other) + 1)
                made[at:at] = other[start : start + length]
            case _:
                made[at:] = b"" if dice.randrange(4) == 0 else made[at:]
    return bytes(made[:LONGEST_BYTES])


def by_chance(harness: Harness, seconds: float, seed: int) -> None:
    """Change known inputs at random until the time is over."""
    dice, end_s = random.Random(seed), time.monotonic() + seconds  # noqa: S311  no secret
    bend = harness.target.bend
    while time.monotonic() < end_s:
        damage = changed if bend is None or dice.randrange(4) == 0 else bend
        harness.feed(damage(dice.choice(harness.seeds), harness.seeds, dice))


def by_coverage(atheris: Any, harness: Harness, seconds: float, seed: int) -> None:
    """Let atheris look for inputs that reach new code; it ends the process."""
    harness.reached.mkdir(parents=True, exist_ok=True)
    for data in harness.seeds:
        (harness.reached / hashlib.sha256(data).hexdigest()[:16]).write_bytes(data)
    options = [
        f"-max_total_time={int(seconds)}",
        f"-max_len={LONGEST_BYTES}",
        f"-seed={seed}",
        "-timeout=120",
        "-rss_limit_mb=2000",
        "-print_final_stats=0",
        "-verbosity=0",
        f"-artifact_prefix={harness.found}/",
    ]
    atheris.Setup([sys.argv[0], *options, str(harness.reached)], harness.feed)
    atheris.Fuzz()


def _unwatched() -> list[str]:
    """Return the modules of ours that read nothing from outside, or are compiled."""
    home = ROOT / "src" / "wringout"
    names = []
    for path in home.rglob("*.py"):
        inside = path.relative_to(home)
        if inside.parts[0].removesuffix(".py") not in READING or inside.as_posix() in COMPILED:
            parts = inside.with_suffix("").parts
            names.append(".".join(("wringout", *(parts[:-1] if parts[-1] == "__init__" else parts))))
    return names


def one(name: str, seconds: float, out: Path, seed: int) -> None:
    """Fuzz one target in this process, and leave its figures beside what it found."""
    atheris = importlib.import_module("atheris") if importlib.util.find_spec("atheris") else None
    if atheris is not None:
        with atheris.instrument_imports(include=list(GUIDED), exclude=_unwatched()):
            importlib.import_module("tests.fuzz.targets")
    harness = Harness(name, out)
    harness.swell(seconds / 5, random.Random(seed))  # noqa: S311  no secret
    harness.report()
    rest_s = max(seconds - (time.monotonic() - harness.begin_s), 1.0)
    if atheris is None or harness.target.bend is not None:
        by_chance(harness, rest_s, seed)
    else:
        by_coverage(atheris, harness, rest_s, seed)


def main() -> int:
    """Fuzz the targets, several at a time, and print a line for each; return 1 when something broke."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    words.add_argument("targets", nargs="*", help="which readers; all, when none is named")
    words.add_argument("--minutes", type=float, default=60.0, help="in all, shared among the targets")
    words.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes at a time")
    words.add_argument("--out", type=Path, default=ROOT / "artefacts" / "fuzz", help="where findings go")
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--here", action="store_true", help="fuzz the one named target in this process")
    asked = words.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    if asked.here:
        one(asked.targets[0], 60.0 * asked.minutes, asked.out, asked.seed)
        return 0
    names = asked.targets or list(_beside_the_tests()[1].TARGETS)
    share = asked.minutes * asked.jobs / len(names)
    running: list[subprocess.Popen[bytes]] = []
    for name in names:
        while len(running) >= asked.jobs:
            time.sleep(0.2)
            running = [child for child in running if child.poll() is None]
        command = [sys.executable, __file__, name, "--here", "--minutes", f"{share:.3f}", "--out", str(asked.out)]
        with (asked.out / f"{name}.log").open("wb") as log:
            running.append(
                subprocess.Popen([*command, "--seed", str(asked.seed)], stdout=log, stderr=subprocess.STDOUT)
            )
    for child in running:
        child.wait()
    _weigh_again(names, asked.out)
    return told(names, asked.out)


def _weigh_again(names: list[str], out: Path) -> None:
    """Judge what was found once more, without atheris, which makes everything slower; keep what is still a fault."""
    judging, targets = _beside_the_tests()
    for name in names:
        note = out / f"{name}.json"
        figures = json.loads(note.read_text(encoding="utf-8")) if note.exists() else {"target": name}
        left = 0
        for path in sorted((out / "found" / name).glob("*")):
            if path.suffix != ".txt":
                fault = judging.judge(targets.TARGETS[name], path.read_bytes())
                left += fault is not None
                print(f"{name}: {path.name}: {'no fault any more' if fault is None else fault}")
        note.write_text(json.dumps({**figures, "faults": left}), encoding="utf-8")


def told(names: list[str], out: Path) -> int:
    """Print the figures of each target, and return 1 when something broke."""
    figures = [json.loads((out / f"{name}.json").read_text(encoding="utf-8")) for name in names]
    figures = [figure for figure in figures if "tried" in figure]
    for figure in figures:
        print(
            f"{figure['target']:14} {figure['tried']:>9,} inputs in {figure['seconds']:>5} s, slowest "
            f"{figure['slowest_s']:.2f} s, memory +{figure['grown_mb']} MB, {figure['faults']} faults"
        )
    minutes = sum(figure["seconds"] for figure in figures) / 60
    print(f"{sum(figure['tried'] for figure in figures):,} inputs in {minutes:.0f} minutes of fuzzing")
    missing = set(names) - {figure["target"] for figure in figures}
    return 1 if missing or any(figure["faults"] for figure in figures) else 0


if __name__ == "__main__":
    sys.exit(main())
