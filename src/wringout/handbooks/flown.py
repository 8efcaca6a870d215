"""Printed orders flown on their variant's airplane, beside the best found and the general order.

The one place of this room that knows the engine of techniques; everything else sees :class:`FlownVariant`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.beliefs import Beliefs
from wringout.handbooks.reading import Move, Reading
from wringout.techniques.flying.matchup import fly_matchups
from wringout.techniques.flying.scores import LOWEST_HEIGHT, SCORE_INDEX, SCORES, STALL_RATIO
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.judging.verdict import PairVerdict, compare, standing
from wringout.techniques.judging.wording import domain_sentence, threshold_sentence
from wringout.techniques.stated.orders import POSITIVE_RATE_MPS, Detent, orders
from wringout.techniques.stated.procedure import Procedure
from wringout.techniques.stated.types import (
    Action,
    Device,
    Domain,
    FlightLimits,
    Gate,
    GoAround,
    Law,
    Matchup,
    Technique,
    Thresholds,
)

FloatArray = NDArray[np.float64]
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Margins:
    """What an order leaves in hand, medians over the draws, with the shares of draws that break a stated margin.

    ``stall_ratio`` is the lowest V/Vs; ``lowest_height_m`` is above the ground.
    """

    stall_ratio: float
    lowest_height_m: float
    below_stall_margin: float
    below_height: float
    above_limit: float


@dataclass(frozen=True, slots=True)
class FlownOrder:
    """One order as flown: its deciding score (SI) and its margins."""

    key: str
    title: str
    complete: bool
    median: float
    interval_95: tuple[float, float]
    acceptable: bool
    margins: Margins
    sentence: str


@dataclass(frozen=True, slots=True)
class Against:
    """The best order found against another, draw by draw.

    Attributes:
        key: the other order.
        outcome: "favoured" (the best is), "too close to call", "not acceptable", or "the same order".
        cost: by how much the best is ahead in the deciding score, median, SI; negative where it is behind.
        interval_95: of that.
        share: of draws in which the best is ahead by at least the difference that matters.
        sentence: in words.
    """

    key: str
    outcome: str
    cost: float
    interval_95: tuple[float, float]
    share: float
    sentence: str


SAME_ORDER = "the same order"


@dataclass(frozen=True, slots=True)
class LawResult:
    """What was found under one way of flying pitch. ``best`` is None where no order is acceptable.

    An order that waits for a printed speed is never the best: where that speed is not reached it does not end clean.
    """

    law: str
    best: FlownOrder | None
    printed: tuple[FlownOrder, ...]
    general: tuple[FlownOrder, ...]
    against_printed: tuple[Against, ...]
    against_general: tuple[Against, ...]
    domain: str


@dataclass(frozen=True, slots=True)
class FlownVariant:
    """Everything flown for one variant: the deciding score, what was stated before, and a result for each law."""

    score: str
    score_title: str
    score_unit: str
    shown_unit: str
    larger_is_better: bool
    difference: float
    threshold: str
    orders_flown: int
    draws: int
    seed: int
    laws: tuple[LawResult, ...]


@dataclass(frozen=True, slots=True)
class Contest:
    """What a variant is flown with: draws of its airplane, the approach, the ranges, its limits, what matters."""

    beliefs: Beliefs
    rows: FloatArray
    situation: GoAround | Procedure
    domain: Domain
    limits: FlightLimits
    thresholds: Thresholds


def fly_variant(
    contest: Contest,
    printed: Sequence[Reading],
    general: Sequence[Reading],
    seed: int,
    progress: Progress | None = None,
    threads: int = 2,
) -> FlownVariant:
    """Fly every sensible order, the printed readings and the general order on the same draws, under each pilot law.

    Raises:
        BadInputError: something cannot be flown, in one sentence.
    """
    techniques = _techniques(contest, [*printed, *general])
    matchups = fly_matchups(
        contest.rows,
        contest.situation,
        contest.domain,
        techniques,
        tuple(Law),
        contest.thresholds,
        seed,
        progress,
        threads,
        contest.limits,
    )
    score = SCORES[SCORE_INDEX[contest.thresholds.score]]
    return FlownVariant(
        score=score.key,
        score_title=score.title,
        score_unit=score.unit,
        shown_unit=score.shown_unit,
        larger_is_better=score.larger_is_better,
        difference=contest.thresholds.difference,
        threshold=threshold_sentence(matchups[0]),
        orders_flown=len(techniques),
        draws=len(contest.rows),
        seed=seed,
        laws=tuple(_law_result(matchup, printed, general) for matchup in matchups),
    )


def _techniques(contest: Contest, readings: Sequence[Reading]) -> list[Technique]:
    """Return every sensible order, and the readings that are not among them."""
    beliefs, situation = contest.beliefs, contest.situation
    detents = [Detent(setting.name, setting.angle_rad) for setting in beliefs.settings]
    gear_down = situation.start_gear > 0.0 and beliefs.retractable
    found = {t.key: t for t in orders(detents, situation.start_flap_rad, gear_down)}
    for reading in readings:
        found.setdefault(reading.key, technique_of_reading(reading, gear_down))
    return list(found.values())


def technique_of_reading(reading: Reading, gear_down: bool) -> Technique:
    """Return the movements of a reading as a technique; complete if it ends with gear and flaps up."""
    flaps = [move for move in reading.moves if not move.is_gear]
    clean = bool(flaps) and flaps[-1].flap_rad <= 1e-6 and (not gear_down or any(m.is_gear for m in reading.moves))
    return Technique(reading.key, reading.title, tuple(_action(move) for move in reading.moves), clean)


def _action(move: Move) -> Action:
    device, target = (Device.GEAR, 0.0) if move.is_gear else (Device.FLAPS, move.flap_rad)
    if move.climbing:
        return Action(device, target, gate=Gate.POSITIVE_CLIMB, gate_value=POSITIVE_RATE_MPS)
    if move.speed_cas_mps is not None:
        return Action(device, target, gate=Gate.SPEED, gate_value=move.speed_cas_mps)
    return Action(device, target)


def _law_result(matchup: Matchup, printed: Sequence[Reading], general: Sequence[Reading]) -> LawResult:
    flown = [_flown(matchup, technique.key) for technique in matchup.techniques]
    waiting = {t.key for t in matchup.techniques if any(action.gate is Gate.SPEED for action in t.actions)}
    able = [order for order in flown if order.complete and order.acceptable and order.key not in waiting]
    larger = SCORES[SCORE_INDEX[matchup.thresholds.score]].larger_is_better
    best = min(able, key=lambda order: -order.median if larger else order.median) if able else None
    by_key = {order.key: order for order in flown}
    return LawResult(
        law=matchup.law.value,
        best=best,
        printed=tuple(by_key[reading.key] for reading in printed),
        general=tuple(by_key[reading.key] for reading in general),
        against_printed=tuple(_against(matchup, best, reading.key) for reading in printed) if best else (),
        against_general=tuple(_against(matchup, best, reading.key) for reading in general) if best else (),
        domain=domain_sentence(matchup),
    )


def _flown(matchup: Matchup, key: str) -> FlownOrder:
    found = standing(matchup, key)
    column = next(i for i, technique in enumerate(matchup.techniques) if technique.key == key)
    values = matchup.scores[:, column]
    margins = Margins(
        stall_ratio=float(np.median(values[:, STALL_RATIO])),
        lowest_height_m=matchup.situation.start_height_m + float(np.median(values[:, LOWEST_HEIGHT])),
        below_stall_margin=found.below_stall_margin,
        below_height=found.below_height,
        above_limit=found.above_limit,
    )
    return FlownOrder(
        key,
        found.title,
        found.complete,
        found.median,
        found.interval_95,
        found.acceptable,
        margins,
        found.sentence,
    )


def _against(matchup: Matchup, best: FlownOrder, key: str) -> Against:
    if key == best.key:
        words = f"“{best.title}” is the best order found."
        return Against(key, SAME_ORDER, 0.0, (0.0, 0.0), 0.0, words)
    pair: PairVerdict = compare(matchup, best.key, key)
    outcome = pair.outcome if pair.outcome is not Outcome.FAVOURED or pair.favoured == best.key else Outcome.TOO_CLOSE
    return Against(key, str(outcome), pair.difference, pair.interval_95, pair.first_ahead, pair.sentence)
