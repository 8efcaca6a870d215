"""How numbers and conditions of a verdict are put into words: feet, knots, pounds, per cent."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wringout.numerals import MINUS, number
from wringout.techniques.flying.layout import entry_is_factor
from wringout.techniques.flying.scores import ABOVE_START, SCORE_INDEX, SCORES, Score
from wringout.techniques.stated.types import Domain, Law, Matchup, Range, Situation, Thresholds
from wringout.units import FOOT, KNOT, POUND, from_si


def deciding_score(matchup: Matchup) -> Score:
    """Return the score that decides a matchup."""
    return SCORES[SCORE_INDEX[matchup.thresholds.score]]


def domain_sentence(matchup: Matchup, laws: Sequence[Law] = ()) -> str:
    """Return, in one sentence, what the verdict is for; ``laws`` where it is said of several at once."""
    domain = matchup.domain
    if entry_is_factor(matchup.situation):
        entry = f"an entry at {_plain(domain.entry_speed, 1.0, '.2f')} times the stall speed"
    else:
        entry = f"an entry at {_plain(domain.entry_speed, KNOT, '.0f')} kt calibrated"
    flown = " or ".join(f"“{law.value}”" for law in laws or (matchup.law,))
    pilot = f"a pilot who flies {flown}" if matchup.situation.by_law else "a pilot who does what it says"
    return (
        f"This is for {_plain(domain.mass_kg, POUND, ',.0f')} lb, pressure altitudes of "
        f"{_plain(domain.pressure_altitude_m, FOOT, ',.0f')} ft, ISA {_plain(domain.isa_deviation_k, 1.0, '+.0f')} °C, "
        f"{entry}, the procedure “{matchup.situation.title}” and {pilot}, on {matchup.draws:,} draws; outside of that "
        "nothing was computed."
    )


def threshold_sentence(matchup: Matchup) -> str:
    """Return, in one sentence, what was stated before flying."""
    return thresholds_in_words(matchup.thresholds)


def thresholds_in_words(limits: Thresholds) -> str:
    """Return, in one sentence, what counts as a difference and as acceptable."""
    score = SCORES[SCORE_INDEX[limits.score]]
    return (
        f"Stated before flying: {score.title} decides, a difference under {amount(limits.difference, score)} does not "
        f"matter, a technique must be ahead by that in {per_cent(limits.probability)} of the draws, and V/Vs must not "
        f"fall below {limits.min_stall_ratio:.2f}, the height above the ground not below "
        f"{limits.min_height_m / FOOT:.0f} ft and no limit speed be exceeded in more than "
        f"{per_cent(limits.allowed_share)} of them."
    )


def _digits(score: Score) -> int:
    return {"ft": 0, "s": 1, "1": 2, "kt": 1, "ft/min": 0, "deg": 1}[score.shown_unit]


def _bare(value: float, score: Score) -> str:
    if math.isinf(value):
        return "∞" if value > 0.0 else f"{MINUS}∞"
    return number(from_si(value, score.shown_unit), _digits(score))


def amount(value: float, score: Score) -> str:
    """Return a value of a score with its unit."""
    return f"{_bare(value, score)}{_unit(score)}"


def span(interval: Range, score: Score) -> str:
    """Return an interval of a score with its unit, e.g. ``"15 to 33 ft"``."""
    return f"{_bare(interval[0], score)} to {amount(interval[1], score)}"


def _unit(score: Score) -> str:
    return "" if score.shown_unit == "1" else f" {score.shown_unit}"


def per_cent(share: float) -> str:
    """Return a share in per cent; a share is written 0 or 100 % only if it is exactly that."""
    percent = 100.0 * share
    if 0.0 < percent < 1.0:
        return "under 1 %"
    if 99.0 < percent < 100.0:
        return "over 99 %"
    return f"{percent:.0f} %"


def per_cent_beside(share: float, bound: float) -> str:
    """Return a share in per cent with as many decimals as keep it apart from the bound it is held against."""
    if share == bound or per_cent(share) != per_cent(bound):
        return per_cent(share)
    texts = [f"{100.0 * share:.{places}f}" for places in range(1, 5)]
    return f"{next((text for text in texts if float(text) != 100.0 * bound), texts[-1])} %"


def with_interval(middle: float, interval: Range, score: Score) -> str:
    """Return a value of a score with its 95 % interval and what it is counted from.

    What lies wholly below the start is said as a height below it, e.g. ``"516 ft (95 %: 475 to 569 ft) below the
    start"``.
    """
    datum = score.datum
    if datum == ABOVE_START and interval[1] < 0.0:
        middle, interval, datum = -middle, (-interval[1], -interval[0]), "below the start"
    words = f"{amount(middle, score)} (95 %: {span(interval, score)})"
    return f"{words} {datum}" if datum else words


def start_margin_sentence(situation: Situation, domain: Domain, thresholds: Thresholds) -> str:
    """Say that the start itself lies below the stated V/Vs, so that no technique can keep it; "" where it does not."""
    slowest = domain.entry_speed[0]
    if not entry_is_factor(situation) or slowest >= thresholds.min_stall_ratio - 1e-9:
        return ""
    return (
        f"The start itself, from {slowest:.2f} times the stall speed, lies below the stated V/Vs of "
        f"{thresholds.min_stall_ratio:.2f}: there no technique can keep that margin. Where this is what is asked, "
        "state a lower one before flying."
    )


def _plain(span: Range, unit: float, pattern: str) -> str:
    low, high = (f"{value / unit:{pattern}}".replace("-", MINUS) for value in span)
    return low if low == high else f"{low} to {high}"


def count_word(count: int) -> str:
    """Return a small count as a word."""
    words = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
    return words[count] if count < len(words) else str(count)


def in_a_row(titles: Sequence[str]) -> str:
    """Return titles in quotation marks, with "and" before the last."""
    quoted = [f"“{title}”" for title in titles]
    return f"{', '.join(quoted[:-1])} and {quoted[-1]}" if len(quoted) > 1 else "".join(quoted)
