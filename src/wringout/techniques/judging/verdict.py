"""From a matchup to a verdict in plain sentences: favoured, too close to call, or not acceptable.

The rule, stated before flying by `Thresholds`: one technique is favoured over another only if it is ahead by at least
the difference that matters in at least the asked share of the draws, both flown on the same airplanes, air and pilots.
So a difference too small to matter is never a win. A technique that breaks a margin in more than the allowed share of
draws is not acceptable, whatever its score.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wringout.errors import BadInputError
from wringout.techniques.flying.scores import SCORE_INDEX, SCORES
from wringout.techniques.judging.rule import (
    Outcome,
    favoured,
    interval,
    keeps_margins,
    lead,
    margins_broken,
    quantile,
    rule,
)
from wringout.techniques.judging.wording import (
    amount,
    count_word,
    deciding_score,
    domain_sentence,
    in_a_row,
    per_cent,
    per_cent_beside,
    span,
    threshold_sentence,
    with_interval,
)
from wringout.techniques.stated.types import FloatArray, Matchup, Range, Technique
from wringout.units import FOOT

CAUTION = (
    "This compares computed trajectories within the stated bounds; the airplane's approved manual, the regulations and "
    "a qualified instructor decide what is flown."
)
_MOST_NAMED = 4  # techniques named one by one in a sentence


@dataclass(frozen=True, slots=True)
class Standing:
    """One technique on its own: its deciding score over the draws and its margins.

    Attributes:
        key: the technique. title: its plain words. complete: whether it ends clean.
        median: of the deciding score, SI. interval_50, interval_95: central intervals over the draws, SI.
        below_stall_margin, below_height, above_limit: shares of draws that break each margin.
        acceptable: whether none of these exceeds the allowed share.
        sentence: the same in words.
    """

    key: str
    title: str
    complete: bool
    median: float
    interval_50: Range
    interval_95: Range
    below_stall_margin: float
    below_height: float
    above_limit: float
    acceptable: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class PairVerdict:
    """One technique against another on the deciding score.

    Attributes:
        first, second: their keys.
        outcome: for the pair.
        favoured: key of the favoured one, or None.
        first_ahead, second_ahead: shares of draws in which that one is ahead by at least the difference that matters.
        alike: share of draws in which they differ by less.
        difference: median over the draws, SI, positive where the first is better; with 50 and 95 % intervals.
        sentence: the same in words.
    """

    first: str
    second: str
    outcome: Outcome
    favoured: str | None
    first_ahead: float
    second_ahead: float
    alike: float
    difference: float
    interval_50: Range
    interval_95: Range
    sentence: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """The whole matchup.

    Attributes:
        outcome: overall.
        leading: keys of the favoured technique, or of those too close to call, best median first; empty if none is
            acceptable.
        sentence: the verdict. domain: where it holds. threshold: what was stated before flying.
        standings: one per technique, in the order of the matchup.
        pairs: every two techniques once, in the order of the matchup.
    """

    outcome: Outcome
    leading: tuple[str, ...]
    sentence: str
    domain: str
    threshold: str
    standings: tuple[Standing, ...]
    pairs: tuple[PairVerdict, ...]


def judge(matchup: Matchup) -> Verdict:
    """Return the verdict on a matchup. Baselines (incomplete techniques) are compared but cannot be favoured overall.

    Pure: the same matchup gives the same words.
    """
    standings = tuple(standing(matchup, technique.key) for technique in matchup.techniques)
    keys = [technique.key for technique in matchup.techniques]
    pairs = tuple(
        _compare(matchup, standings[i], standings[j]) for i in range(len(keys)) for j in range(i + 1, len(keys))
    )
    complete = tuple(technique.complete for technique in matchup.techniques)
    ruling = rule(matchup.scores, complete, matchup.situation.start_height_m, matchup.thresholds)
    candidates = [s for s in standings if s.complete] or list(standings)
    acceptable = [s for s in candidates if s.acceptable]
    leading = [standings[j] for j in ruling.leading]
    sentence = _overall(matchup, candidates, acceptable, leading, pairs)
    return Verdict(
        outcome=ruling.outcome,
        leading=tuple(s.key for s in leading),
        sentence=sentence,
        domain=domain_sentence(matchup),
        threshold=threshold_sentence(matchup),
        standings=standings,
        pairs=pairs,
    )


def compare(matchup: Matchup, first: str, second: str) -> PairVerdict:
    """Return the verdict between two techniques, by key.

    Raises:
        BadInputError: a key that is not in the matchup.
    """
    return _compare(matchup, standing(matchup, first), standing(matchup, second))


def standing(matchup: Matchup, key: str) -> Standing:
    """Return how one technique stands on its own.

    Raises:
        BadInputError: a key that is not in the matchup.
    """
    column = _column(matchup, key)
    technique = matchup.techniques[column]
    score, values = deciding_score(matchup), matchup.scores[:, column]
    deciding = values[:, SCORE_INDEX[score.key]]
    limits = matchup.thresholds
    shares = margins_broken(values[:, np.newaxis], matchup.situation.start_height_m, limits)[0]
    stalls, low, fast = (float(share) for share in shares)
    acceptable = keeps_margins(shares, limits)
    return Standing(
        key=key,
        title=technique.title,
        complete=technique.complete,
        median=float(quantile(deciding, 0.5)),
        interval_50=interval(deciding, 0.50),
        interval_95=interval(deciding, 0.95),
        below_stall_margin=stalls,
        below_height=low,
        above_limit=fast,
        acceptable=acceptable,
        sentence=_standing_sentence(matchup, technique, deciding, (stalls, low, fast), acceptable),
    )


def differences(matchup: Matchup, first: str, second: str, score_key: str | None = None) -> FloatArray:
    """Return, for each draw, by how much the first technique is better than the second in a score, SI.

    Two that never get there are equal; one that does is infinitely better than one that does not.

    Raises:
        BadInputError: a technique or score that is not in the matchup.
    """
    key = matchup.thresholds.score if score_key is None else score_key
    if key not in SCORE_INDEX:
        raise BadInputError(f"'{key}' is no score", "score", f"one of {', '.join(SCORE_INDEX)}")
    index = SCORE_INDEX[key]
    a, b = (matchup.scores[:, _column(matchup, name), index] for name in (first, second))
    found = lead(a, b)
    return np.asarray(found if SCORES[index].larger_is_better else -found + 0.0)


def _compare(matchup: Matchup, one: Standing, other: Standing) -> PairVerdict:
    gain = differences(matchup, one.key, other.key)
    matters = matchup.thresholds.difference
    ahead, behind = float(np.mean(gain >= matters)), float(np.mean(gain <= -matters))
    who = favoured(ahead, behind, matchup.thresholds)
    if not (one.acceptable and other.acceptable):
        outcome, winner = Outcome.NOT_ACCEPTABLE, None
    elif who:
        outcome, winner = Outcome.FAVOURED, one.key if who > 0 else other.key
    else:
        outcome, winner = Outcome.TOO_CLOSE, None
    return PairVerdict(
        first=one.key,
        second=other.key,
        outcome=outcome,
        favoured=winner,
        first_ahead=ahead,
        second_ahead=behind,
        alike=float(np.mean(np.abs(gain) < matters)),
        difference=float(quantile(gain, 0.5)),
        interval_50=interval(gain, 0.50),
        interval_95=interval(gain, 0.95),
        sentence=_pair_sentence(matchup, one, other, gain, outcome, winner),
    )


def _overall(
    matchup: Matchup,
    candidates: Sequence[Standing],
    acceptable: Sequence[Standing],
    leading: Sequence[Standing],
    pairs: Sequence[PairVerdict],
) -> str:
    total, out = len(candidates), len(candidates) - len(acceptable)
    count = f"{count_word(total)} {'order' if total == 1 else 'orders'}"
    dropped = (
        f" {count_word(out).capitalize()} of the {count} {'is' if out == 1 else 'are'} not acceptable." if out else ""
    )
    if not leading and total == 1:
        return f"“{candidates[0].title}”, the only order flown, is not acceptable: it breaks a stated margin."
    if not leading:
        return f"{'Neither' if total == 2 else 'None'} of the {count} is acceptable: each breaks a stated margin."
    if len(leading) > 1:
        return _close_words(acceptable, leading) + dropped
    best = leading[0]
    if len(acceptable) == 1:
        only = f"“{best.title}” is the only one of the {count} that keeps the stated margins."
        return only if out else f"“{best.title}” is the only order flown."
    rivals = {s.key for s in acceptable}
    nearest = min(
        (p for p in pairs if p.favoured == best.key and {p.first, p.second} <= rivals), key=lambda p: abs(p.difference)
    )
    other = next(s for s in acceptable if s.key in (nearest.first, nearest.second) and s is not best)
    words = _ahead_words(matchup, differences(matchup, best.key, other.key))
    if len(acceptable) == 2:
        return f"“{best.title}” is favoured over “{other.title}”: {words}.{dropped}"
    everyone = f"“{best.title}” is favoured over each of the {count_word(len(acceptable) - 1)} other acceptable orders"
    return f"{everyone}; against the nearest, “{other.title}”, {words}.{dropped}"


def _close_words(acceptable: Sequence[Standing], leading: Sequence[Standing]) -> str:
    rest = len(acceptable) - len(leading)
    if len(leading) <= _MOST_NAMED:
        words = f"Too close to call between {in_a_row([s.title for s in leading])}."
    else:
        which = f"{count_word(len(leading))} orders" if rest else f"all {count_word(len(leading))} acceptable orders"
        words = f"Too close to call between {which}; the best median has “{leading[0].title}”."
    if rest:
        words += f" The best of them is favoured over {count_word(rest)} other{'s' if rest > 1 else ''}."
    return words


def _ahead_words(matchup: Matchup, gain: FloatArray) -> str:
    """Return by how much and how often something is ahead, e.g. "energy height at 30 s is 24 ft higher ..."."""
    score, matters = deciding_score(matchup), matchup.thresholds.difference
    return (
        f"{score.title} is {amount(float(quantile(gain, 0.5)), score)} {score.better} "
        f"(95 %: {span(interval(gain, 0.95), score)}), and by at least {amount(matters, score)} in "
        f"{per_cent(float(np.mean(gain >= matters)))} of the draws"
    )


def _pair_sentence(
    matchup: Matchup, one: Standing, other: Standing, gain: FloatArray, outcome: Outcome, winner: str | None
) -> str:
    score, limits = deciding_score(matchup), matchup.thresholds
    matters = amount(limits.difference, score)
    if outcome is Outcome.NOT_ACCEPTABLE:
        return " ".join(s.sentence for s in (one, other) if not s.acceptable)
    if outcome is Outcome.FAVOURED:
        better, worse, signed = (one, other, gain) if winner == one.key else (other, one, -gain)
        return f"“{better.title}” is favoured over “{worse.title}”: {_ahead_words(matchup, signed)}."
    middle = f"median difference {amount(float(quantile(gain, 0.5)), score)}, 95 %: {span(interval(gain, 0.95), score)}"
    alike = float(np.mean(np.abs(gain) < limits.difference))
    if alike >= limits.probability:
        return (
            f"“{one.title}” and “{other.title}” are too close to call: {score.title} differs by less than {matters} in "
            f"{per_cent(alike)} of the draws ({middle})."
        )
    ahead, behind = float(np.mean(gain >= limits.difference)), float(np.mean(gain <= -limits.difference))
    asked = per_cent(limits.probability)
    return (
        f"“{one.title}” and “{other.title}” are too close to call: in {score.title} the first is ahead by at least "
        f"{matters} in {per_cent_beside(ahead, limits.probability)} of the draws, the second in "
        f"{per_cent_beside(behind, limits.probability)}, and {asked} "
        f"was asked for ({middle})."
    )


def _standing_sentence(
    matchup: Matchup, technique: Technique, deciding: FloatArray, broken: tuple[float, float, float], acceptable: bool
) -> str:
    score, limits = deciding_score(matchup), matchup.thresholds
    if acceptable:
        return (
            f"“{technique.title}”: {score.title} "
            f"{with_interval(float(quantile(deciding, 0.5)), interval(deciding, 0.95), score)}."
        )
    words = (
        f"V/Vs falls below {limits.min_stall_ratio:.2f}",
        f"the height above the ground falls below {limits.min_height_m / FOOT:.0f} ft",
        "a limit speed is exceeded",
    )
    found = [
        f"{w} in {per_cent_beside(b, limits.allowed_share)} of the draws"
        for w, b in zip(words, broken, strict=True)
        if b > limits.allowed_share
    ]
    return (
        f"“{technique.title}” is not acceptable: {' and '.join(found)} ({per_cent(limits.allowed_share)} is allowed)."
    )


def _column(matchup: Matchup, key: str) -> int:
    for column, technique in enumerate(matchup.techniques):
        if technique.key == key:
            return column
    raise BadInputError(
        f"'{key}' is not among the techniques flown",
        "technique",
        f"one of {', '.join(t.key for t in matchup.techniques)}",
    )
