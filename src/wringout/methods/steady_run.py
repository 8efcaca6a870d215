"""What glides, climbs and level speed-power points share: a run of steady points, and half of their method."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.methods.power_words import Power
from wringout.methods.steady_climb import Air
from wringout.methods.steady_points import (
    SetAside,
    SteadyPoints,
    configuration_words,
    configurations_of,
    exceedances_of,
    table_points,
)
from wringout.methods.steady_stretches import timed_points
from wringout.methods.types import Conditions, FloatArray, IntArray, Source
from wringout.recordings.types import Recording

UNHEEDED = frozenset(
    {v.GEAR_DOWN_TIME, v.GEAR_UP_TIME, v.FLAP_DOWN_TIME, v.FLAP_UP_TIME, v.LIFT_SLOPE, v.STALL_RATE_SLOPE}
    | set(range(v.CL_MAXES, v.CL_MAXES + v.MAX_SETTINGS))
)
"""Parameters of the airplane that no steady point speaks of."""


@dataclass(frozen=True, slots=True)
class SteadyRun:
    """Steady points of one recording, flown at one power.

    ``points.rate_mps`` is the change of altitude as read, ``points.shaft_w`` the shaft power stated for each.
    """

    key: str
    title: str
    source: Source
    conditions: Conditions
    points: SteadyPoints
    power: Power
    set_aside: tuple[SetAside, ...]
    method: str

    @property
    def rows(self) -> IntArray:
        """Source row of each point."""
        return self.points.rows

    @property
    def has_headings(self) -> bool:
        """Whether every point says its heading."""
        return bool(np.isfinite(self.points.heading_rad).all())


class SteadyMethod(ABC):
    """Half of a method whose runs are :class:`SteadyRun`; see :class:`wringout.methods.types.Method`."""

    ignores = UNHEEDED

    @abstractmethod
    def observed(self, run: SteadyRun) -> FloatArray:
        """Return what was read, SI, shape (n,)."""

    @abstractmethod
    def predict(self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return what the candidate would give, SI, shape (n,)."""

    @abstractmethod
    def reading_sd(self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the standard deviation of each observed value, SI, shape (n,)."""

    def residuals(self, run: SteadyRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return (observed - predicted) / sd, shape (n,)."""
        apart = self.observed(run) - self.predict(run, row, nuisance, beliefs)
        return np.asarray(apart / self.reading_sd(run, row, nuisance, beliefs))

    def exceedances(self, run: SteadyRun, beliefs: Beliefs) -> list[Exceedance]:
        """Return the limit speeds that points went beyond, the worst of each."""
        return exceedances_of(run.points, beliefs)


def points_of(
    recording: Recording, words: Mapping[str, str], beliefs: Beliefs, power: Power
) -> tuple[SteadyPoints, Conditions, tuple[SetAside, ...]]:
    """Return the points of a table or of a timed recording, air and weight, and what was set aside.

    Raises BadInputError with one sentence.
    """
    if recording.time_s is None:
        points, air = table_points(recording, words, beliefs, power.shaft_w)
        return points, air, ()
    return timed_points(recording, words, beliefs, power.shaft_w)


def source_of(recording: Recording) -> Source:
    """Return where a run's numbers come from, with the span of a timed recording."""
    if recording.time_s is None:
        return Source(recording.sha256, recording.name, None, None)
    return Source(recording.sha256, recording.name, float(recording.time_s[0]), float(recording.time_s[-1]))


def title_of(points: SteadyPoints, what: str, beliefs: Beliefs, power: str = "") -> str:
    """Return a title such as "5 glides, idle: flaps up, gear up"; ``what`` in the singular."""
    flown = ", ".join(configuration_words(flap, gear, beliefs) for flap, gear in configurations_of(points))
    return f"{len(points)} {what}{'s' if len(points) > 1 else ''}{f', {power}' if power else ''}: {flown}"


def geometric_rates(points: SteadyPoints, airs: list[Air]) -> FloatArray:
    """Return rates of change of geometric height, m/s, shape (n,)."""
    ratio = np.ones(len(points)) if points.geometric else np.array([air.temperature_ratio for air in airs])
    return np.asarray(points.rate_mps * ratio)
