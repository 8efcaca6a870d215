"""What a film is made from: strips over time, marks, and how its frames lie on the recording's clock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FilmStrip:
    """One strip: title, unit, times [s on the recording's clock, rising] and values [unit], NaN where nothing was read.

    ``device`` chooses the colour, "" for ink. ``places``: decimals of the number beside it.
    """

    title: str
    unit: str
    time_s: FloatArray
    values: FloatArray
    device: str = ""
    places: int = 0


@dataclass(frozen=True, slots=True)
class FilmMark:
    """A mark: when it was made, s on the recording's clock, and its words."""

    time_s: float
    words: str


@dataclass(frozen=True, slots=True)
class Film:
    """A strip chart that runs with footage.

    Attributes:
        title: stands above the strips. strips, marks: what is drawn.
        begins_s: what the recording's clock shows at the first frame. seconds: length. fps: frames a second.
        height: of a frame in pixels; its width is 16 ninths of that.
        dark: whether it will lie on a dark picture.
    """

    title: str
    strips: tuple[FilmStrip, ...]
    marks: tuple[FilmMark, ...]
    begins_s: float
    seconds: float
    fps: int
    height: int = 1080
    dark: bool = False

    @property
    def frames(self) -> int:
        """How many frames it has, at least one."""
        return max(round(self.seconds * self.fps), 1)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of a frame in pixels."""
        return self.height * 16 // 9, self.height

    def time_of(self, frame: int) -> float:
        """Return what the recording's clock shows at a frame, counted from 0."""
        return self.begins_s + frame / self.fps


def reading_at(strip: FilmStrip, time_s: float) -> float:
    """Return the last value read at or before a time; NaN before the first."""
    known = np.flatnonzero(np.isfinite(strip.values) & (strip.time_s <= time_s))
    return float(strip.values[known[-1]]) if known.size else float("nan")
