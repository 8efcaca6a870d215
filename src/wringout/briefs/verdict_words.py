"""Sentences about techniques: who is favoured, by how much, over which domain, and what counts as a difference.

The decisions are those of :mod:`wringout.techniques.verdict`; here they are said in the units of the brief.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from wringout.briefs.document import Line, Words, line
from wringout.briefs.evidence import Evidence
from wringout.briefs.numbers import NO_BREAK, Scale, count, number, places_for
from wringout.briefs.standings import Judged, Place
from wringout.briefs.words import TOO_CLOSE, listed
from wringout.techniques.rule import Outcome
from wringout.techniques.types import EntryReference, Law, Matchup, Range

LAWS = {
    Law.HOLD_ATTITUDE: "With the attitude held",
    Law.HOLD_SPEED: "With the speed held",
    Law.LEVEL_THEN_CLIMB: "Levelling first, then climbing",
}
_MOST_NAMES = 2


def flown_words(matchup: Matchup) -> str:
    """Return how pitch was flown as the start of a sentence: the pilot law, or a procedure that says it itself."""
    return LAWS[matchup.law] if matchup.situation.by_law else matchup.situation.title


def verdict_anchor(matchup: Matchup) -> str:
    """Return where a matchup's verdict is said."""
    return f"verdict-{matchup.law.name.lower().replace('_', '-')}"


def quoted(title: str) -> str:
    """Return a technique's title in quotation marks."""
    return f"\N{LEFT DOUBLE QUOTATION MARK}{title}\N{RIGHT DOUBLE QUOTATION MARK}"


def verdict_sentence(evidence: Evidence, judgement: Judged) -> Line:
    """Say who is favoured, that it is too close to call, or that nothing is acceptable.

    The domain and the thresholds belong beside it; see :func:`domain_sentence`.
    """
    law, orders = flown_words(judgement.matchup), judgement.orders
    anchor = verdict_anchor(judgement.matchup)
    leader = Words(quoted(orders[0].technique.title), "plain", anchor)
    held = [place for place in orders[1:] if place.standing.acceptable]
    match judgement.verdict.outcome:
        case Outcome.NOT_ACCEPTABLE:
            return (*line(f"{law}, none of the {count(len(orders), 'order')} is acceptable: "), *_broken(judgement))
        case Outcome.FAVOURED if not held:
            only = (
                "is the only order flown." if len(orders) == 1 else "is the only order that keeps the stated margins."
            )
            return line(f"{law}, ", leader, f" {only}")
        case Outcome.FAVOURED:
            near = max(held, key=lambda place: place.ahead)
            return line(
                f"{law}, ",
                leader,
                " is favoured over every other acceptable order. The nearest, ",
                f"{quoted(near.technique.title)}, is behind by {behind_words(evidence, judgement, near)} in "
                f"{judgement.score.title}.",
                *_dropped(orders),
            )
    close = [place for place in held if place.technique.key in judgement.verdict.leading]
    behind = [place for place in held if place.technique.key not in judgement.verdict.leading]
    return (
        *_close(law, leader, close, len(behind)),
        *_worst(evidence, judgement, behind),
        *_dropped(orders),
    )


def _close(law: str, leader: Words, close: Sequence[Place], behind: int) -> Line:
    if not behind and len(close) > _MOST_NAMES:
        return line(
            f"{law}, {count(len(close) + 1, 'order')} are {TOO_CLOSE}: none is behind ",
            leader,
            " by enough to matter.",
        )
    names = [quoted(place.technique.title) for place in close[:_MOST_NAMES]]
    if len(close) > _MOST_NAMES:
        names.append(count(len(close) - _MOST_NAMES, "more order"))
    return line(f"{law}, it is {TOO_CLOSE} between ", leader, f"{', ' if len(names) > 1 else ' and '}{listed(names)}.")


def _worst(evidence: Evidence, judgement: Judged, behind: Sequence[Place]) -> Line:
    if not behind:
        return ()
    worst = min(behind, key=lambda place: place.ahead)
    more = f"; {count(len(behind) - 1, 'other order')} by less" if len(behind) > 1 else ""
    return line(
        f" {quoted(worst.technique.title)} is behind by {behind_words(evidence, judgement, worst)} in "
        f"{judgement.score.title}{more}."
    )


def _dropped(orders: Sequence[Place]) -> Line:
    out = sum(not place.standing.acceptable for place in orders)
    if not out:
        return ()
    verb = "breaks" if out == 1 else "break"
    return line(f" {count(out, 'order').capitalize()} {verb} a stated margin too often and {_are(out)} not acceptable.")


def _are(n: int) -> str:
    return "is" if n == 1 else "are"


def _broken(judgement: Judged) -> Line:
    """Say which margin the orders break, and how often at least."""
    standings = [place.standing for place in judgement.orders]
    bounds = judgement.matchup.thresholds
    causes = {
        f"V/Vs falls below {bounds.min_stall_ratio:.2f}": [s.below_stall_margin for s in standings],
        "the height above the ground falls below the stated one": [s.below_height for s in standings],
        "a limit speed is exceeded": [s.above_limit for s in standings],
    }
    cause, shares = max(causes.items(), key=lambda item: min(item[1]))
    if min(shares) > bounds.allowed_share:
        return line(f"{cause} in at least {share_words(min(shares))} of the draws.")
    return line("each breaks a stated margin too often.")


def share_words(share: float) -> str:
    """Return a share in per cent; 0 or 100 only if it is exactly that."""
    percent = 100.0 * share
    if 0.0 < percent < 1.0:
        return f"under 1{NO_BREAK}%"
    if 99.0 < percent < 100.0:
        return f"over 99{NO_BREAK}%"
    return f"{percent:.0f}{NO_BREAK}%"


def score_scale(evidence: Evidence, judgement: Judged) -> Scale:
    """Return how the deciding score is printed."""
    return evidence.scale(judgement.score.shown_unit)


def score_places(width: float) -> int:
    """Return the decimals of a difference in score whose 95 % interval is this wide, in printed units: two at most.

    A score that differs by the same amount in every draw has no width to round by.
    """
    return min(max(places_for(width / 3.92), 0), 2) if math.isfinite(width) else 0


def behind_words(evidence: Evidence, judgement: Judged, place: Place) -> str:
    """Return how far a technique is behind the leader, with its 95 % interval and unit."""
    scale = score_scale(evidence, judgement)
    value, low, high = (-x / scale.size for x in (place.ahead, place.most[1], place.most[0]))
    places = score_places(high - low)
    unit = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""

    def said(x: float) -> str:
        return number(x, places) if math.isfinite(x) else "without end"

    return f"{said(value)}{unit} (95{NO_BREAK}%: {said(low)} to {said(high)}{unit})"


def domain_sentence(evidence: Evidence, matchup: Matchup) -> str:
    """Say over which conditions the verdicts of a matchup hold."""
    domain = matchup.domain
    if matchup.situation.entry_speed.reference is EntryReference.VS0:
        speed = f"{_range(domain.entry_speed, Scale(1.0, ''), 2)} times the stall speed"
    else:
        speed = f"{_range(domain.entry_speed, evidence.scale('kt'))} calibrated"
    parts = [
        _range(domain.mass_kg, evidence.scale("lb")),
        f"{_range(domain.pressure_altitude_m, evidence.scale('ft'))} pressure altitude",
        f"{_range(domain.isa_deviation_k, Scale(1.0, '°C'))} from standard temperature",
        f"{'an approach' if matchup.situation.by_law else 'a start'} at {speed}",
    ]
    return f"This is for {listed(parts)}, on {matchup.draws:,} draws; outside of that nothing was computed."


def threshold_sentence(evidence: Evidence, judgement: Judged) -> str:
    """Say what was stated before flying: what decides, what matters, and which margins must hold."""
    bounds, scale = judgement.matchup.thresholds, score_scale(evidence, judgement)
    matters = number(bounds.difference / scale.size, 0 if bounds.difference / scale.size >= 10.0 else 1)
    unit = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""
    return (
        f"Stated before flying: {judgement.score.title} decides; an order is favoured over another only when it is "
        f"ahead by at least {matters}{unit} in {share_words(bounds.probability)} of the draws; it is not acceptable "
        f"when, in more than {share_words(bounds.allowed_share)} of them, V/Vs falls below "
        f"{bounds.min_stall_ratio:.2f}, the height above the ground below "
        f"{evidence.stated(bounds.min_height_m, 'ft')}, or a limit speed is exceeded."
    )


def _range(span: Range, scale: Scale, places: int = 0) -> str:
    low, high = (number(x / scale.size, places) for x in span)
    unit = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""
    return f"{low}{unit}" if low == high else f"{low} to {high}{unit}"
