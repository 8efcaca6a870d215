"""Stalls and travel times."""

from __future__ import annotations

from wringout.briefs.catalogue import said, tr
from wringout.briefs.document import Block, Column, Drawing, Paragraph, Row, Section, Table, Words, line
from wringout.briefs.evidence import Evidence, finding_anchor
from wringout.briefs.figures.areas import ForestRow, caption_of_weights, forest_figure
from wringout.briefs.figures.stalls import stall_figure
from wringout.briefs.numbers import NO_BREAK, count
from wringout.briefs.story.notes import note_of, note_of_runs
from wringout.briefs.words import doubt_words, share_sentence, travel_sentence
from wringout.estimate.findings import Finding


def stalls(evidence: Evidence) -> Section | None:
    """Return stall speeds per flap setting, and where the flap travel buys lift and drag."""
    found = evidence.findings("stall.")
    lift, drag = evidence.finding("share.lift"), evidence.finding("share.drag")
    if not found:
        return None
    blocks: list[Block] = []
    settings = evidence.content.reduction.beliefs.settings
    if lift is not None and drag is not None:
        middle, full = settings[len(settings) // 2].name, settings[-1].name
        sentence = share_sentence(lift, drag, middle, full, evidence)
        blocks.append(Paragraph(sentence, note=note_of(lift, evidence), anchor=finding_anchor(lift.key)))
    svg = stall_figure(evidence, found, lift, drag)
    caption = said(
        "Left: stall speed at maximum weight and sea level (diamonds, with 50 and 95 % "
        "intervals) and the stalls as read, at the weights flown (circles). Right: how much of "
        "full flap's lift (solid) and drag (dashed) is had along the travel."
    )
    spoken = "; ".join(
        tr("flaps {removeprefix} {full}", removeprefix=_setting(f.key), full=evidence.show(f).full) for f in found
    )
    blocks.append(Drawing("stalls", svg, tr("Stall speeds: {spoken}.", spoken=spoken), caption, anchor="figure-stalls"))
    blocks.append(_stall_table(evidence, found))
    return Section("stalls", tr("Stalls: lift for flap travel"), tuple(blocks))


def _setting(key: str) -> str:
    name = key.removeprefix("stall.")
    return tr("up") if name == "up" else name


def _stall_table(evidence: Evidence, found: tuple[Finding, ...]) -> Table:
    """Return stall speed and CLmax of every setting, each with its 95 % interval."""
    symbol = evidence.scale("kt").symbol
    columns = (
        Column(tr("Flaps")),
        Column(tr("Stall speed"), tr("{symbol} calibrated", symbol=symbol), number=True),
        Column(f"95{NO_BREAK}%", symbol, number=True),
        Column(tr("CLmax"), number=True),
        Column(f"95{NO_BREAK}%", number=True),
    )
    rows = []
    for finding in found:
        name, run = finding.key.removeprefix("stall."), evidence.of(finding.runs)[0]
        speed, lift = evidence.show(finding), evidence.finding(f"cl_max.{name}")
        most = evidence.show(lift) if lift is not None else None
        cells = (
            line(tr("up") if name == "up" else name),
            line(Words(speed.value, "number", run.anchor)),
            said("{most} to {most2}", most=speed.most[0], most2=speed.most[1]),
            line(Words(most.value, "number", run.anchor) if most else ""),
            line(tr("{most} to {most2}", most=most.most[0], most2=most.most[1]) if most else ""),
        )
        rows.append(Row(cells, finding_anchor(finding.key)))
    mass = found[0].at_mass_kg
    where = (
        ""
        if mass is None
        else tr(
            "At {mass} and sea level, power off, entered at {rate}.",
            mass=evidence.stated(mass, "lb"),
            rate=evidence.told(f"1{NO_BREAK}kt/s"),
        )
    )
    doubt = doubt_words(found[0])
    runs = evidence.of([key for finding in found for key in finding.runs])
    note = note_of_runs(
        runs,
        said("Joint fit of {count}.", count=count(len(evidence.runs), "run")),
        line(where),
        line(
            Words(
                tr(
                    "Doubt, flaps {removeprefix}: {doubt}.",
                    removeprefix=_setting(found[0].key),
                    doubt=doubt,
                ),
                "quiet",
            )
        )
        if doubt
        else (),
    )
    return Table(columns, tuple(rows), note=note)


_TRAVELS = ("gear_down_time", "gear_up_time", "flap_down_time", "flap_up_time")


def travel(evidence: Evidence) -> Section | None:
    """Return travel times of gear and flaps."""
    found = [f for key in _TRAVELS if (f := evidence.finding(key)) is not None]
    if not found:
        return None
    rows = [ForestRow(f.label, "", f.value, f.half, f.most, f.key, True, f.prior_most) for f in found]
    svg = forest_figure(evidence, "travel", rows, "s", tr("time of travel"))
    blocks: list[Block] = [
        Drawing(
            "travel",
            svg,
            "; ".join(f"{f.label} {evidence.show(f).full}" for f in found),
            said(
                "{caption_of_weights} Pale bar: what was believed before the timings, 95 %.",
                caption_of_weights=caption_of_weights(),
            ),
            note_of(found[0], evidence, tr("stop-watch timings within the joint fit")),
            "figure-travel",
        )
    ]
    blocks += [Paragraph(travel_sentence(f, evidence), anchor=finding_anchor(f.key)) for f in found]
    return Section("travel", tr("Travel times"), tuple(blocks))
