"""What pairs of go-arounds are once taken from a recording. SI units."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wringout.methods.types import Conditions, FloatArray, IntArray, Source

KEY = "go around pairs"


@dataclass(frozen=True, slots=True)
class Score:
    """Something read off a go-around: its words, dimension and display unit; ``more_is_better`` says which way."""

    key: str
    title: str
    dimension: str
    unit: str
    more_is_better: bool
    names: tuple[str, ...]


HEIGHT_LOST = Score(
    "height lost",
    "Height lost",
    "length",
    "ft",
    False,
    ("height lost", "height loss", "altitude lost", "altitude loss"),
)
TIME_TO_CLIMB = Score(
    "time to climb",
    "Time to a positive climb",
    "time",
    "s",
    False,
    ("time to climb", "time to positive climb", "time to a positive climb"),
)


def height_at(seconds: float) -> Score:
    """Return the score of the height above the start after so many seconds."""
    words = f"height at {seconds:.0f} s"
    return Score(words, f"Height after {seconds:.0f} s", "length", "ft", True, (words, f"height at {seconds:.0f}"))


SCORES: tuple[Score, ...] = (HEIGHT_LOST, TIME_TO_CLIMB, height_at(15.0), height_at(30.0), height_at(60.0))


@dataclass(frozen=True, slots=True)
class GoAroundRun:
    """Go-arounds of one recording, arrays of shape (n,), in the order flown.

    ``pair`` indexes ``pairs`` (their names), ``technique`` indexes the two ``techniques``. ``scores`` has shape
    (n, len(score_list)), NaN where nothing was read: heights in m and times in s, both from the call.
    Entry speeds are true airspeeds, descents positive down. ``matters`` is the smallest difference that matters in the
    cockpit, stated before flying, by dimension. ``rows`` is empty, since nothing here is fitted.
    """

    key: str
    title: str
    source: Source
    conditions: Conditions
    pair: IntArray
    pairs: tuple[str, ...]
    technique: IntArray
    techniques: tuple[str, str]
    score_list: tuple[Score, ...]
    scores: FloatArray
    entry_speed_mps: FloatArray
    entry_ias_mps: FloatArray
    entry_descent_mps: FloatArray
    mass_kg: FloatArray
    flown_rows: IntArray
    entry_gear: float
    entry_flap_rad: float
    matters: dict[str, float] = field(default_factory=dict)
    chosen: str = HEIGHT_LOST.key
    rows: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    method: str = KEY

    def members(self, pair: int) -> tuple[int | None, int | None]:
        """Return the places of the two techniques' go-arounds in a pair, None where one is missing."""
        found: list[int | None] = [None, None]
        for i in np.flatnonzero(self.pair == pair):
            found[int(self.technique[i])] = int(i)
        return found[0], found[1]


def differences(run: GoAroundRun, values: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return first less second technique for each pair in which both values were read, and those pairs' places."""
    out, places = [], []
    for pair in range(len(run.pairs)):
        first, second = run.members(pair)
        if first is None or second is None:
            continue
        change = float(values[first] - values[second])
        if np.isfinite(change):
            out.append(change)
            places.append(pair)
    return np.array(out), np.array(places, dtype=np.int64)
