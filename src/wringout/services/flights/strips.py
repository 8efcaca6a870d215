"""A recording as a strip chart, and what a stretch of it would be as a run, before anything is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.limits import Exceedance
from wringout.errors import BadInputError
from wringout.estimate.fit import RunFit, fit
from wringout.estimate.problem import StudyRun
from wringout.methods.register import METHODS, method
from wringout.methods.types import HandResult
from wringout.recordings.columns.quantities import QUANTITIES
from wringout.recordings.types import Mark, Recording
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.flights.runs import build, find_recording, read_study_recording, rows_read
from wringout.services.opening import the_study
from wringout.store import Run, Store, StudyRecording, list_runs
from wringout.units import SI_UNIT, find_unit, from_si

__all__ = ["HandResult", "Preview", "Strip", "StripChannel", "preview", "strip"]

FloatArray = NDArray[np.float64]

SHOWN = ("ias", "altitude", "gps_altitude", "ground_speed", "flap", "gear", "power", "manifold_pressure", "rpm", "oat")
"""Quantities that get a strip, in their order; any other channel follows."""
UNITS = {
    "speed": "kt",
    "length": "ft",
    "angle": "deg",
    "temperature": "°C",
    "pressure": "inHg",
    "rotation rate": "rpm",
    "volume flow": "gal/h",
    "volume": "gal",
    "mass": "lb",
    "mass flow": "lb/h",
    "power": "hp",
    "ratio": "",
}
"""The unit a strip of each dimension is drawn in."""
METRIC = UNITS | {
    "speed": "km/h",
    "length": "m",
    "pressure": "hPa",
    "volume flow": "L/h",
    "volume": "L",
    "mass": "kg",
    "mass flow": "kg/h",
    "power": "kW",
}
TITLES = {"ias": "airspeed, indicated", "oat": "outside air temperature", "rpm": "engine speed"}
CLIMB_UNITS = ("ft/min", "m/s")
MOST_STRIPS = 8
WITHOUT_TIMES = frozenset({"stall series", "transit timing", "airspeed calibration", "go around pairs"})


@dataclass(frozen=True, slots=True)
class StripChannel:
    """One strip: what it shows, its unit and its values in that unit, NaN where the row has none."""

    quantity: str
    title: str
    unit: str
    values: FloatArray


@dataclass(frozen=True, slots=True)
class Strip:
    """A recording to look at: the clock of its rows, s, its strips, marks, and the runs cut from it."""

    item: StudyRecording
    recording: Recording
    time_s: FloatArray
    channels: tuple[StripChannel, ...]
    marks: tuple[Mark, ...]
    runs: tuple[Run, ...]
    methods: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Preview:
    """What a stretch would be as a run of a method.

    ``problem`` is the sentence that says why it cannot be one, or "". ``time_s``, ``observed`` and ``fitted`` have one
    entry for each reading it would use; speeds in the unit of the strip, fitted by an airplane that knows this run and
    its beliefs only.
    """

    title: str
    problem: str
    readings: int
    by_hand: tuple[HandResult, ...]
    exceedances: tuple[Exceedance, ...]
    time_s: FloatArray
    observed: FloatArray
    fitted: FloatArray
    scatter: float
    flagged: int
    unit: str


def strip(store: Store, slug: str | None, recording: str, metric: bool = False) -> Strip:
    """Return a recording as strips.

    Raises:
        BadInputError: it cannot be read, or it is a list without times.
        NotFoundError: there is no such study or recording.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        item = find_recording(view, study.id, recording)
        read = read_study_recording(view, item)
        runs = tuple(run for run in list_runs(view, study.id) if run.recording_sha256 == item.recording.sha256)
    if read.time_s is None:
        raise BadInputError("a list without times has no strip", item.name, "it is used as a whole")
    names = [name for name in SHOWN if name in read.channels]
    names += [name for name in read.channels if name not in SHOWN]
    channels = tuple(_strip_channel(read, name, metric) for name in names[:MOST_STRIPS])
    flown = tuple(key for key in METHODS if key not in WITHOUT_TIMES)
    return Strip(item, read, read.time_s, channels, read.marks, runs, flown)


def _strip_channel(read: Recording, name: str, metric: bool) -> StripChannel:
    dimension = QUANTITIES[name].dimension
    unit = (METRIC if metric else UNITS).get(dimension, SI_UNIT.get(dimension, ""))
    if name == "vertical_speed":
        unit = CLIMB_UNITS[metric]
    values = np.asarray(read.channels[name].values, dtype=np.float64)
    shown = from_si(values, unit) if unit else values
    return StripChannel(name, TITLES.get(name, name.replace("_", " ")), unit, np.asarray(shown))


def preview(
    store: Store,
    slug: str | None,
    recording: str,
    method_key: str,
    span_s: tuple[float, float],
    setup: Mapping[str, str],
    metric: bool = False,
) -> Preview:
    """Return what a stretch would be as a run, with nothing kept.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        recording: the recording's name, or the beginning of its hash.
        method_key: the flight-test method.
        span_s: from and to, seconds on the recording's own clock.
        setup: set-up words, before those in the recording's header.
        metric: speeds in km/h in place of knots.

    Raises:
        BadInputError: there is no such method, or the recording cannot be read.
        NotFoundError: there is no such study or recording, or no airplane yet.
    """
    flown = method(method_key)
    with store.reading() as view:
        study = the_study(view, slug)
        read = read_study_recording(view, find_recording(view, study.id, recording))
        beliefs = study_airplane(view, study.id).beliefs
    unit = METRIC["speed"] if metric else UNITS["speed"]
    try:
        runs, _ = build("stretch", flown, read, span_s, dict(setup), beliefs)
    except BadInputError as error:
        return _no_preview(str(error), unit)
    hand = tuple(result for one in runs for result in one.method.by_hand(one.run, beliefs))
    over = tuple(found for one in runs for found in one.method.exceedances(one.run, beliefs))
    title = "; ".join(dict.fromkeys(one.run.title for one in runs))
    readings = sum(len(rows_read(one)) for one in runs)
    times, observed, fitted, scatter, flagged = _fitted(read, runs, fit(beliefs, runs).runs, unit)
    return Preview(title, "", readings, hand, over, times, observed, fitted, scatter, flagged, unit)


def _fitted(
    read: Recording, runs: tuple[StudyRun, ...], fits: tuple[RunFit, ...], unit: str
) -> tuple[FloatArray, FloatArray, FloatArray, float, int]:
    """Return times, readings and fit of the runs that read speeds, the rms of (read less fitted) and flagged ones."""
    time_of = {} if read.time_s is None else dict(zip(read.rows.tolist(), read.time_s.tolist(), strict=True))
    times, observed, fitted, flagged = [], [], [], 0
    for one, fitting in zip(runs, fits, strict=True):
        seen = find_unit(one.method.observed_unit)
        if seen is None or seen.dimension != "speed" or len(one.run.rows) != fitting.observed.size:
            continue
        times += [time_of.get(int(row), float("nan")) for row in one.run.rows]
        observed += from_si(fitting.observed, unit).tolist()
        fitted += from_si(fitting.predicted, unit).tolist()
        flagged += len(fitting.flagged)
    apart = np.array(observed) - np.array(fitted)
    scatter = float(np.sqrt(np.mean(apart**2))) if apart.size else float("nan")
    return np.array(times), np.array(observed), np.array(fitted), scatter, flagged


def _no_preview(problem: str, unit: str) -> Preview:
    none: Any = np.array([])
    return Preview("", problem, 0, (), (), none, none, none, float("nan"), 0, unit)
