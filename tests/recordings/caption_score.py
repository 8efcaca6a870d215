"""How many of the readings and marks in a caption file are found, and how many of those found are none."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from wringout.recordings.spoken.captions import read_cues
from wringout.recordings.spoken.said import Candidate, find_candidates
from wringout.recordings.types import EventKind

FOLDER = Path(__file__).parent / "captions"
WITHIN_S = 4.5


@dataclass(frozen=True, slots=True)
class Score:
    true: int
    found: int
    right: int
    missed: tuple[str, ...]
    false: tuple[str, ...]

    @property
    def precision(self) -> float:
        return self.right / max(self.found, 1)

    @property
    def recall(self) -> float:
        return self.right / max(self.true, 1)


def said(one: Candidate) -> str:
    if one.kind == "reading":
        return f"{'s' if one.unit == 'kt' else 'm'}{one.value:g}"
    assert one.event is not None
    if one.event.device is None:
        return str(one.event.kind)
    sign = "=" if one.event.kind is EventKind.ARRIVED else ">"
    return f"{one.event.device}{sign}{one.event.target}"


def score(stem: str, *, least: float = 0.5) -> Score:
    cues, _ = read_cues((FOLDER / f"{stem}.vtt").read_text(encoding="utf-8"), stem)
    found = [one for one in find_candidates(cues) if one.score >= least]
    with (FOLDER / f"{stem}.truth.csv").open(encoding="utf-8") as stream:
        truth = [(float(row["time_s"]), row["said"]) for row in csv.DictReader(stream)]
    left = list(found)
    missed = []
    for time_s, words in truth:
        match = next((o for o in left if said(o) == words and -0.5 <= o.time_s - time_s <= WITHIN_S), None)
        if match is None:
            missed.append(f"{time_s:g} {words}")
        else:
            left.remove(match)
    false = tuple(f"{one.time_s:.0f} {said(one)} {one.score:.2f} [{one.said}]" for one in left)
    return Score(len(truth), len(found), len(truth) - len(missed), tuple(missed), false)
