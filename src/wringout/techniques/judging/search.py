"""The best reachable technique: searching flap stops, places of the gear and pauses, under margins and limits.

Half of the draws choose, the other half judge the choice, so that the best is not praised for luck. What breaks a
margin in more than the allowed share of the draws is dropped before anything is compared.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from wringout.errors import BadInputError
from wringout.techniques.flying.scores import SCORE_INDEX
from wringout.techniques.flying.trace import FIGURE_STEP_S, trace_of
from wringout.techniques.judging.cells import MIDDLE, Cell, judge_cell
from wringout.techniques.judging.maps import Condition, MapStudy, fly_at, inputs_at
from wringout.techniques.judging.reasons import Benefit, benefit
from wringout.techniques.judging.rule import interval, lead, quantile, signed
from wringout.techniques.judging.wording import per_cent
from wringout.techniques.stated.orders import Detent, orders, with_hand
from wringout.techniques.stated.types import MAX_ACTIONS, Device, FloatArray, Range, Technique, Trace
from wringout.units import DEGREE

PAUSES_S = (0.0, 1.0, 2.0, 4.0, 8.0)
MOST_ROUNDS = 4
MOST_ORDERS = 1_500
"""Orders flown in the first round; stops of partial travel are left out where there would be more."""
ALL_BUT = 0.1
"""Share of the difference that matters within which a technique is as good as the best; the simplest is taken."""
_AT_ONCE = 64
_BEST_FEW = 3
_IN_A_ROUND = _BEST_FEW * MAX_ACTIONS * (len(PAUSES_S) - 1)
FEWEST_DRAWS = 40

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Distance:
    """How far a known order is from the best found, on the draws that did not choose.

    Attributes:
        technique: the known order. mean: of the best less this one in the deciding score, SI, positive where the best
            is better; NaN if a score is not reached in some draw.
        median, interval_95: over the draws. ahead: share of draws in which the best is ahead by what matters.
        acceptable: whether the known order keeps the margins.
    """

    technique: Technique
    mean: float
    median: float
    interval_95: Range
    ahead: float
    acceptable: bool


@dataclass(frozen=True, slots=True)
class Found:
    """The best reachable technique.

    Attributes:
        best: what the hands do. tried, dropped: how many techniques were flown, and dropped for a margin.
        mean, median, interval_95: of its deciding score on the draws that did not choose, SI.
        broken: largest share of those draws that break one margin; the margins were asked of the other half.
        distances: to every known order, nearest first.
        stops: angles tried between two neighbouring detents; fewer than asked for where that makes too many orders.
        nearest: the acceptable known order it is least ahead of, None if there is none.
        other: the order it is explained against: the nearest of those beside, else the acceptable known one it is most
            ahead of; None if there is none.
        why: by how much it is ahead of the other over time, and through which device, on the middle draw.
        trace: of the best on the middle draw.
    """

    best: Technique
    tried: int
    dropped: int
    mean: float
    median: float
    interval_95: Range
    broken: float
    distances: tuple[Distance, ...]
    stops: int
    nearest: Technique | None
    other: Technique | None
    why: Benefit | None
    trace: Trace

    @property
    def reason(self) -> str:
        """When the benefit over the other order came, e.g. "The first 4 s gain 61 % of the benefit."."""
        return "" if self.why is None else self.why.sentence()


def search(
    study: MapStudy,
    detents: Sequence[Detent],
    at: Mapping[Condition, float] | None = None,
    stops: int = 2,
    progress: Progress | None = None,
    gear_moves: bool = True,
    beside: Sequence[Technique] = (),
    hand_s: float = 0.0,
) -> Found:
    """Search the best reachable technique; ``study.techniques`` are the known orders it is held against.

    First every order through the detents and ``stops`` more angles between two of them is flown, without pauses; then
    the pauses of the best few are changed one at a time for as long as that helps. Of those within a tenth of the
    difference that matters from the best, the one with the fewest movements, pauses and partial stops is taken.

    Args:
        study: draws, situation, law, limits; its axes, if any, are not used.
        detents: flap settings of the airplane. at: conditions to state; the others are sampled.
        stops: angles tried between two neighbouring detents; partial travel.
        progress: called with techniques flown, and at most to fly; raising stops the work.
        gear_moves: whether the airplane's gear can be retracted.
        beside: techniques that are held against the best found but cannot be it, such as printed orders.
        hand_s: how long the hand stays on a lever, s.

    Raises:
        BadInputError: too few draws, or nothing keeps the margins.
    """
    if len(study.rows) < FEWEST_DRAWS:
        raise BadInputError(f"{len(study.rows)} draws are too few to search on", "draws", f"{FEWEST_DRAWS} or more")
    stated = dict(study.fixed if at is None else at)
    half = len(study.rows) // 2
    choosing = replace(study, rows=study.rows[:half], sampled=study.sampled[:half])
    judging = replace(study, rows=study.rows[half:], sampled=study.sampled[half:])
    known = [t for t in study.techniques if t.complete]
    gear = study.situation.start_gear > 0.0 and gear_moves
    stops, tried = _orders_in_hand(detents, study.situation.start_flap_rad, gear, stops)
    wanted = {t.key: with_hand(t, hand_s) for t in (*known, *tried)}
    allowed = study.thresholds.allowed_share
    most = len(wanted) + MOST_ROUNDS * _IN_A_ROUND
    merits: dict[str, tuple[float, float]] = {}
    _merits(choosing, stated, list(wanted.values()), merits, most, progress)
    for _ in range(MOST_ROUNDS):
        fine = sorted((key for key in merits if merits[key][1] <= allowed), key=lambda key: -merits[key][0])
        if not fine:
            raise _nothing_left(wanted, merits)
        fresh = [t for key in fine[:_BEST_FEW] for t in paused(wanted[key]) if t.key not in wanted]
        if not fresh:
            break
        wanted |= {t.key: t for t in fresh}
        before = merits[fine[0]][0]
        _merits(choosing, stated, fresh, merits, most, progress)
        if max(merits[t.key][0] for t in fresh) <= before:
            break
    best = wanted[
        _simplest(study, detents, wanted, {k: merit for k, (merit, share) in merits.items() if share <= allowed})
    ]
    dropped = sum(share > allowed for _, share in merits.values())
    printed = {t.key for t in beside}
    more = [t for t in beside if t.key not in {one.key for one in known}]
    return _judged(judging, stated, best, [*known, *more], printed, (len(merits), dropped, stops))


def _simplest(
    study: MapStudy, detents: Sequence[Detent], wanted: Mapping[str, Technique], merits: Mapping[str, float]
) -> str:
    """Return, of the techniques all but as good as the best, the one that asks least of the hands."""
    top = max(merits.values())
    near = top - ALL_BUT * study.thresholds.difference if np.isfinite(top) else top
    angles = [d.angle_rad for d in detents]

    def effort(key: str) -> tuple[int, int, float]:
        actions = wanted[key].actions
        flaps = [a.target for a in actions if a.device is Device.FLAPS]
        partial = sum(min(abs(target - angle) for angle in angles) > 1e-6 for target in flaps)
        return len(actions) + sum(a.wait_s > 0.0 for a in actions), partial, -merits[key]

    return min((key for key, merit in merits.items() if merit >= near), key=effort)


def _nothing_left(wanted: Mapping[str, Technique], merits: Mapping[str, tuple[float, float]]) -> BadInputError:
    nearest = min(merits, key=lambda key: merits[key][1])
    return BadInputError(
        f"no technique keeps the stated margins; the nearest, “{wanted[nearest].title}”, breaks one in "
        f"{per_cent(merits[nearest][1])} of the draws",
        "search",
        "state other margins, or conditions",
    )


def _orders_in_hand(detents: Sequence[Detent], start_rad: float, gear: bool, stops: int) -> tuple[int, list[Technique]]:
    """Return the complete orders with as many stops of partial travel as keep their number in hand."""
    while True:
        made = [t for t in orders(between(detents, start_rad, stops), start_rad, gear) if t.complete]
        if len(made) <= MOST_ORDERS or stops <= 0:
            return max(stops, 0), made
        stops -= 1


def between(detents: Sequence[Detent], start_rad: float, stops: int) -> list[Detent]:
    """Return the detents up to the start, with ``stops`` evenly spaced angles in every gap between two, rising."""
    known = [d for d in detents if d.angle_rad <= start_rad + 1e-6]
    made = list(known)
    for low, high in pairwise(known):
        for n in range(1, stops + 1):
            angle = low.angle_rad + (high.angle_rad - low.angle_rad) * n / (stops + 1)
            made.append(Detent(f"{angle / DEGREE:.0f}°", angle))
    return sorted(made, key=lambda d: d.angle_rad)


def paused(technique: Technique) -> list[Technique]:
    """Return the technique with one pause changed at a time to each of ``PAUSES_S``."""
    found = []
    for j, action in enumerate(technique.actions):
        for pause in PAUSES_S:
            if pause != action.wait_s:
                actions = list(technique.actions)
                actions[j] = replace(action, wait_s=pause)
                plain = technique.key.partition(" pauses ")[0]
                title = technique.title.partition("; pauses")[0]
                waits = [f"{a.wait_s:g}" for a in actions]
                found.append(
                    Technique(
                        f"{plain} pauses {','.join(waits)}",
                        f"{title}; pauses of {', '.join(waits)} s before the actions",
                        tuple(actions),
                        technique.complete,
                    )
                )
    return found


def _merits(
    study: MapStudy,
    at: Mapping[Condition, float],
    techniques: Sequence[Technique],
    found: dict[str, tuple[float, float]],
    most: int,
    progress: Progress | None,
) -> None:
    """Add, by key, the mean merit (the median where it is not finite) and the largest share that breaks a margin."""
    for first in range(0, len(techniques), _AT_ONCE):
        some = techniques[first : first + _AT_ONCE]
        scores = fly_at(study, at, some)
        cell = _cell(study, scores)
        for j, technique in enumerate(some):
            values = _signed(study, scores[:, j])
            merit = float(values.mean()) if np.isfinite(values).all() else float(quantile(values, MIDDLE))
            found[technique.key] = (merit, float(cell.broken[j]))
        if progress is not None:
            progress(len(found), max(most, len(found)))


def _judged(
    study: MapStudy,
    at: Mapping[Condition, float],
    best: Technique,
    against: Sequence[Technique],
    first: Set[str],
    counts: tuple[int, int, int],
) -> Found:
    everyone = [best, *against]
    scores = fly_at(study, at, everyone)
    cell = _cell(study, scores)
    own = scores[:, 0, SCORE_INDEX[study.thresholds.score]]
    distances = sorted((_distance(study, scores, cell, j, t) for j, t in enumerate(against, 1)), key=lambda d: d.median)
    others = [d for d in distances if d.technique.key != best.key]
    fit = [d.technique for d in others if d.acceptable and d.technique.complete]
    nearest = next(iter(fit), None)
    other = next(iter([*(d.technique for d in others if d.technique.key in first), *fit[::-1]]), None)
    traces = _on_the_middle_draw(study, at, [best] if other is None else [best, other], own)
    return Found(
        best=best,
        tried=counts[0],
        dropped=counts[1],
        mean=float(own.mean()),
        median=float(quantile(own, MIDDLE)),
        interval_95=interval(own, 0.95),
        broken=float(cell.broken[0]),
        distances=tuple(distances),
        stops=counts[2],
        nearest=nearest,
        other=other,
        why=None if other is None else benefit(traces[0], traces[1]),
        trace=traces[0],
    )


def _distance(study: MapStudy, scores: FloatArray, cell: Cell, j: int, technique: Technique) -> Distance:
    one, other = _signed(study, scores[:, 0]), _signed(study, scores[:, j])
    gain = lead(one, other)
    mean = float(gain.mean()) if np.isfinite(gain).all() else float("nan")
    acceptable = bool(cell.broken[j] <= study.thresholds.allowed_share)
    return Distance(technique, mean, float(cell.gap[0, j]), interval(gain, 0.95), float(cell.ahead[0, j]), acceptable)


def _on_the_middle_draw(
    study: MapStudy, at: Mapping[Condition, float], techniques: Sequence[Technique], own: FloatArray
) -> list[Trace]:
    """Return techniques in time on the draw nearest the middle of the best's own score."""
    rows, conditions = inputs_at(study, at)
    middle = int(np.argmin(np.abs(np.where(np.isfinite(own), own, np.inf) - quantile(own, MIDDLE))))
    return [
        trace_of(rows[middle], study.situation, conditions[middle], technique, study.law, study.limits, FIGURE_STEP_S)
        for technique in techniques
    ]


def _cell(study: MapStudy, scores: FloatArray) -> Cell:
    return judge_cell(scores, (True,) * scores.shape[1], study.situation.start_height_m, study.thresholds)


def _signed(study: MapStudy, scores: FloatArray) -> FloatArray:
    return signed(scores[:, SCORE_INDEX[study.thresholds.score]], study.thresholds)
