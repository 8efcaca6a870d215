"""Sentences about techniques: who is favoured, by how much, over which domain, and what counts as a difference.

The decisions are those of :mod:`wringout.techniques.judging.verdict`; here they are said in the units of the brief.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from wringout.briefs.catalogue import marked, said, tr
from wringout.briefs.document import Line, Words, line
from wringout.briefs.evidence import Evidence
from wringout.briefs.numbers import NO_BREAK, Scale, count, number, places_for
from wringout.briefs.procedure_words import during, starting
from wringout.briefs.standings import Judged, Place
from wringout.briefs.words import listed
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.stated.types import EntryReference, Law, Matchup, Range, Situation

LAWS = {
    Law.HOLD_ATTITUDE: marked("With the attitude held"),
    Law.HOLD_SPEED: marked("With the speed held"),
    Law.LEVEL_THEN_CLIMB: marked("Levelling first, then climbing"),
}
_MOST_NAMES = 2


def flown_words(law: Law, situation: Situation) -> str:
    """Return how pitch was flown as the start of a sentence: the pilot law, or by a procedure that says it itself."""
    return tr(LAWS[law]) if situation.by_law else during(situation)


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
    law, orders = flown_words(judgement.matchup.law, judgement.matchup.situation), judgement.orders
    anchor = verdict_anchor(judgement.matchup)
    leader = Words(quoted(orders[0].technique.title), "plain", anchor)
    held = [place for place in orders[1:] if place.standing.acceptable]
    match judgement.verdict.outcome:
        case Outcome.NOT_ACCEPTABLE:
            if len(orders) == 1:
                return (*said("{law}, the one order flown is not acceptable: ", law=law), *_broken(judgement))
            none = marked("{law}, none of the {count} is acceptable: ")
            message = marked("{law}, neither of the {count} is acceptable: ") if len(orders) == 2 else none
            return (*said(message, law=law, count=count(len(orders), "order")), *_broken(judgement))
        case Outcome.FAVOURED if not held:
            only = (
                tr("is the only order flown.")
                if len(orders) == 1
                else tr("is the only order that keeps the stated margins.")
            )
            return line(f"{law}, ", leader, f" {only}")
        case Outcome.FAVOURED:
            near = max(held, key=lambda place: place.ahead)
            return line(
                f"{law}, ",
                leader,
                " is favoured over every other acceptable order. The nearest, ",
                tr(
                    "{title}, is behind by {behind_words} in {title2}.",
                    title=quoted(near.technique.title),
                    behind_words=behind_words(evidence, judgement, near),
                    title2=tr(judgement.score.title),
                ),
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
        return said(
            "{law}, {count} are too close to call: none is behind {leader} by enough to matter.",
            law=law,
            count=count(len(close) + 1, "order"),
            leader=leader,
        )
    names = [quoted(place.technique.title) for place in close[:_MOST_NAMES]]
    if len(close) > _MOST_NAMES:
        names.append(count(len(close) - _MOST_NAMES, "more order"))
    return said(
        "{law}, it is too close to call between {leader}{part}{names}.",
        law=law,
        leader=leader,
        part=", " if len(names) > 1 else tr(" and "),
        names=listed(names),
    )


def _worst(evidence: Evidence, judgement: Judged, behind: Sequence[Place]) -> Line:
    if not behind:
        return ()
    worst = min(behind, key=lambda place: place.ahead)
    more = tr("; {count} by less", count=count(len(behind) - 1, "other order")) if len(behind) > 1 else ""
    return said(
        " {title} is behind by {behind_words} in {title2}{more}.",
        title=quoted(worst.technique.title),
        behind_words=behind_words(evidence, judgement, worst),
        title2=tr(judgement.score.title),
        more=more,
    )


def _dropped(orders: Sequence[Place]) -> Line:
    out = sum(not place.standing.acceptable for place in orders)
    if not out:
        return ()
    verb = "breaks" if out == 1 else "break"
    return said(
        " {capitalize} {verb} a stated margin too often and {are} not acceptable.",
        capitalize=count(out, "order").capitalize(),
        verb=verb,
        are=_are(out),
    )


def _are(n: int) -> str:
    return "is" if n == 1 else "are"


def _broken(judgement: Judged) -> Line:
    """Say which margin the orders break, and how often at least."""
    standings = [place.standing for place in judgement.orders]
    bounds = judgement.matchup.thresholds
    causes = {
        tr("V/Vs falls below {min_stall_ratio}", min_stall_ratio=f"{bounds.min_stall_ratio:.2f}"): [
            s.below_stall_margin for s in standings
        ],
        tr("the height above the ground falls below the stated one"): [s.below_height for s in standings],
        tr("a limit speed is exceeded"): [s.above_limit for s in standings],
    }
    cause, shares = max(causes.items(), key=lambda item: min(item[1]))
    if min(shares) > bounds.allowed_share:
        share = share_beside(min(shares), bounds.allowed_share)
        if min(shares) == max(shares):
            return said("{cause} in {share} of the draws.", cause=cause, share=share)
        return said("{cause} in at least {share} of the draws.", cause=cause, share=share)
    return said("each breaks a stated margin too often.")


def share_words(share: float) -> str:
    """Return a share in per cent; 0 or 100 only if it is exactly that."""
    percent = 100.0 * share
    if 0.0 < percent < 1.0:
        return tr("under 1\N{NO-BREAK SPACE}%")
    if 99.0 < percent < 100.0:
        return tr("over 99\N{NO-BREAK SPACE}%")
    return f"{percent:.0f}{NO_BREAK}%"


def share_beside(share: float, bound: float) -> str:
    """Return a share in per cent, with as many decimals as keep it apart from the bound it is held against."""
    said = share_words(share)
    if share == bound or said != share_words(bound):
        return said
    texts = [f"{100.0 * share:.{places}f}" for places in range(1, 5)]
    return f"{next((text for text in texts if float(text) != 100.0 * bound), texts[-1])}{NO_BREAK}%"


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

    return tr(
        "{said}{unit} (95\N{NO-BREAK SPACE}%: {said2} to {said3}{unit})",
        said=said(value),
        unit=unit,
        said2=said(low),
        said3=said(high),
    )


def domain_sentence(evidence: Evidence, matchup: Matchup) -> str:
    """Say over which conditions the verdicts of a matchup hold."""
    domain = matchup.domain
    if matchup.situation.entry_speed.reference is EntryReference.VS0:
        speed = tr("{range} times the stall speed", range=_range(domain.entry_speed, Scale(1.0, ""), 2))
    else:
        speed = tr("{range} calibrated", range=_range(domain.entry_speed, evidence.scale("kt")))
    parts = [
        _range(domain.mass_kg, evidence.scale("lb")),
        tr("{range} pressure altitude", range=_range(domain.pressure_altitude_m, evidence.scale("ft"))),
        tr("{range} from standard temperature", range=_range(domain.isa_deviation_k, Scale(1.0, "°C"))),
        starting(matchup.situation, speed),
    ]
    return tr(
        "This is for {parts}, on {draws} draws; outside of that nothing was computed.",
        parts=listed(parts),
        draws=f"{matchup.draws:,}",
    )


def threshold_sentence(evidence: Evidence, judgement: Judged) -> str:
    """Say what was stated before flying: what decides, what matters, and which margins must hold."""
    bounds, scale = judgement.matchup.thresholds, score_scale(evidence, judgement)
    matters = number(bounds.difference / scale.size, 0 if bounds.difference / scale.size >= 10.0 else 1)
    unit = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""
    return tr(
        "Stated before flying: {title} decides; an order is favoured over another only when it "
        "is ahead by at least {matters}{unit} in {probability} of the draws; it is not "
        "acceptable when, in more than {allowed_share} of them, V/Vs falls below "
        "{min_stall_ratio}, the height above the ground below {min_height_m}, or a limit speed "
        "is exceeded.",
        title=tr(judgement.score.title),
        matters=matters,
        unit=unit,
        probability=share_words(bounds.probability),
        allowed_share=share_words(bounds.allowed_share),
        min_stall_ratio=f"{bounds.min_stall_ratio:.2f}",
        min_height_m=evidence.stated(bounds.min_height_m, "ft"),
    )


def _range(span: Range, scale: Scale, places: int = 0) -> str:
    low, high = (number(x / scale.size, places) for x in span)
    unit = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""
    return f"{low}{unit}" if low == high else tr("{low} to {high}{unit}", low=low, high=high, unit=unit)
