"""Why one technique is ahead of another, as matchups and searches keep it: when, through what, where energy goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from wringout.services.kept_numbers import numbers
from wringout.techniques.flying.scores import ABOVE_START, SCORE_INDEX, SCORES, Score
from wringout.techniques.judging.reasons import Benefit, benefit, budget
from wringout.techniques.judging.rule import rounded
from wringout.techniques.judging.verdict import Standing
from wringout.techniques.stated.types import Device, FloatArray, Matchup, Technique, Trace
from wringout.units import FOOT, FOOT_PER_MINUTE

MOMENTS = 61
"""Moments at which a benefit is kept."""
LEAST_SHARED_FT = 5.0
"""Of a smaller difference no share is told: it would be of noise in the steps."""
_ENERGY_SERVES = ("climb_time", "obstacle_distance", "end_distance")
"""Scores beside heights that energy serves; a descent or a slow-down is flown to lose it."""

Json = dict[str, Any]


def why_document(why: Benefit) -> Json:
    """Return the benefit over time, ft of energy height, at evenly spaced moments, and what part came through what."""
    t = np.linspace(0.0, float(why.t_s[-1]), MOMENTS)
    parts = {"ahead_ft": why.ahead_m, "gear_ft": why.gear_m, "flaps_ft": why.flaps_m, "rest_ft": why.rest_m}
    found: Json = {"t_s": numbers(t)}
    return found | {key: numbers(np.interp(t, why.t_s, values) / FOOT) for key, values in parts.items()}


def flight_document(trace: Trace) -> Json:
    """Return a flight at evenly spaced moments: stall margin, drag area of each device, and where its energy goes."""
    t = np.linspace(0.0, float(trace.t_s[-1]), 2 * MOMENTS - 1)

    def at(values: FloatArray, size: float) -> list[float | None]:
        return numbers(np.interp(t, trace.t_s, values) / size)

    rates = budget(trace)
    parts = {
        "thrust_fpm": rates.thrust,
        "clean_fpm": rates.clean,
        "induced_fpm": rates.induced + rates.rest,
        "gear_fpm": rates.gear,
        "flaps_fpm": rates.flaps,
        "total_fpm": rates.total,
    }
    areas = {"gear_area_ft2": trace.gear_area_m2, "flaps_area_ft2": trace.flap_area_m2}
    found: Json = {"t_s": numbers(t), "stall_ratio": at(np.minimum(trace.stall_ratio, 9.0), 1.0)}
    found |= {key: at(values, FOOT * FOOT) for key, values in areas.items()}
    return found | {key: at(values, FOOT_PER_MINUTE) for key, values in parts.items()}


def benefit_sentences(why: Benefit, title: str, other: str) -> str:
    """Say through which device the benefit over another order came, and when.

    Args:
        why: the benefit. title: of the one that is explained, with quotation marks, or "it". other: of the other.
    """
    final = float(why.ahead_m[-1]) / FOOT
    if abs(final) < LEAST_SHARED_FT:
        return (
            f"On the middle draw {title} ends within {LEAST_SHARED_FT:.0f} ft of energy height of “{other}”; of so "
            "little no share is told."
        )
    parts = [(float(values[-1]) / FOOT, name) for values, name in _parts(why)]
    most, name = max(parts, key=lambda part: part[0] if final > 0.0 else -part[0])
    word = "ahead of" if final > 0.0 else "behind"
    through = part_words(final, most, name) if most * final > 0.0 else ""
    return (
        f"On the middle draw {title} ends {abs(final):.0f} ft of energy height {word} “{other}”{through}. "
        f"{why.sentence(half_time_s(why))}"
    )


def part_words(whole_ft: float, part_ft: float, name: str) -> str:
    """Say what part of a difference came through something, where the part has the sign of the whole.

    A part larger than the whole is no part of it: then what the rest took away again is said too, in whole feet that
    add up as they are read.
    """
    whole, part = round(abs(whole_ft)), round(abs(part_ft))
    if part <= whole:
        return f", {part} ft of it through {name}"
    undone = "lost again" if whole_ft > 0.0 else "won back"
    return f": {part} ft through {name}, of which {part - whole} ft were {undone} through the rest"


def half_time_s(why: Benefit) -> float:
    """Return the first whole second by which half of the final benefit had come, so that its share says something."""
    return next((s for s in range(1, int(why.t_s[-1])) if why.share_by(s) >= 0.5), float(why.t_s[-1]))


def _parts(why: Benefit) -> tuple[tuple[FloatArray, str], ...]:
    return (
        (why.gear_m, "the drag of the gear"),
        (why.flaps_m, "the drag of the flaps"),
        (why.rest_m, "what is neither gear nor flaps"),
    )


def is_served_by_energy(score: Score) -> bool:
    """Return whether being ahead in energy height explains being ahead in a score."""
    return score.datum == ABOVE_START or score.key in _ENERGY_SERVES


def matchup_why(matchup: Matchup, standings: Sequence[Standing]) -> Json | None:
    """Return why the best order is ahead of the best that begins with the other device, both on the middle draw.

    Where these end alike, or nothing begins with another device, it is held against the order it is most ahead of. None
    where there are not two, or where losing energy is what is flown for.
    """
    score = SCORES[SCORE_INDEX[matchup.thresholds.score]]
    if not is_served_by_energy(score):
        return None
    ranked = _ranked(matchup.techniques, standings, score)
    if len(ranked) < 2:
        return None
    best = ranked[0]
    whys = {j: benefit(matchup.traces[best], matchup.traces[j]) for j in _rivals(matchup.techniques, ranked)}
    other = next(
        (j for j, why in whys.items() if abs(float(why.ahead_m[-1])) >= LEAST_SHARED_FT * FOOT), next(iter(whys))
    )
    first, second = matchup.techniques[best], matchup.techniques[other]
    return {
        "first": {"key": first.key, "title": first.title},
        "second": {"key": second.key, "title": second.title},
        "sentence": benefit_sentences(whys[other], f"“{first.title}”", second.title),
        "benefit": why_document(whys[other]),
        "flights": [flight_document(matchup.traces[j]) for j in (best, other)],
    }


def _ranked(techniques: Sequence[Technique], standings: Sequence[Standing], score: Score) -> list[int]:
    """Return the complete orders, best first; those that keep the margins before the others, alike ones as listed."""
    sign = 1.0 if score.larger_is_better else -1.0
    known = [j for j, t in enumerate(techniques) if t.complete and np.isfinite(standings[j].median)]
    return sorted(known, key=lambda j: (not standings[j].acceptable, -sign * rounded(standings[j].median)))


def _rivals(techniques: Sequence[Technique], ranked: Sequence[int]) -> list[int]:
    """Return what the best may be held against: the best that begins with another device, then the last."""
    begins = _begins(techniques[ranked[0]])
    return [*[j for j in ranked[1:] if _begins(techniques[j]) not in (begins, None)][:1], ranked[-1]]


def _begins(technique: Technique) -> Device | None:
    return technique.actions[0].device if technique.actions else None
