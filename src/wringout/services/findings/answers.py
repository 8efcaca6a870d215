"""What a reduction found, in plain sentences: the drag ratio first, then each device, then lift, travel and doubt."""

from __future__ import annotations

from dataclasses import dataclass

from wringout.briefs import words
from wringout.briefs.content import BriefContent
from wringout.briefs.document import Line, text_of
from wringout.briefs.evidence import Evidence, gather
from wringout.briefs.knots_lost import mean_over_runs, ratio_of_losses
from wringout.briefs.numbers import MINUS, NO_BREAK, THIN, number, places_for
from wringout.estimate.reduction import Reduction
from wringout.propagation import Measured

KNOTS_LOST = "knots lost"
WHY_KNOTS_DIFFER = (
    "Knots lost are not a drag: the same force costs more knots at low speed, and how the propeller's pull grows as "
    "the airplane slows decides where the speed settles; so their ratio is not the ratio of the drags."
)


@dataclass(frozen=True, slots=True)
class Sentences:
    """What was found, as plain text: the answer, all that supports it, and what was learned of the beliefs."""

    answer: str
    support: tuple[str, ...]
    learned: str


@dataclass(frozen=True, slots=True)
class KnotsLost:
    """Mean knots lost in the runs of one device alone, kt, with its standard uncertainty."""

    label: str
    mean: Measured
    runs: tuple[str, ...]


def plain_text(line: Line | str) -> str:
    """Return a line as plain text with ordinary blanks and hyphens, so that it can be searched and spoken."""
    text = line if isinstance(line, str) else text_of(line)
    return text.replace(NO_BREAK, " ").replace(THIN, " ").replace(MINUS, "-")


def reduction_sentences(reduction: Reduction, title: str = "", question: str = "") -> Sentences:
    """Say what a reduction found, in aviation units."""
    content = BriefContent(title, question, "", reduction.beliefs.invented, reduction.beliefs.name, reduction)
    evidence = gather(content)
    lines = [
        *_ratio_lines(evidence),
        *_area_lines(evidence, reduction),
        *_lift_lines(evidence, reduction),
        *_travel_lines(evidence),
    ]
    found = [plain_text(line) for line in lines]
    knots = knots_sentence(reduction)
    if knots:
        found.insert(1, knots)
    answer = found[0] if found else "The runs in use say nothing of a device, a stall or a travel time yet."
    kept = [words.learned_sentence(reduction.learned), words.propeller_caution(reduction)]
    return Sentences(answer, tuple(found[1:]), plain_text(" ".join(text for text in kept if text)))


def _ratio_lines(evidence: Evidence) -> list[Line]:
    ratio, interaction = evidence.finding("ratio.flaps_gear"), evidence.finding("interaction.area")
    full = evidence.content.reduction.beliefs.settings[-1].name
    out = [] if ratio is None else [words.ratio_sentence(ratio, f"flaps {full}", evidence)]
    return out if interaction is None else [*out, words.interaction_sentence(interaction, evidence)]


def _area_lines(evidence: Evidence, reduction: Reduction) -> list[Line]:
    out = []
    for curve in reduction.curves:
        finding = evidence.finding(f"area.{curve.device}.middle")
        if finding is not None:
            out.append(words.area_sentence(finding, curve.label, evidence))
    return out


def _lift_lines(evidence: Evidence, reduction: Reduction) -> list[Line]:
    out = []
    for setting in reduction.beliefs.settings:
        finding = evidence.finding(f"stall.{setting.name}")
        if finding is not None:
            out.append(words.stall_sentence(finding, setting.name, evidence))
    lift, drag = evidence.finding("share.lift"), evidence.finding("share.drag")
    settings = reduction.beliefs.settings
    if lift is not None and drag is not None and lift.runs:
        middle = settings[len(settings) // 2].name
        out.append(words.share_sentence(lift, drag, middle, settings[-1].name, evidence))
    return out


def _travel_lines(evidence: Evidence) -> list[Line]:
    keys = ("gear_down_time", "gear_up_time", "flap_down_time", "flap_up_time")
    found = (evidence.finding(key) for key in keys)
    return [words.travel_sentence(finding, evidence) for finding in found if finding is not None]


def knots_lost(reduction: Reduction) -> tuple[KnotsLost, ...]:
    """Return the mean knots lost by the gear and by full flaps, each alone from the clean airplane; not a drag."""
    wanted = {curve.device: curve for curve in reduction.curves}
    full = f"flaps.{reduction.beliefs.settings[-1].name}"
    out = []
    for device in ("gear", full):
        if device not in wanted:
            continue
        found = {
            report.key: result.value
            for report in reduction.reports
            if report.key in wanted[device].runs
            for result in report.results
            if result.key == KNOTS_LOST
        }
        if found:
            out.append(KnotsLost(wanted[device].label, mean_over_runs(list(found.values())), tuple(found)))
    return tuple(out)


def knots_sentence(reduction: Reduction) -> str:
    """Return the ratio of knots lost beside the ratio of the drags with the reason they differ, or nothing."""
    lost = knots_lost(reduction)
    ratio = next((finding for finding in reduction.findings if finding.key == "ratio.flaps_gear"), None)
    if len(lost) < 2 or ratio is None:
        return ""
    gear, flaps = lost
    quotient = ratio_of_losses(flaps.mean, gear.mean)
    if quotient is None:
        return ""
    places = max(places_for(quotient.standard_uncertainty), 1)
    low, high = (number(bound, places) for bound in quotient.interval())
    return plain_text(
        f"In knots lost {flaps.label} look {low} to {high} times as costly as the gear (95 % interval; "
        f"{number(flaps.mean.value)} kt against {number(gear.mean.value)} kt, not a drag); the ratio of the drags is "
        f"{number(ratio.value, 2)}. {WHY_KNOTS_DIFFER}"
    )
