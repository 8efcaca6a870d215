"""Borders of a map: where the answer flips from one cell to the next, at what value, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wringout.techniques.cells import Cell
from wringout.techniques.maps import Axis, Condition, TechniqueMap
from wringout.techniques.rule import Outcome

Answer = tuple[Outcome, int]
"""What a cell answers: its outcome, and the favoured technique (-1 unless one is favoured)."""


@dataclass(frozen=True, slots=True)
class Border:
    """A flip of the answer between two neighbouring cells.

    Attributes:
        condition: that changes across it. low, high: its values on the two sides.
        cells: the numbers of the two cells. before, after: their answers.
        crossing: where, between the two, the techniques that have the best median on each side are level at the
            median, by straight-line interpolation; NaN where the same technique has it on both sides, or none.
        probabilities: share of draws in which each side's own best is ahead by what matters.
    """

    condition: Condition
    low: float
    high: float
    cells: tuple[int, int]
    before: Answer
    after: Answer
    crossing: float
    probabilities: tuple[float, float]


def answer(cell: Cell) -> Answer:
    """Return what a cell answers."""
    return cell.outcome, cell.best if cell.outcome is Outcome.FAVOURED else -1


def borders(found: TechniqueMap) -> tuple[Border, ...]:
    """Return every border between neighbouring cells, along x and then along y."""
    width, height = len(found.study.x.values), len(found.study.y.values)
    pairs = [(found.study.x, r * width + c, r * width + c + 1, c) for r in range(height) for c in range(width - 1)]
    pairs += [(found.study.y, r * width + c, (r + 1) * width + c, r) for r in range(height - 1) for c in range(width)]
    return tuple(
        _border(found, axis, one, other, at)
        for axis, one, other, at in pairs
        if answer(found.cells[one]) != answer(found.cells[other])
    )


def _border(found: TechniqueMap, axis: Axis, one: int, other: int, at: int) -> Border:
    a, b = found.cells[one], found.cells[other]
    low, high = axis.values[at], axis.values[at + 1]
    crossing = math.nan
    if a.best >= 0 and b.best >= 0 and a.best != b.best:
        here, there = float(a.gap[a.best, b.best]), float(b.gap[a.best, b.best])
        if math.isfinite(here) and math.isfinite(there) and here >= 0.0 >= there and here != there:
            crossing = low + (high - low) * here / (here - there)
    return Border(
        axis.condition, low, high, (one, other), answer(a), answer(b), crossing, (a.probability, b.probability)
    )
