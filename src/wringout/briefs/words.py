"""Sentences made from numbers, with care: what was measured, within which bounds, and no more than that.

Every estimate carries its 95 % interval and unit; every claim about techniques carries its domain and its threshold;
where the interval does not decide, the sentence says "too close to call".
"""

from __future__ import annotations

from collections.abc import Sequence

from wringout.briefs.catalogue import foreign, marked, said, tr
from wringout.briefs.document import Line, Words, line
from wringout.briefs.evidence import Evidence, finding_anchor
from wringout.briefs.numbers import NO_BREAK, Shown, amount, count
from wringout.estimate.findings import Finding
from wringout.estimate.posterior import Learned
from wringout.estimate.reduction import Reduction

TOO_CLOSE = marked("too close to call")


def number_word(text: str, key: str) -> Words:
    """Return a number that walks to its finding."""
    return Words(text, "number", finding_anchor(key))


def listed(parts: Sequence[str]) -> str:
    """Return "a", "a and b" or "a, b and c"."""
    if len(parts) < 2:
        return "".join(parts)
    return tr("{first} and {last}", first=", ".join(parts[:-1]), last=parts[-1])


def listed_labels(labels: Sequence[str], most: int = 0) -> str:
    """Return labels in a sentence: "flap travel (up to full) and rated power"; beyond ``most`` how many more there are.

    What stands behind a comma in a label goes in brackets, so that the commas of the sentence part the labels.
    """
    plain = [f"{head} ({tail})" if tail else head for head, _, tail in (label.partition(", ") for label in labels)]
    if 0 < most < len(plain):
        plain = [*plain[:most], tr("{most} more", most=amount(len(plain) - most))]
    return listed(plain)


def where_words(finding: Finding, evidence: Evidence) -> str:
    """Return the speed and mass a finding holds at, such as " at 95 kt calibrated and 2,950 lb", or nothing."""
    parts = []
    if finding.at_speed_mps is not None:
        parts.append(tr("{at_speed_mps} calibrated", at_speed_mps=evidence.stated(finding.at_speed_mps, "kt")))
    if finding.at_mass_kg is not None:
        parts.append(evidence.stated(finding.at_mass_kg, "lb"))
    return tr(" at {parts}", parts=listed(parts)) if parts else ""


def runs_words(finding: Finding) -> str:
    """Return how many runs a finding rests on, or that it is a belief."""
    return count(len(finding.runs), "run") if finding.runs else tr("no run, so this is a belief")


def device_words(device: str, label: str) -> tuple[str, str]:
    """Return a device as the subject of a sentence, and "s" or "" for its verb.

    ``device`` is its key, such as "gear" or "flaps.full"; ``label`` what it is called.
    """
    return (tr("the gear"), "s") if device == "gear" else (label, "")


def short_label(finding: Finding) -> str:
    """Return a finding's name for a list of links."""
    match finding.key.split("."):
        case ["area", *device, "middle"]:
            return tr(
                "drag of {device}",
                device=foreign(device[0], ()) if len(device) == 1 else tr("flaps {name}", name=device[1]),
            )
        case ["area", *_]:
            return tr("all drag areas")
        case ["share", *_]:
            return tr("lift and drag along the flap travel")
    return finding.label


def capital(text: str) -> str:
    """Return text with its first letter as a capital."""
    return f"{text[:1].upper()}{text[1:]}"


def area_sentence(finding: Finding, label: str, evidence: Evidence) -> Line:
    """Say how much drag area a device adds."""
    name, ending = device_words(finding.key.split(".")[1], label)
    shown = evidence.show(finding)
    return said(
        "{first}{text} of drag area (95\N{NO-BREAK SPACE}%: {interval}){where_words}; {runs_words}.",
        first=Words(tr("{name} add{ending} ", name=capital(name), ending=ending)),
        text=number_word(shown.text, finding.key),
        interval=shown.interval,
        where_words=where_words(finding, evidence),
        runs_words=runs_words(finding),
    )


def ratio_sentence(finding: Finding, label: str, evidence: Evidence) -> Line:
    """Say how the drag of full flap compares with that of the gear."""
    shown, where = evidence.show(finding), where_words(finding, evidence)
    low, high = finding.most
    interval = number_word(tr("{most} to {most2}", most=shown.most[0], most2=shown.most[1]), finding.key)
    if low > 1.0:
        tail = tr(
            " times the drag of the gear{where} (95\N{NO-BREAK SPACE}% interval; {runs_words}).",
            where=where,
            runs_words=runs_words(finding),
        )
        return said("{label} cost {interval}{tail}", label=capital(label), interval=interval, tail=tail)
    if high < 1.0:
        tail = tr(
            " times the drag of the gear, less than the gear,{where} (95\N{NO-BREAK SPACE}% interval; {runs_words}).",
            where=where,
            runs_words=runs_words(finding),
        )
        return said("{label} cost {interval}{tail}", label=capital(label), interval=interval, tail=tail)
    return said(
        "Whether {label} or the gear cost more drag{where} is too close to call: the ratio is "
        "{interval} (95\N{NO-BREAK SPACE}% interval; {runs_words}).",
        label=label,
        where=where,
        interval=interval,
        runs_words=runs_words(finding),
    )


def interaction_sentence(finding: Finding, evidence: Evidence) -> Line:
    """Say whether gear and flaps add."""
    shown, where = evidence.show(finding), where_words(finding, evidence)
    low, high = finding.most
    rests = (
        tr("; {runs_words} with both out", runs_words=runs_words(finding))
        if finding.runs
        else tr("; no run with both out, so this is a belief")
    )
    if low <= 0.0 <= high:
        return said(
            "Whether the drag of gear and flaps simply adds is too close to call{where}: together "
            "they differ from their sum by {text} (95\N{NO-BREAK SPACE}%: {interval}){rests}.",
            where=where,
            text=number_word(shown.text, finding.key),
            interval=shown.interval,
            rests=rests,
        )
    less = high < 0.0
    size = _magnitude(finding, evidence) if less else shown
    return said(
        "Gear and flaps do not simply add: together they have {text} {part} than their sum "
        "(95\N{NO-BREAK SPACE}%: {interval}){where}{rests}.",
        text=number_word(size.text, finding.key),
        part=tr("less") if less else tr("more"),
        interval=size.interval,
        where=where,
        rests=rests,
    )


def _magnitude(finding: Finding, evidence: Evidence) -> Shown:
    """Return a negative finding as its size, low end first."""
    shown = evidence.show(finding)

    def bare(text: str) -> str:
        return text.lstrip("\N{MINUS SIGN}")

    return Shown(
        bare(shown.value),
        (bare(shown.half[1]), bare(shown.half[0])),
        (bare(shown.most[1]), bare(shown.most[0])),
        shown.symbol,
    )


def stall_sentence(finding: Finding, setting: str, evidence: Evidence) -> Line:
    """Say the stall speed of a flap setting."""
    shown = evidence.show(finding)
    mass = (
        ""
        if finding.at_mass_kg is None
        else tr(" at {at_mass_kg}", at_mass_kg=evidence.stated(finding.at_mass_kg, "lb"))
    )
    return said(
        "With flaps {setting}, power off, the stall is read at {text} calibrated{mass} and sea "
        "level, entered at {rate} (95\N{NO-BREAK SPACE}%: {interval}; {runs_words}).",
        setting=setting,
        text=number_word(shown.text, finding.key),
        mass=mass,
        rate=evidence.told(f"1{NO_BREAK}kt/s"),
        interval=shown.interval,
        runs_words=runs_words(finding),
    )


def share_sentence(lift: Finding, drag: Finding, middle: str, full: str, evidence: Evidence) -> Line:
    """Say which part of the flap travel buys lift and which buys drag."""
    of_lift, of_drag = _percent(lift), _percent(drag)
    start = said(
        "At {middle} the flaps have {first} of the lift that {full} gives and {second} of its drag "
        "(95\N{NO-BREAK SPACE}% intervals; {count}): ",
        middle=middle,
        first=number_word(
            tr("{of_lift} to {of_lift2}\N{NO-BREAK SPACE}%", of_lift=of_lift[0], of_lift2=of_lift[1]), lift.key
        ),
        full=full,
        second=number_word(
            tr("{of_drag} to {of_drag2}\N{NO-BREAK SPACE}%", of_drag=of_drag[0], of_drag2=of_drag[1]), drag.key
        ),
        count=count(len(evidence.of(lift.runs)), "run"),
    )
    if lift.most[0] > drag.most[1]:
        end = tr(
            "the travel up to {middle} buys mostly lift, the travel from {middle} to {full} mostly drag.",
            middle=middle,
            full=full,
        )
    elif lift.most[1] < drag.most[0]:
        end = tr(
            "the travel up to {middle} buys mostly drag, the travel from {middle} to {full} mostly lift.",
            middle=middle,
            full=full,
        )
    else:
        end = tr("which part of the travel buys lift and which drag is too close to call.")
    return (*start, Words(end))


def _percent(finding: Finding) -> tuple[str, str]:
    return f"{100.0 * finding.most[0]:.0f}", f"{100.0 * finding.most[1]:.0f}"


def travel_sentence(finding: Finding, evidence: Evidence) -> Line:
    """Say how long a device travels."""
    shown = evidence.show(finding)
    return line(
        f"{capital(finding.label)}: ",
        number_word(shown.text, finding.key),
        f" (95{NO_BREAK}%: {shown.interval}; {runs_words(finding)}{(tr(' of timings') if finding.runs else '')}).",
    )


def doubt_words(finding: Finding, most: int = 3) -> str:
    """Return what a finding's doubt is made of, largest shares first, or nothing when it is not known."""
    parts = [
        f"{name} {100.0 * share:.0f}{NO_BREAK}%"
        for name, share in sorted(finding.shares.items(), key=lambda item: (-item[1], item[0]))
        if share >= 0.05
    ]
    return listed(parts[:most])


def prior_words(finding: Finding, evidence: Evidence) -> str:
    """Return the 95 % interval believed before the runs, or nothing when none is known."""
    if finding.prior_most is None:
        return ""
    low, high = finding.prior_most
    shown = evidence.show(
        Finding(
            finding.key,
            finding.label,
            finding.unit,
            0.5 * (low + high),
            (low, high),
            (low, high),
            None,
            None,
            None,
            (),
            {},
        )
    )
    return shown.interval


def learned_sentence(learned: Sequence[Learned]) -> str:
    """Say how many parameters the runs measured and sharpened, and which are still what was believed before."""
    measured, sharpened, left = (
        [item.label for item in learned if item.verdict == verdict]
        for verdict in ("measured", "sharpened", "still the prior")
    )
    moved = tr(
        "Of the airplane's {count} these runs measured {measured} and sharpened {sharpened}.",
        count=count(len(learned), "parameter"),
        measured=_amount(measured),
        sharpened=_amount(sharpened),
    )
    if not left:
        return moved
    return tr(
        "{moved} These runs say nothing of {listed_labels}; what was believed before stands.",
        moved=moved,
        listed_labels=listed_labels(left),
    )


TEACHES_THE_PROPELLER = ("out and back", "level acceleration", "level power")
"""Methods that tell how thrust changes with speed, or need not know it."""


def propeller_caution(reduction: Reduction) -> str | None:
    """Say that flap drag leans on a belief about the propeller, where no run tells how its pull grows at low speed."""
    devices = [curve.device for curve in reduction.curves]
    taught = "gear" in devices or any(report.method in TEACHES_THE_PROPELLER for report in reduction.reports)
    if taught or not devices:
        return None
    return tr(
        "No run here tells how the propeller's pull grows as the airplane slows: a gear run or "
        "an out-and-back pair would. The flaps' drag at the slow end of their runs leans on what "
        "was believed of it, and the interval may be too narrow there."
    )


def _amount(labels: Sequence[str]) -> str:
    return amount(len(labels)) if labels else tr("none")
