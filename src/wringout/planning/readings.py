"""How well a planned run will be read: called or logged, in smooth or in rough air."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from wringout.airplane.beliefs import Beliefs, Instrument
from wringout.airplane.quantity import parse_measured
from wringout.airplane.vector import FloatArray
from wringout.estimate.problem import StudyRun
from wringout.methods.level_deceleration.run import DecelerationRun
from wringout.methods.steady_words import planned_speeds
from wringout.methods.types import Method, Nuisance
from wringout.planning.plan import Point
from wringout.planning.stall_margin import STOP_ABOVE_STALL_MPS, believed_stall_ias_mps
from wringout.planning.template import CALLED, LOGGED, template_run
from wringout.recordings.types import Device
from wringout.units import KNOT

LOGGER_SD_MPS, LOGGER_CLOCK_S = 0.3 * KNOT, 0.1
"""Standard deviation of a logged speed averaged over 2 s, and of its clock (judged, no source)."""
ROUGH_SD_MPS = 1.5 * KNOT
"""What rough air adds to a reading, standard deviation (judged, no source)."""
HELD_FT = {("called", "smooth"): 50, ("called", "rough"): 100, ("logger", "smooth"): 30, ("logger", "rough"): 60}
"""How closely the altitude is held, plus or minus ft, where a point does not say (judged, no source)."""

Recording = Literal["called", "logger"]
Air = Literal["smooth", "rough"]


@dataclass(frozen=True, slots=True)
class ReadWith:
    """A method whose runs were read with another instrument than the airplane file states; else the method itself."""

    method: Method
    instrument: Instrument

    def __getattr__(self, name: str) -> Any:
        """Return everything else from the method."""
        return getattr(self.method, name)

    def _with(self, beliefs: Beliefs) -> Beliefs:
        return replace(beliefs, instrument=self.instrument)

    def nuisances(self, run: Any, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Return the run's own uncertain numbers."""
        return self.method.nuisances(run, self._with(beliefs))

    def reading_sd(self, run: Any, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the standard deviation of each reading."""
        return self.method.reading_sd(run, row, nuisance, self._with(beliefs))

    def residuals(self, run: Any, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return (observed - predicted) / sd."""
        return self.method.residuals(run, row, nuisance, self._with(beliefs))


FEWEST_KEPT = 4
"""A run is flown for at least so many readings, however soon its end is reached."""


def cut_short(run: Any, stop_ias_mps: float) -> Any:
    """Return a timed run as it is flown: ended by the first reading beyond its stop speed, 0 for none.

    A run that slows down ends below it, one that speeds up above it. A pair out and back is not cut, since its way back
    speeds up again.
    """
    if not isinstance(run, DecelerationRun) or stop_ias_mps <= 0.0:
        return run
    faster = run.method == "level acceleration"
    beyond = np.flatnonzero(run.ias_mps > stop_ias_mps if faster else run.ias_mps < stop_ias_mps)
    if not beyond.size:
        return run
    n = max(int(beyond[0]) + 1, FEWEST_KEPT)
    return replace(
        run, time_s=run.time_s[:n], ias_mps=run.ias_mps[:n], altitude_m=run.altitude_m[:n], rows=run.rows[:n]
    )


@dataclass(frozen=True, slots=True)
class Planned:
    """A planned run: the template, the method that will reduce it, and the instrument it will really be read with.

    Beyond ``stop_ias_mps`` a timed run is ended (:func:`cut_short`).
    """

    key: str
    run: Any
    method: Method
    truly: Instrument
    stop_ias_mps: float = 0.0

    def simulated(self, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator) -> StudyRun:
        """Return the run as the airplane ``row`` would give it."""
        read_with = replace(beliefs, instrument=self.truly)
        run = self.method.simulate(self.run, row, read_with, rng)
        return StudyRun(cut_short(run, self.stop_ias_mps), self.method)

    @property
    def is_fitted(self) -> bool:
        """Whether the joint fit takes readings of it; go-arounds in pairs check techniques and stay out."""
        return bool(self.method.observed(self.run).size)

    @property
    def as_planned(self) -> StudyRun:
        """The run with the template's own numbers."""
        return StudyRun(self.run, self.method)


def planned_run(point: Point, beliefs: Beliefs, recording: Recording, air: Air) -> Planned:
    """Return a point as the run it will be. Raises BadInputError for a method that cannot be simulated in a plan.

    The reduction is told of a logger, as an airplane file would say, but not of rough air: it must notice that itself.
    """
    words = dict(point.words)
    words.setdefault("altitude held", f"{HELD_FT[(recording, air)]} ft")
    run = template_run(replace(point, words=words), beliefs, LOGGED if recording == "logger" else CALLED)
    told = beliefs.instrument
    if recording == "logger":
        told = replace(told, reading_sd_mps=LOGGER_SD_MPS, clock_sd_s=LOGGER_CLOCK_S)
    truly = (
        told if air == "smooth" else replace(told, reading_sd_mps=float(np.hypot(told.reading_sd_mps, ROUGH_SD_MPS)))
    )
    method: Any = point.method if told is beliefs.instrument else ReadWith(point.method, told)
    return Planned(point.key, run, method, truly, _stop_speed(point, run, beliefs))


def _stop_speed(point: Point, run: Any, beliefs: Beliefs) -> float:
    """Return the indicated speed, m/s, at which a timed run ends: the one planned, else the card's; 0 for none."""
    if point.method.key == "level acceleration":
        return max(planned_speeds(dict(point.words), "speeds", "75, 140 kt"))
    if point.method.key == "slow down":
        return parse_measured(point.words.get("to speed", ""), "speed", "card, to speed", "90 kt")[0]
    if point.method.key != "level deceleration":
        return 0.0
    flap = max((m.to_position for m in run.moves if m.device is Device.FLAPS), default=run.entry_flap_rad)
    air_at = run.conditions
    stall = believed_stall_ias_mps(
        beliefs, flap, 1.0, point.mass_kg, 0.0, air_at.pressure_altitude_m, air_at.isa_deviation_k
    )
    return stall + STOP_ABOVE_STALL_MPS
