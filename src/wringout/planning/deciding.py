"""The question as a contest of two techniques: the only place where planning touches the flying of techniques."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from wringout.airplane.vector import FloatArray
from wringout.errors import BadInputError
from wringout.techniques.flying.matchup import fly_matchup
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.judging.verdict import compare, differences
from wringout.techniques.stated.procedure import Procedure
from wringout.techniques.stated.types import Domain, FlightLimits, GoAround, Law, Matchup, Technique, Thresholds


class Call(StrEnum):
    """What a matchup of two techniques says."""

    FIRST = "the first is favoured"
    SECOND = "the second is favoured"
    ALIKE = "alike: they differ by less than matters"
    NOT_ACCEPTABLE = "one or both break a stated margin"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Contest:
    """Two techniques and all that they are flown with; ``seed`` draws the conditions, the same for every airplane."""

    first: Technique
    second: Technique
    law: Law
    situation: GoAround | Procedure
    domain: Domain
    thresholds: Thresholds
    limits: FlightLimits
    seed: int = 1


def call(rows: FloatArray, contest: Contest) -> Call:
    """Return what flying both techniques on the parameter rows (n, SIZE) says by the rule of the verdict.

    ALIKE is what the verdict calls too close to call because the difference is below the one that matters in the asked
    share of the draws: more runs would not change it. Raises BadInputError where the rows cannot fly the approach.
    """
    matchup = _flown(rows, contest)
    pair = compare(matchup, contest.first.key, contest.second.key)
    if pair.outcome is Outcome.NOT_ACCEPTABLE:
        return Call.NOT_ACCEPTABLE
    if pair.outcome is Outcome.FAVOURED:
        return Call.FIRST if pair.favoured == contest.first.key else Call.SECOND
    return Call.ALIKE if pair.alike >= contest.thresholds.probability else Call.UNDECIDED


def deciding_difference(row: FloatArray, contest: Contest, conditions: int) -> float:
    """Return by how much the first technique is ahead on one airplane, mean over the domain's conditions, SI.

    Conditions in which either technique never gets there are left out; NaN where none is left.
    """
    gain = differences(_flown(np.tile(row, (conditions, 1)), contest), contest.first.key, contest.second.key)
    known = gain[np.isfinite(gain)]
    return float(known.mean()) if known.size else float("nan")


def difference_gradient(
    rows_ahead: FloatArray, rows_behind: FloatArray, contest: Contest, conditions: int, step: float
) -> FloatArray:
    """Return slopes (p,) of the deciding difference, from rows moved by ``step`` each way, (p, SIZE) each."""
    pairs = zip(rows_ahead, rows_behind, strict=True)
    out = []
    for ahead, behind in pairs:
        if np.array_equal(ahead, behind):
            out.append(0.0)
            continue
        one = deciding_difference(ahead, contest, conditions) - deciding_difference(behind, contest, conditions)
        out.append(one / (2.0 * step))
    return np.array(out)


def _flown(rows: FloatArray, contest: Contest) -> Matchup:
    return fly_matchup(
        rows,
        contest.situation,
        contest.domain,
        (contest.first, contest.second),
        contest.law,
        contest.thresholds,
        contest.seed,
        threads=1,
        limits=contest.limits,
    )


def law_named(text: str) -> Law:
    """Return the pilot law of that name; raises BadInputError listing them."""
    for law in Law:
        if law.value.lower() == text.strip().lower():
            return law
    raise BadInputError(f"{text!r} is no pilot law", "test plan, question.law", f"one of: {', '.join(Law)}")


def technique_named(key: str, known: tuple[Technique, ...], field: str) -> Technique:
    """Return the technique of that key; raises BadInputError listing a few."""
    for technique in known:
        if technique.key == key.strip():
            return technique
    names = ", ".join(t.key for t in known if t.complete)
    raise BadInputError(f"{key!r} is no technique of this airplane", f"test plan, question.{field}", f"one of: {names}")


def usual_rivals(known: tuple[Technique, ...]) -> tuple[Technique, Technique]:
    """Return the two techniques people argue about: flaps one step first, or the gear first; then the other, then up.

    Where the airplane has no such pair (fixed gear), the first two complete orders. Raises BadInputError with fewer.
    """
    complete = [t for t in known if t.complete]
    gear_first = [t for t in complete if t.key.startswith("gear-up,")]
    flaps_first = [t for t in complete if t.key.startswith("flaps-") and ",gear-up," in t.key]
    if gear_first and flaps_first:
        first = max(flaps_first, key=lambda t: len(t.actions))
        same_steps = [t for t in gear_first if len(t.actions) == len(first.actions)]
        return first, (same_steps or gear_first)[0]
    if len(complete) < 2:
        raise BadInputError("there are not two orders to decide between", "test plan", "start with flaps or gear out")
    return complete[0], complete[1]
