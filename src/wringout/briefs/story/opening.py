"""The opening: the question, the answer in one sentence, the cautions, and what flew."""

from __future__ import annotations

import numpy as np

from wringout.briefs.catalogue import marked, said, tr
from wringout.briefs.content import KeyFigure
from wringout.briefs.document import (
    Block,
    Column,
    Heading,
    Items,
    Paragraph,
    Row,
    Section,
    Style,
    Table,
    Words,
    line,
)
from wringout.briefs.evidence import Evidence, RunEvidence
from wringout.briefs.numbers import MINUS, count, number
from wringout.briefs.standings import Judged
from wringout.briefs.story.notes import note_of, note_of_runs
from wringout.briefs.story.verdicts import answer_of_matchups
from wringout.briefs.words import area_sentence, listed, ratio_sentence
from wringout.methods.cautions import CAUTIONS

INVENTED = marked(
    "Invented study: the airplane, its recordings and every number that follows were made "
    "up. Nothing here describes an airplane that exists."
)


def question(evidence: Evidence) -> Section:
    """Return the question as it was posed, and the difference that matters."""
    content = evidence.content
    blocks: list[Block] = []
    if content.invented:
        blocks.append(Paragraph(line(Words(tr(INVENTED), "strong")), "small"))
    blocks.append(Paragraph(line(Words(content.question, "user")), "question"))
    if content.difference.strip():
        stated = said(
            "The smallest difference that matters in the cockpit: {difference}. That was stated "
            "before the techniques were flown; anything smaller is not called a win.",
            difference=Words(content.difference, "user"),
        )
        blocks.append(Paragraph(stated))
    return Section("question", tr("The question"), tuple(blocks))


def answer(evidence: Evidence, judgements: tuple[Judged, ...]) -> Section:
    """Return what is known now, sentence first; or what is missing and the next thing to do."""
    blocks = answer_of_matchups(evidence, judgements)
    blocks += _drag_answer(evidence, first=not blocks)
    if not judgements:
        missing = tr("No technique has been compared yet. The next thing to do is to fly the matchup on these results.")
        blocks.append(Paragraph(line(missing)))
    return Section("answer", tr("What is known now"), tuple(blocks))


def _drag_answer(evidence: Evidence, *, first: bool) -> list[Block]:
    style: Style = "answer" if first else "body"
    ratio = evidence.finding("ratio.flaps_gear")
    if ratio is not None:
        label = tr("flaps {name}", name=evidence.content.reduction.beliefs.settings[-1].name)
        return [Paragraph(ratio_sentence(ratio, label, evidence), style, note_of(ratio, evidence))]
    labels = {f"area.{curve.device}.middle": curve.label for curve in evidence.content.reduction.curves}
    found = [f for f in evidence.findings("area.") if f.key in labels]
    if not found:
        return [Paragraph(said(_MISSING_RUNS), style)]
    return [
        Paragraph(area_sentence(f, labels[f.key], evidence), style if i == 0 else "body", note_of(f, evidence))
        for i, f in enumerate(found)
    ]


_MISSING_RUNS = marked(
    "The runs in use do not yet measure the drag of a device. The next thing to do is a level deceleration."
)


def cautions(evidence: Evidence) -> Section:
    """Return the cautions, deferring to the approved manual."""
    lines = tuple(line(evidence.limited(caution)) for caution in CAUTIONS)
    return Section("cautions", tr("Before anything else"), (Items(lines, "caution"),))


def airplane(evidence: Evidence) -> Section:
    """Return the airplane's key figures, the conditions of the flights, and the air and weight of every run."""
    content = evidence.content
    runs = [run for run in evidence.runs.values() if hasattr(run.run, "conditions")]
    lead = said(
        "{airplane}. A value written with ± is a belief before the runs: its middle and one standard deviation.",
        airplane=Words(content.airplane, "user"),
    )
    blocks: list[Block] = [Paragraph(lead)]
    blocks += _facts(content.key_figures)
    if content.conditions:
        blocks += [Heading(said("The flights")), *_facts(content.conditions)]
    if runs:
        blocks += [Heading(said("Air and weight of each run")), _conditions(evidence, runs)]
    return Section("airplane", tr("Airplane and conditions"), tuple(blocks))


def _facts(facts: tuple[KeyFigure, ...]) -> list[Block]:
    """Return facts as a table; a source they all share is said once below it."""
    if not facts:
        return []
    sources = {fact.source for fact in facts if fact.source}
    shared = sources.pop() if len(sources) == 1 else ""
    rows = []
    for fact in facts:
        cells = (line(Words(fact.label, "user")), line(Words(fact.value, "user")))
        rows.append(Row(cells if shared or not sources else (*cells, line(Words(fact.source, "quiet")))))
    columns = (Column(tr("What")), Column(tr("Value")), Column(tr("From")))
    two = len(rows[0].cells) == 2
    table = Table(columns[:2] if two else columns, tuple(rows), abreast=2 if two else 1, wide=two)
    source = said("From: {shared}.", shared=Words(shared, "user"))
    return [table, Paragraph(source, "small")] if shared else [table]


def _conditions(evidence: Evidence, runs: list[RunEvidence]) -> Table:
    length, mass, speed = evidence.scale("ft"), evidence.scale("lb"), evidence.scale("kt")
    columns = (
        Column(tr("Run")),
        Column(tr("What was flown")),
        Column(tr("Pressure altitude"), length.symbol, number=True),
        Column(tr("From standard"), "°C", number=True),
        Column(tr("Weight"), mass.symbol, number=True),
        Column(tr("Entry"), tr("{symbol} indicated", symbol=speed.symbol), number=True),
    )
    rows = []
    for run in runs:
        air = run.run.conditions
        masses = np.unique(np.asarray(getattr(run.run, "mass_kg", air.mass_kg)) / mass.size)
        weight = (
            number(float(masses[0]))
            if masses.size == 1
            else tr("{min} to {max}", min=number(masses.min()), max=number(masses.max()))
        )
        deviation = number(air.isa_deviation_k)
        deviation = deviation if deviation.startswith((MINUS, "0")) else f"+{deviation}"
        entry = number(float(run.fit.observed[0]) / speed.size) if run.report.curve is not None else ""
        rows.append(
            Row(
                (
                    line(Words(run.key, "number", run.anchor)),
                    line(run.title),
                    line(number(air.pressure_altitude_m / length.size)),
                    line(deviation),
                    line(weight),
                    line(entry),
                )
            )
        )
    return Table(columns, tuple(rows), wide=True)


def method(evidence: Evidence) -> Section:
    """Return how it was flown and reduced."""
    reduction = evidence.content.reduction
    groups: dict[str, list[RunEvidence]] = {}
    for run in evidence.runs.values():
        groups.setdefault(evidence.told(run.method.title.lower()), []).append(run)
    flown = listed([f"{name} ({count(len(runs), 'run')})" for name, runs in groups.items()])
    noise = reduction.joint.noise_factor
    wide = [
        tr("{key} {factor} times", key=key, factor=number(factor, 2)) for key, factor in noise.items() if factor > 1.005
    ]
    scatter = (
        tr("The readings scatter more than stated, so the noise was enlarged: {wide}.", wide=listed(wide))
        if wide
        else tr("The readings scatter no more than stated, so the stated noise was kept.")
    )
    blocks: list[Block] = [
        Paragraph(
            said("Flown: {flown}. All runs are fitted together as one airplane.", flown=flown),
            note=note_of_runs(tuple(evidence.runs.values())),
        )
    ]
    if evidence.by_method("level deceleration"):
        blocks.append(
            Paragraph(
                said(
                    "In a level deceleration the power is left alone while a device goes out. What slows the "
                    "airplane is then the drag that was added, so the speed history, through the equation of "
                    "motion, measures a drag area: the drag force over the dynamic pressure. Height gained "
                    "or lost counts as energy."
                )
            )
        )
    blocks.append(Paragraph(line(_fit_words(evidence, scatter))))
    return Section("method", tr("Method"), tuple(blocks))


def _fit_words(evidence: Evidence, scatter: str) -> str:
    reduction = evidence.content.reduction
    readings = sum(run.fit.observed.size for run in evidence.runs.values())
    dial = evidence.stated(reduction.beliefs.instrument.reading_sd_mps, "kt", 1)
    parameters = count(len(reduction.beliefs.parameters), "parameter")
    return tr(
        "One airplane with {parameters} is fitted to {readings} readings by least squares. Each "
        "parameter carries a belief from before the runs; beside it stand the entry speed, the "
        "settling, the clock of the marks and the propeller of every run. A dial reading is "
        "taken as good to {dial} (one standard deviation). {scatter} Intervals come from "
        "{rows} draws of the fitted airplane (seed {seed}).",
        parameters=parameters,
        readings=f"{readings:,}",
        dial=dial,
        scatter=scatter,
        rows=f"{len(reduction.posterior.rows):,}",
        seed=reduction.seed,
    )
