"""Borders of a map: where the answer flips from one cell to the next, at what value, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from wringout.techniques.judging.cells import Cell
from wringout.techniques.judging.maps import Axis, Condition, TechniqueMap
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.stated.types import Thresholds

Answer = tuple[Outcome, int]
"""What a cell answers: its outcome, and the favoured technique (-1 unless one is favoured)."""


class Level(StrEnum):
    """What it is that passes its level at a border."""

    MEDIANS = "the two are level at the median"
    PROBABILITY = "the best is ahead in as many draws as was asked for"
    MARGIN = "a margin is broken in as many draws as is allowed"
    NOTHING = "nothing passes a level between the two cells"


@dataclass(frozen=True, slots=True)
class Border:
    """A flip of the answer between two neighbouring cells.

    Attributes:
        condition: that changes across it. low, high: its values on the two sides.
        cells: the numbers of the two cells. before, after: their answers.
        crossing: where between the two ``level`` is reached, by straight-line interpolation; NaN where nothing is.
        probabilities: share of draws in which each side's own best is ahead by what matters.
    """

    condition: Condition
    low: float
    high: float
    cells: tuple[int, int]
    before: Answer
    after: Answer
    crossing: float
    level: Level
    probabilities: tuple[float, float]


def answer(cell: Cell) -> Answer:
    """Return what a cell answers."""
    return cell.outcome, cell.best if cell.outcome is Outcome.FAVOURED else -1


def borders(found: TechniqueMap) -> tuple[Border, ...]:
    """Return every border between neighbouring cells, along the first axis, then along the next."""
    made = []
    for axis, step, length in _steps(found):
        for one in range(len(found.cells)):
            at = one // step % length
            if at + 1 < length and answer(found.cells[one]) != answer(found.cells[one + step]):
                made.append(_border(found, axis, one, one + step, at))
    return tuple(made)


def _steps(found: TechniqueMap) -> list[tuple[Axis, int, int]]:
    """Return each axis with how far apart the numbers of neighbours along it are, and its length."""
    made, step = [], 1
    for axis in found.study.axes:
        made.append((axis, step, len(axis.values)))
        step *= len(axis.values)
    return made


def _border(found: TechniqueMap, axis: Axis, one: int, other: int, at: int) -> Border:
    a, b = found.cells[one], found.cells[other]
    low, high = axis.values[at], axis.values[at + 1]
    level, share = _crossing(a, b, found.study.thresholds)
    return Border(
        axis.condition,
        low,
        high,
        (one, other),
        answer(a),
        answer(b),
        low + (high - low) * share,
        level,
        (a.probability, b.probability),
    )


def _crossing(a: Cell, b: Cell, limits: Thresholds) -> tuple[Level, float]:
    """Return what passes its level from one cell to the next, and at which part of the way."""
    if a.best >= 0 and b.best >= 0:
        if a.best == b.best:
            return _tried(Level.PROBABILITY, a.probability - limits.probability, b.probability - limits.probability)
        level = _tried(Level.MEDIANS, float(a.gap[a.best, b.best]), float(b.gap[a.best, b.best]))
        if level[0] is not Level.NOTHING:
            return level
    for best in (a.best, b.best):
        if best >= 0:
            level = _tried(Level.MARGIN, *(float(cell.broken[best]) - limits.allowed_share for cell in (a, b)))
            if level[0] is not Level.NOTHING:
                return level
    return Level.NOTHING, math.nan


def _tried(level: Level, here: float, there: float) -> tuple[Level, float]:
    """Return the level with the part of the way at which a straight line passes zero, if it does."""
    if math.isfinite(here) and math.isfinite(there) and here != there and min(here, there) <= 0.0 <= max(here, there):
        return level, here / (here - there)
    return Level.NOTHING, math.nan
