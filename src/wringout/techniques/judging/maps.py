"""Maps: which technique is favoured over two or more conditions, by how much, and with what stall margin.

Every cell is flown on all draws, the same airplanes, air and pilots in every cell, and judged by the rule of the
verdict. What is not on an axis is fixed or sampled from the domain. A cell is a pure function of the study and its
number, so it can be flown on any thread or machine; only its summary is kept.

A density altitude is flown as the pressure altitude at which the standard atmosphere has that density.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise

import numpy as np

from wringout.airplane.vector import FLAP_DOWN_TIME, FLAP_UP_TIME, GEAR_DOWN_TIME, GEAR_UP_TIME
from wringout.errors import BadInputError
from wringout.techniques.flying import layout as k
from wringout.techniques.flying.batch import Batch, Precision, fly_cases
from wringout.techniques.flying.checks import check_study, check_thresholds
from wringout.techniques.flying.conditions import conditions_at, sample_conditions
from wringout.techniques.flying.limits import NO_LIMITS
from wringout.techniques.judging.cells import Cell, judge_cell
from wringout.techniques.stated.go_arounds import go_around
from wringout.techniques.stated.procedure import Procedure
from wringout.techniques.stated.types import (
    Domain,
    FlightLimits,
    FloatArray,
    GoAround,
    Law,
    Range,
    Technique,
    Thresholds,
)

Progress = Callable[[int, int], None]
"""Called with cells flown and cells to fly, from the calling thread; raising stops the work."""
MOST_CELLS = 10_000


class Condition(StrEnum):
    """What an axis can be, and in what unit its values are."""

    WEIGHT = "weight"  # kg
    DENSITY_ALTITUDE = "density altitude"  # m
    ENTRY_SPEED = "entry speed"  # as the situation's: times the stall speed, or m/s calibrated
    GEAR_TRANSIT = "gear transit"  # times the measured one
    FLAP_TRANSIT = "flap transit"  # times the measured one
    DELAY = "pilot delay"  # s, mean before each action; its relative scatter stays


PLAUSIBLE: Mapping[Condition, Range] = {
    Condition.WEIGHT: (100.0, 20_000.0),
    Condition.DENSITY_ALTITUDE: (-1500.0, 8000.0),
    Condition.ENTRY_SPEED: (1.0, 150.0),
    Condition.GEAR_TRANSIT: (0.1, 10.0),
    Condition.FLAP_TRANSIT: (0.1, 10.0),
    Condition.DELAY: (0.0, 20.0),
}
"""Lowest and highest value of each condition that is flown at all, SI."""


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: what changes, and its values, rising, SI or a factor."""

    condition: Condition
    values: tuple[float, ...]


@dataclass(frozen=True, slots=True, eq=False)
class MapStudy:
    """Everything a map is a function of. Make it with :func:`map_study`, which refuses what cannot be flown.

    Attributes:
        rows: parameter rows, shape (draws, SIZE). sampled: conditions of each draw, shape (draws, C_SIZE).
        law: how pitch is flown in a go-around; any other procedure has stages of its own.
        axes: two or more; the first changes fastest from cell to cell.
        fixed: conditions held at one value; what is neither here nor on an axis is sampled.
    """

    rows: FloatArray
    sampled: FloatArray
    situation: GoAround | Procedure
    law: Law
    techniques: tuple[Technique, ...]
    thresholds: Thresholds
    axes: tuple[Axis, ...]
    fixed: Mapping[Condition, float] = field(default_factory=dict)
    limits: FlightLimits = NO_LIMITS
    precision: Precision = Precision.FLOAT32

    @property
    def shape(self) -> tuple[int, ...]:
        """Number of values on each axis."""
        return tuple(len(axis.values) for axis in self.axes)

    @property
    def cells(self) -> int:
        """Number of cells."""
        return math.prod(self.shape)

    def places(self, cell: int) -> tuple[int, ...]:
        """Return where on each axis a cell is."""
        found = []
        for length in self.shape:
            cell, place = divmod(cell, length)
            found.append(place)
        return tuple(found)

    def at(self, cell: int) -> dict[Condition, float]:
        """Return the conditions that are stated in a cell."""
        stated = {a.condition: a.values[place] for a, place in zip(self.axes, self.places(cell), strict=True)}
        return {**self.fixed, **stated}


@dataclass(frozen=True, slots=True, eq=False)
class TechniqueMap:
    """A finished map: its study and its cells, in the order of their numbers."""

    study: MapStudy
    cells: tuple[Cell, ...]


def map_study(
    draws: FloatArray,
    situation: GoAround | Procedure,
    domain: Domain,
    techniques: Sequence[Technique],
    law: Law,
    thresholds: Thresholds,
    seed: int,
    axes: Sequence[Axis] = (),
    fixed: Mapping[Condition, float] | None = None,
    limits: FlightLimits = NO_LIMITS,
    precision: Precision = Precision.FLOAT32,
) -> MapStudy:
    """Return a checked study for a map; nothing is flown yet.

    Args:
        draws: parameter rows, shape (draws, SIZE).
        domain: ranges from which what is neither on an axis nor fixed is sampled, alike in every cell.
        axes: two or more different conditions with their values, rising; none for a single cell, as a search needs.
        fixed: conditions held at one value.

    Raises:
        BadInputError: one sentence naming the axis or condition that cannot be flown.
    """
    if axes:
        _check_axes(axes)
    held = dict(fixed or {})
    for condition, value in held.items():
        if any(axis.condition is condition for axis in axes):
            raise BadInputError(f"{condition} is held and on an axis", "map, held", "choose one of the two")
        _check_value(condition, value, "map, held")
    rows = np.ascontiguousarray(draws, dtype=np.float64)
    check_study(rows, situation, _widest(domain, axes, held), techniques, limits)
    check_thresholds(thresholds, situation)
    sampled = sample_conditions(situation, domain, len(rows), seed)
    return MapStudy(rows, sampled, situation, law, tuple(techniques), thresholds, tuple(axes), held, limits, precision)


def fly_cell(study: MapStudy, cell: int) -> Cell:
    """Fly one cell on all draws and return its summary. Pure: the same bits on any thread.

    Raises:
        BadInputError: a cell the map does not have.
    """
    if not 0 <= cell < study.cells:
        raise BadInputError(f"cell {cell} is not in a map of {study.cells}", "cell", "start from zero")
    scores = fly_at(study, study.at(cell), study.techniques)
    complete = tuple(technique.complete for technique in study.techniques)
    return judge_cell(scores, complete, study.situation.start_height_m, study.thresholds)


def fly_at(study: MapStudy, at: Mapping[Condition, float], techniques: Sequence[Technique]) -> FloatArray:
    """Return scores of techniques on all draws with some conditions stated, SI, shape (draws, techniques, scores)."""
    rows, conditions = inputs_at(study, at)
    procedure = go_around(study.situation, study.law) if isinstance(study.situation, GoAround) else study.situation
    batch = Batch.paired(rows, [procedure], conditions, techniques, study.limits)
    scores, _ = fly_cases(batch, 0, len(batch), precision=study.precision)
    return scores.reshape(len(rows), len(techniques), -1).astype(np.float64)


def inputs_at(study: MapStudy, at: Mapping[Condition, float]) -> tuple[FloatArray, FloatArray]:
    """Return the parameter rows and conditions of all draws with some conditions stated."""
    rows, stated = study.rows.copy(), study.sampled[:, : k.C_ENTRY + 1].copy()
    reactions = study.sampled[:, k.C_REACTIONS :].copy()
    for condition, value in at.items():
        if condition is Condition.WEIGHT:
            stated[:, k.C_MASS] = value
        elif condition is Condition.DENSITY_ALTITUDE:
            stated[:, k.C_ALTITUDE], stated[:, k.C_ISA_DEVIATION] = value, 0.0
        elif condition is Condition.ENTRY_SPEED:
            stated[:, k.C_ENTRY] = value
        elif condition is Condition.GEAR_TRANSIT:
            rows[:, [GEAR_DOWN_TIME, GEAR_UP_TIME]] *= value
        elif condition is Condition.FLAP_TRANSIT:
            rows[:, [FLAP_DOWN_TIME, FLAP_UP_TIME]] *= value
        else:
            mean = study.situation.reaction_s[0]
            reactions = reactions * (value / mean) if mean > 0.0 else np.full_like(reactions, value)
    return rows, conditions_at(study.situation, stated, reactions)


def fly_map(study: MapStudy, progress: Progress | None = None, threads: int = 2) -> TechniqueMap:
    """Fly every cell on threads and return the map; see `Progress` for how to stop."""
    done: list[Cell] = []
    for cell in fly_cells(study, range(study.cells), threads):
        done.append(cell)
        if progress is not None:
            progress(len(done), study.cells)
    return TechniqueMap(study, tuple(done))


def fly_cells(study: MapStudy, cells: Sequence[int], threads: int = 2) -> Iterator[Cell]:
    """Yield cells in order as they are flown, a few at a time, so that memory stays flat; stop iterating to cancel.

    Raises:
        BadInputError: no thread.
    """
    if threads < 1:
        raise BadInputError(f"{threads} threads cannot do any work", "threads", "give one or more")
    waiting: list[Future[Cell]] = []
    with ThreadPoolExecutor(threads) as pool:
        try:
            for cell in cells:
                waiting.append(pool.submit(fly_cell, study, cell))
                if len(waiting) >= 2 * threads:
                    yield waiting.pop(0).result()
            while waiting:
                yield waiting.pop(0).result()
        finally:
            pool.shutdown(cancel_futures=True)


def _check_axes(axes: Sequence[Axis]) -> None:
    if len(axes) < 2:
        raise BadInputError(f"a map of {len(axes)} conditions is none", "map, axes", "vary two or more")
    names = [axis.condition for axis in axes]
    for name in names:
        if names.count(name) > 1:
            raise BadInputError(f"{name} is on two axes", "map, axes", "choose different ones")
    for axis in axes:
        _check_axis(axis)
    cells = math.prod(len(axis.values) for axis in axes)
    if cells > MOST_CELLS:
        raise BadInputError(f"a grid of {cells:,} cells is too fine", "map, axes", f"at most {MOST_CELLS:,}")


def _check_axis(axis: Axis) -> None:
    values, where = axis.values, f"map, {axis.condition}"
    if len(values) < 2 or any(not b > a for a, b in pairwise(values)):
        raise BadInputError("the values of an axis do not rise", where, "give two or more, lowest first")
    for value in values:
        _check_value(axis.condition, value, where)


def _check_value(condition: Condition, value: float, where: str) -> None:
    low, high = PLAUSIBLE[condition]
    if not (math.isfinite(value) and low <= value <= high):
        raise BadInputError(f"{value:g} is out of range for {condition}", where, f"{low:g} to {high:g}, SI")


def _widest(domain: Domain, axes: Sequence[Axis], fixed: Mapping[Condition, float]) -> Domain:
    """Return the ranges that a map really meets, for the refusals."""
    spans = {c: (v, v) for c, v in fixed.items()} | {a.condition: (a.values[0], a.values[-1]) for a in axes}
    dense = Condition.DENSITY_ALTITUDE in spans
    return Domain(
        spans.get(Condition.WEIGHT, domain.mass_kg),
        spans.get(Condition.DENSITY_ALTITUDE, domain.pressure_altitude_m),
        (0.0, 0.0) if dense else domain.isa_deviation_k,
        spans.get(Condition.ENTRY_SPEED, domain.entry_speed),
    )
