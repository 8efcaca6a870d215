"""What a study says, in plain words for those who do not read intervals every day.

The decisions are those of :mod:`wringout.techniques.judging.verdict`. Every value keeps its 95 % interval; domain and
threshold belong beside the answer (:func:`domain_words`, :func:`threshold_words`). Every sentence goes through the
catalogue.
"""

from __future__ import annotations

from collections.abc import Sequence

from wringout.briefs.catalogue import ntr, tr
from wringout.briefs.evidence import Evidence
from wringout.briefs.numbers import NO_BREAK, Scale, amount, number
from wringout.briefs.procedure_words import during, starting
from wringout.briefs.standings import Judged, Place
from wringout.briefs.story.verdicts import believed_of
from wringout.briefs.verdict_words import quoted, score_places, score_scale, share_words
from wringout.estimate.findings import Finding
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.stated.types import EntryReference, Law, Matchup, Range


def law_words(matchup: Matchup) -> str:
    """Return how the pilot flies, as the start of a sentence: by a law, or as a procedure says."""
    if not matchup.situation.by_law:
        return during(matchup.situation)
    match matchup.law:
        case Law.HOLD_ATTITUDE:
            return tr("When the pilot holds the attitude")
        case Law.HOLD_SPEED:
            return tr("When the pilot holds the speed")
        case _:
            return tr("When the pilot levels first and then climbs")


def verdict_words(evidence: Evidence, judgement: Judged) -> str:
    """Say in one or two sentences what came out under one pilot law."""
    law, orders = law_words(judgement.matchup), judgement.orders
    leader = quoted(orders[0].technique.title)
    held = [place for place in orders[1:] if place.standing.acceptable]
    outcome = judgement.verdict.outcome
    if outcome is Outcome.NOT_ACCEPTABLE and len(orders) == 2:
        return tr("{law}, neither of the two orders is acceptable: each breaks a stated margin too often.", law=law)
    if outcome is Outcome.NOT_ACCEPTABLE:
        return ntr(
            "{law}, the one order that was computed is not acceptable: it breaks a stated margin too often.",
            "{law}, none of the {n} orders is acceptable: each breaks a stated margin too often.",
            len(orders),
            law=law,
        )
    if outcome is Outcome.FAVOURED and len(orders) == 1:
        return tr("{law}, {leader} is the only order that was computed.", law=law, leader=leader)
    if outcome is Outcome.FAVOURED and not held:
        return tr("{law}, only {leader} keeps the stated margins.", law=law, leader=leader)
    if outcome is Outcome.FAVOURED:
        near = max(held, key=lambda place: place.ahead)
        return tr(
            "{law}, {leader} is favoured. The next best, {other}, is behind by {amount} in {score}.",
            law=law,
            leader=leader,
            other=quoted(near.technique.title),
            amount=_behind(evidence, judgement, near),
            score=tr(judgement.score.title),
        )
    return _close(evidence, judgement, law, leader, held)


def _close(evidence: Evidence, judgement: Judged, law: str, leader: str, held: Sequence[Place]) -> str:
    close = [place for place in held if place.technique.key in judgement.verdict.leading]
    behind = [place for place in held if place.technique.key not in judgement.verdict.leading]
    if len(close) == 1:
        other = quoted(close[0].technique.title)
        said = tr("{law}, it is too close to call between {leader} and {other}.", law=law, leader=leader, other=other)
    else:
        said = tr(
            "{law}, it is too close to call between {n} orders, {leader} among them.",
            law=law,
            leader=leader,
            n=amount(len(close) + 1),
        )
    if not behind:
        return said
    worst = min(behind, key=lambda place: place.ahead)
    tail = tr(
        "The worst that keeps the margins, {other}, is behind by {amount} in {score}.",
        other=quoted(worst.technique.title),
        amount=_behind(evidence, judgement, worst),
        score=tr(judgement.score.title),
    )
    return f"{said} {tail}"


def _behind(evidence: Evidence, judgement: Judged, place: Place) -> str:
    scale = score_scale(evidence, judgement)
    value, low, high = (-x / scale.size for x in (place.ahead, place.most[1], place.most[0]))
    places = score_places(high - low)
    unit = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""
    return tr(
        "{value}{unit} (95 %: {low} to {high}{unit})",
        value=number(value, places),
        low=number(low, places),
        high=number(high, places),
        unit=unit,
    )


def domain_words(evidence: Evidence, judgement: Judged) -> str:
    """Say for which conditions the answer was computed."""
    domain = judgement.matchup.domain
    if judgement.matchup.situation.entry_speed.reference is EntryReference.VS0:
        speed = tr("{range} times the stall speed", range=_range(domain.entry_speed, Scale(1.0, ""), 2))
    else:
        speed = tr("{range} calibrated", range=_range(domain.entry_speed, evidence.scale("kt")))
    return tr(
        "Computed for weights of {weight}, pressure altitudes of {height}, {warmth} from standard temperature and "
        "{start}. Outside of that nothing was computed.",
        weight=_range(domain.mass_kg, evidence.scale("lb")),
        height=_range(domain.pressure_altitude_m, evidence.scale("ft")),
        warmth=_range(domain.isa_deviation_k, Scale(1.0, "°C")),
        start=starting(judgement.matchup.situation, speed),
    )


def threshold_words(evidence: Evidence, judgement: Judged) -> str:
    """Say what was stated before flying: what counts as a difference and which margins must hold."""
    bounds, scale = judgement.matchup.thresholds, score_scale(evidence, judgement)
    matters = bounds.difference / scale.size
    unit = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""
    return tr(
        "Stated before flying: an order is favoured when its {score} is better by at least {matters} in {share} of the "
        "cases; it is not acceptable when, in more than {allowed} of them, the speed falls below {ratio} times the "
        "stall speed, the height above the ground below {height}, or a limit speed is exceeded.",
        score=tr(judgement.score.title),
        matters=f"{number(matters, 0 if matters >= 10.0 else 1)}{unit}",
        share=share_words(bounds.probability),
        allowed=share_words(bounds.allowed_share),
        ratio=f"{bounds.min_stall_ratio:.2f}",
        height=evidence.stated(bounds.min_height_m, "ft"),
    )


def _range(span: Range, scale: Scale, places: int = 0) -> str:
    low, high = (number(x / scale.size, places) for x in span)
    unit = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""
    return f"{low}{unit}" if low == high else tr("{low} to {high}{unit}", low=low, high=high, unit=unit)


def ratio_words(evidence: Evidence, finding: Finding, flaps: str) -> str:
    """Say how the drag of full flap compares with that of the gear."""
    shown = evidence.show(finding)
    low, high, where = *shown.most, _where(evidence, finding)
    runs = ntr("{n} run", "{n} runs", len(finding.runs))
    if finding.most[0] > 1.0:
        return tr(
            "Flaps {flaps} make {low} to {high} times the drag of the gear{where} (95 %; {runs}).",
            flaps=flaps,
            low=low,
            high=high,
            where=where,
            runs=runs,
        )
    if finding.most[1] < 1.0:
        return tr(
            "Flaps {flaps} make less drag than the gear: {low} to {high} times as much{where} (95 %; {runs}).",
            flaps=flaps,
            low=low,
            high=high,
            where=where,
            runs=runs,
        )
    return tr(
        "Whether flaps {flaps} or the gear make more drag is too close to call: {low} to {high} times{where} "
        "(95 %; {runs}).",
        flaps=flaps,
        low=low,
        high=high,
        where=where,
        runs=runs,
    )


def area_words(evidence: Evidence, finding: Finding) -> str:
    """Say how much drag a device makes."""
    _, device, *setting = finding.key.split(".")
    shown = evidence.show(finding)
    runs, where = ntr("{n} run", "{n} runs", len(finding.runs)), _where(evidence, finding)
    interval = tr("{low} to {high}{unit}", low=shown.most[0], high=shown.most[1], unit=shown.unit)
    if device == "gear":
        return tr(
            "The gear adds {value} of drag area (95 %: {interval}){where}; {runs}.",
            value=shown.text,
            interval=interval,
            where=where,
            runs=runs,
        )
    return tr(
        "Flaps {setting} add {value} of drag area (95 %: {interval}){where}; {runs}.",
        setting=" ".join(setting[:-1]),
        value=shown.text,
        interval=interval,
        where=where,
        runs=runs,
    )


def _where(evidence: Evidence, finding: Finding) -> str:
    if finding.at_speed_mps is None:
        return ""
    return tr(" at {speed}", speed=evidence.stated(finding.at_speed_mps, "kt"))


def drag_lines(evidence: Evidence) -> list[str]:
    """Return what the runs say of drag: the ratio where there is one, else each device; or what is missing."""
    ratio = evidence.finding("ratio.flaps_gear")
    if ratio is not None:
        return [ratio_words(evidence, ratio, evidence.content.reduction.beliefs.settings[-1].name)]
    middles = {f"area.{curve.device}.middle" for curve in evidence.content.reduction.curves}
    found = [f for f in evidence.findings("area.") if f.key in middles]
    if found:
        return [area_words(evidence, finding) for finding in found]
    return [tr("The runs in use do not yet measure the drag of a device.")]


def compared_lines(evidence: Evidence, judgements: tuple[Judged, ...]) -> list[str]:
    """Return what came out under each pilot law, and what of that was only believed."""
    believed = believed_of(evidence, judgements)
    return [*(verdict_words(evidence, one) for one in judgements), *([believed] if believed else [])]


def answer_lines(evidence: Evidence, judgements: tuple[Judged, ...]) -> list[str]:
    """Return the answer, most important first."""
    if judgements:
        return [*compared_lines(evidence, judgements), *drag_lines(evidence)]
    return [*drag_lines(evidence), tr("No technique has been compared yet, so none is favoured.")]
