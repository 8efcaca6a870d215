"""The difference that matters and the margins that must hold, as a study states them before flying."""

from __future__ import annotations

from collections.abc import Mapping

from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError
from wringout.store.records import Plain
from wringout.techniques.flying.scores import SCORE_INDEX, SCORES, Score
from wringout.techniques.stated.types import Thresholds
from wringout.units import FOOT, from_si

DEFAULT_SCORE = "energy_height_30s"
DEFAULT_DIFFERENCE_M = 25.0 * FOOT
"""A height a pilot would notice on a go-around and an obstacle would too (judged, no source)."""

FIELDS = ("score", "smallest", "probability", "stall_ratio", "height", "allowed_share")
"""What a study's table of the difference that matters may hold."""


def thresholds_of(table: Mapping[str, Plain]) -> Thresholds:
    """Read a study's table of the difference that matters.

    Fields, all optional: ``score`` (a key of ``techniques.scores.SCORES``), ``smallest`` (its smallest difference that
    matters, with unit), ``probability``, ``stall_ratio`` (lowest acceptable V/Vs), ``height`` (lowest acceptable height
    above the ground, with unit), ``allowed_share`` (share of draws that may break a margin).

    Raises:
        BadInputError: an unknown field, or a value that cannot be read, naming the field.
    """
    unknown = sorted(set(table) - set(FIELDS))
    if unknown:
        raise BadInputError(f"{unknown[0]!r} is not known", "difference", f"use {', '.join(FIELDS)}")
    usual = Thresholds()
    score = score_named(str(table.get("score", DEFAULT_SCORE)))
    return Thresholds(
        score=score.key,
        difference=_smallest(table, score),
        probability=_number(table, "probability", usual.probability, 0.5, 1.0),
        min_stall_ratio=_number(table, "stall_ratio", usual.min_stall_ratio, 1.0, 2.0),
        min_height_m=_length(table, "height", usual.min_height_m),
        allowed_share=_number(table, "allowed_share", usual.allowed_share, 0.0, 1.0),
    )


def score_named(key: str) -> Score:
    """Return the score of a key.

    Raises:
        BadInputError: there is none.
    """
    if key not in SCORE_INDEX:
        raise BadInputError(f"{key!r} is no score", "difference, score", f"use one of {', '.join(SCORE_INDEX)}")
    return SCORES[SCORE_INDEX[key]]


_DIMENSIONS = {"m": "length", "s": "time", "m/s": "speed", "1": "number"}
_EXAMPLES = {"m": "25 ft", "s": "2 s", "m/s": "3 kt", "1": "0.05"}


def _smallest(table: Mapping[str, Plain], score: Score) -> float:
    where = "difference, smallest"
    if "smallest" not in table:
        if score.key == DEFAULT_SCORE:
            return DEFAULT_DIFFERENCE_M
        raise BadInputError(
            f"the smallest difference of {score.title} that matters is not stated",
            where,
            f"write for example {_EXAMPLES[score.unit]!r}",
        )
    value = table["smallest"]
    shown = value if not isinstance(value, bool) else str(value)
    found, _ = parse_measured(shown, _DIMENSIONS[score.unit], where, _EXAMPLES[score.unit])
    if found <= 0.0:
        raise BadInputError(f"{value!r} is not above zero", where, f"write for example {_EXAMPLES[score.unit]!r}")
    return found


def _length(table: Mapping[str, Plain], field: str, usual: float) -> float:
    return usual if field not in table else parse_measured(table[field], "length", f"difference, {field}", "50 ft")[0]


def _number(table: Mapping[str, Plain], field: str, usual: float, low: float, high: float) -> float:
    where = f"difference, {field}"
    if field not in table:
        return usual
    value, _ = parse_measured(table[field], "number", where, f"{usual:g}")
    if not low <= value <= high:
        raise BadInputError(f"{value:g} is out of range", where, f"write a number from {low:g} to {high:g}")
    return value


def difference_words(thresholds: Thresholds) -> str:
    """Return the smallest difference that matters in words, such as "25 ft of energy height at 30 s"."""
    score = SCORES[SCORE_INDEX[thresholds.score]]
    if score.shown_unit == "1":
        return f"{thresholds.difference:g} of {score.title}"
    return f"{from_si(thresholds.difference, score.shown_unit):.3g} {score.shown_unit} of {score.title}"
