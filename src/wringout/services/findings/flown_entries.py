"""What an entry does to a go-around, by flying the fitted airplane from other entries.

The same technique is flown at two entry speeds and two descents about the mean of all go-arounds, under two pilot laws:
one keeps spare speed, the other turns it into height. The slopes of the scores bring each go-around to the mean entry;
what the pilot did is taken to lie anywhere between the laws, and that is the doubt of a correction.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_true
from wringout.errors import BadInputError
from wringout.estimate.problem import StudyRun
from wringout.estimate.reduction import Reduction
from wringout.estimate.strengths import RunReport
from wringout.methods.go_around_pairs.by_hand import hand_results
from wringout.methods.go_around_pairs.entry import EntryModel
from wringout.methods.go_around_pairs.run import HEIGHT_LOST, TIME_TO_CLIMB, GoAroundRun, height_at
from wringout.techniques.flying.scores import SCORE_INDEX
from wringout.techniques.flying.trace import BATCH_STEP_S, fly_one
from wringout.techniques.stated.orders import Detent, orders
from wringout.techniques.stated.types import Conditions, Device, EntryReference, EntrySpeed, GoAround, Law, Technique
from wringout.units import FOOT_PER_MINUTE, KNOT

FloatArray = NDArray[np.float64]

SPEED_STEP_MPS = 3.0 * KNOT
DESCENT_STEP_MPS = 100.0 * FOOT_PER_MINUTE
LEAST_SHARE_SD = 0.25
"""Smallest doubt of a correction, as a share of it: a pilot is neither of the laws (judged, no source)."""
LAWS = (Law.HOLD_SPEED, Law.LEVEL_THEN_CLIMB)
"""Spare speed kept, and spare speed turned into height. Holding an attitude says nothing here, since the attitude it
holds is itself taken from the entry."""
_SCORES = {
    HEIGHT_LOST.key: ("lowest_height", -1.0),
    TIME_TO_CLIMB.key: ("climb_time", 1.0),
    **{height_at(t).key: (f"height_{t:.0f}s", 1.0) for t in (15.0, 30.0, 60.0)},
}
WORDS = "flying the fitted airplane at other entries"


@dataclass(frozen=True, slots=True)
class Slopes:
    """Score by key at the mean entry of a technique, and its slope with entry speed (1/(m/s)) and with descent."""

    middle: Mapping[str, float]
    with_speed: Mapping[str, float]
    with_descent: Mapping[str, float]


def with_flown_entries(reduction: Reduction, runs: Sequence[StudyRun]) -> Reduction:
    """Return the reduction with its pairs of go-arounds brought to one entry by the fitted airplane.

    Where the airplane cannot be flown from such an entry the energy arguments stay.
    """
    reports = tuple(
        _flown(report, item.run, reduction) if isinstance(item.run, GoAroundRun) else report
        for report, item in zip(reduction.reports, runs, strict=True)
    )
    return replace(reduction, reports=reports)


def _flown(report: RunReport, run: GoAroundRun, reduction: Reduction) -> RunReport:
    model = entry_model(run, reduction.joint.row, reduction.beliefs)
    if model is None:
        return report
    results = hand_results(run, reduction.beliefs, model)
    return replace(report, results=tuple(sorted(results, key=lambda result: result.strength)))


def entry_model(run: GoAroundRun, row: FloatArray, beliefs: Beliefs) -> EntryModel | None:
    """Return how the scores of a run depend on the entry of the airplane ``row``.

    None where an entry is not written, or the airplane cannot be flown from it.
    """
    if not (np.isfinite(run.entry_speed_mps).all() and np.isfinite(run.entry_descent_mps).all()):
        return None
    speed, descent = float(run.entry_speed_mps.mean()), float(run.entry_descent_mps.mean())
    try:
        chosen = {name: _technique(name, run, beliefs) for name in run.techniques}
        by_law = {
            name: [_slopes(run, row, technique, law, speed, descent) for law in LAWS]
            for name, technique in chosen.items()
        }
    except BadInputError:
        return None
    flat = [slopes for several in by_law.values() for slopes in several]
    if not all(math.isfinite(value) for one in flat for value in _values(one, run)):
        return None
    mean = {name: _mean(several) for name, several in by_law.items()}

    def scores(technique: str, speed_mps: float, descent_mps: float) -> dict[str, float]:
        of = mean[technique]
        faster, steeper = speed_mps - speed, descent_mps - descent
        return {k: of.middle[k] + of.with_speed[k] * faster + of.with_descent[k] * steeper for k in of.middle}

    return EntryModel(scores, _share_sd(list(by_law.values()), run), WORDS)


def _technique(name: str, run: GoAroundRun, beliefs: Beliefs) -> Technique:
    """Return the order a technique's name begins: gear or flaps first; the shortest there is where it says neither."""
    detents = [Detent(setting.name, setting.angle_rad) for setting in beliefs.settings]
    known = [t for t in orders(detents, run.entry_flap_rad, run.entry_gear > 0.5 and beliefs.retractable) if t.complete]
    known.sort(key=lambda technique: len(technique.actions))
    first = {"gear": Device.GEAR, "flap": Device.FLAPS}.get(name.strip().lower()[:4])
    wanted = [t for t in known if t.actions and t.actions[0].device is first]
    return (wanted or known)[0]


def _slopes(run: GoAroundRun, row: FloatArray, technique: Technique, law: Law, speed: float, descent: float) -> Slopes:
    dv, dw = SPEED_STEP_MPS, min(DESCENT_STEP_MPS, 0.5 * descent)
    middle = _scores(run, row, technique, law, speed, descent)
    fast, slow = (_scores(run, row, technique, law, speed + d, descent) for d in (dv, -dv))
    if dw <= 0.0:
        return Slopes(middle, _slope(fast, slow, dv), dict.fromkeys(middle, 0.0))
    steep, flat = (_scores(run, row, technique, law, speed, descent + d) for d in (dw, -dw))
    return Slopes(middle, _slope(fast, slow, dv), _slope(steep, flat, dw))


def _slope(high: Mapping[str, float], low: Mapping[str, float], step: float) -> dict[str, float]:
    return {key: (high[key] - low[key]) / (2.0 * step) for key in high}


def _scores(
    run: GoAroundRun, row: FloatArray, technique: Technique, law: Law, speed: float, descent: float
) -> dict[str, float]:
    """Fly a technique from an entry at true airspeed and rate of descent, m/s, and return its scores by our keys."""
    air, mass = run.conditions, float(np.mean(run.mass_kg))
    calibrated = float(calibrated_from_true(speed, air.pressure_altitude_m, air.isa_deviation_k))
    situation = GoAround(
        start_flap_rad=run.entry_flap_rad,
        entry_speed=EntrySpeed(calibrated, EntryReference.CAS),
        descent_rad=math.asin(min(descent / speed, 0.5)),
        start_height_m=300.0,
        start_gear=run.entry_gear,
        duration_s=61.0,
    )
    reactions = (situation.reaction_s[0],) * len(technique.actions)
    at = Conditions(mass, air.pressure_altitude_m, air.isa_deviation_k, calibrated, reactions)
    flown = fly_one(row, situation, at, technique, law, longest_step_s=BATCH_STEP_S)
    return {key: sign * float(flown.scores[SCORE_INDEX[name]]) for key, (name, sign) in _SCORES.items()}


def _values(one: Slopes, run: GoAroundRun) -> list[float]:
    parts = (one.middle, one.with_speed, one.with_descent)
    return [part[score.key] for part in parts for score in run.score_list]


def _mean(several: Sequence[Slopes]) -> Slopes:
    def mean(part: str) -> dict[str, float]:
        return {key: float(np.mean([getattr(one, part)[key] for one in several])) for key in _SCORES}

    return Slopes(mean("middle"), mean("with_speed"), mean("with_descent"))


def _share_sd(by_technique: Sequence[Sequence[Slopes]], run: GoAroundRun) -> float:
    """Return the doubt of the chosen score's slope with speed, as a share of it; at most all of it.

    The standard deviation of an even distribution between the laws is their distance over the root of 12 (GUM, JCGM
    100:2008, 4.3.7).
    """
    shares = []
    for several in by_technique:
        slopes = [one.with_speed[run.chosen] for one in several]
        doubt = (max(slopes) - min(slopes)) / math.sqrt(12.0)
        shares.append(doubt / max(abs(float(np.mean(slopes))), 1e-12))
    return min(max(LEAST_SHARE_SD, *shares), 1.0)
