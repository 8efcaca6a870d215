"""Every technique on every draw: the same airplanes, air, pilots and entry speeds for all of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from wringout.errors import BadInputError
from wringout.techniques.flying.batch import Batch, Precision, fly_pieces
from wringout.techniques.flying.checks import check_study, check_thresholds
from wringout.techniques.flying.conditions import sample_conditions
from wringout.techniques.flying.limits import NO_LIMITS
from wringout.techniques.flying.scores import SCORE_COUNT, SCORE_INDEX
from wringout.techniques.flying.trace import FIGURE_STEP_S, trace_of
from wringout.techniques.stated.go_arounds import go_around
from wringout.techniques.stated.procedure import Procedure
from wringout.techniques.stated.types import (
    Domain,
    FlightLimits,
    FloatArray,
    GoAround,
    Law,
    Matchup,
    Technique,
    Thresholds,
)

Progress = Callable[[int, int], None]
"""Called with trajectories flown and trajectories to fly, always from the calling thread; raising stops the work."""

_PIECE = 512  # trajectories flown between two reports


def fly_matchup(
    draws: FloatArray,
    situation: GoAround | Procedure,
    domain: Domain,
    techniques: Sequence[Technique],
    law: Law,
    thresholds: Thresholds,
    seed: int,
    progress: Progress | None = None,
    threads: int = 2,
    limits: FlightLimits = NO_LIMITS,
) -> Matchup:
    """Fly every technique on every draw under one pilot law.

    Args:
        draws: parameter rows, float64, shape (draws, SIZE); used in their order.
        situation: the approach and the pilot.
        domain: ranges the conditions are sampled from, one set per draw, alike for all techniques.
        techniques: what the hands do.
        law: how pitch is flown.
        thresholds: what will count as a win and as acceptable; kept with the result.
        seed: of the random conditions; with the draws it decides every number, whatever the number of threads.
        progress: see `Progress`.
        threads: worker threads.
        limits: limits from the airplane's approved manual.

    Raises:
        BadInputError: one sentence naming what cannot be flown.
    """
    return fly_matchups(draws, situation, domain, techniques, (law,), thresholds, seed, progress, threads, limits)[0]


def fly_matchups(
    draws: FloatArray,
    situation: GoAround | Procedure,
    domain: Domain,
    techniques: Sequence[Technique],
    laws: Sequence[Law],
    thresholds: Thresholds,
    seed: int,
    progress: Progress | None = None,
    threads: int = 2,
    limits: FlightLimits = NO_LIMITS,
) -> tuple[Matchup, ...]:
    """Fly the same matchup under several pilot laws, on the same draws and conditions; see :func:`fly_matchup`."""
    rows = np.ascontiguousarray(draws, dtype=np.float64)
    check_study(rows, situation, domain, techniques, limits)
    check_thresholds(thresholds, situation)
    if threads < 1:
        raise BadInputError(f"{threads} threads cannot do any work", "threads", "give one or more")
    conditions = sample_conditions(situation, domain, len(rows), seed)
    scores = _fly_all(rows, situation, conditions, techniques, laws, limits, progress, threads)
    found = []
    for law, table in zip(laws, scores, strict=True):
        middle = representative(table, thresholds)
        traces = tuple(
            trace_of(rows[middle], situation, conditions[middle], technique, law, limits, FIGURE_STEP_S)
            for technique in techniques
        )
        found.append(
            Matchup(
                techniques=tuple(techniques),
                law=law,
                situation=situation,
                domain=domain,
                thresholds=thresholds,
                draws=len(rows),
                seed=seed,
                scores=table,
                conditions=conditions,
                representative=middle,
                traces=traces,
            )
        )
    return tuple(found)


def _fly_all(
    rows: FloatArray,
    situation: GoAround | Procedure,
    conditions: FloatArray,
    techniques: Sequence[Technique],
    laws: Sequence[Law],
    limits: FlightLimits,
    progress: Progress | None,
    threads: int,
) -> FloatArray:
    """Return scores, shape (laws, draws, techniques, scores)."""
    procedures = [go_around(situation, law) if isinstance(situation, GoAround) else situation for law in laws]
    batch = Batch.paired(rows, procedures, conditions, techniques, limits)
    scores = np.empty((len(batch), SCORE_COUNT))
    for first, piece in fly_pieces(batch, _PIECE, threads, Precision.FLOAT64):
        scores[first : first + len(piece)] = piece
        if progress is not None:
            progress(first + len(piece), len(batch))
    return scores.reshape(len(laws), len(rows), len(techniques), SCORE_COUNT)


def representative(scores: FloatArray, thresholds: Thresholds) -> int:
    """Return the draw nearest the middle: smallest sum, over techniques, of distances from the median deciding score.

    A score that is infinite in many draws is compared with infinities left out.
    """
    table = scores[:, :, SCORE_INDEX[thresholds.score]]
    table = np.where(np.isfinite(table), table, np.nan)
    filled = np.where(np.isnan(table).all(axis=0), 0.0, table)
    distance = np.abs(filled - np.nanmedian(filled, axis=0))
    worst = np.nanmax(distance, initial=1.0)
    return int(np.argmin(np.where(np.isnan(distance), worst, distance).sum(axis=1)))
