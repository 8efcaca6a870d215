"""Go-arounds flown in pairs at altitude: which technique was ahead, by how much, and what chance could do."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wringout.briefs.catalogue import marked, said, tr
from wringout.briefs.document import (
    Block,
    Column,
    Drawing,
    Heading,
    Items,
    Line,
    Paragraph,
    Row,
    Section,
    Table,
    Words,
    line,
)
from wringout.briefs.evidence import Evidence, RunEvidence
from wringout.briefs.figures.areas import caption_of_weights
from wringout.briefs.figures.pairs import pairs_figure
from wringout.briefs.numbers import count, number
from wringout.briefs.story.notes import note_of_runs
from wringout.briefs.story.runs import strengths_table
from wringout.methods.go_around_pairs.run import GoAroundRun
from wringout.methods.types import HandResult


def flown_pairs(evidence: Evidence) -> tuple[RunEvidence, ...]:
    """Return the runs of go-around pairs."""
    return tuple(run for run in evidence.runs.values() if isinstance(run.run, GoAroundRun))


def pairs(evidence: Evidence) -> Section | None:
    """Return the go-arounds flown in pairs; None without any."""
    runs = flown_pairs(evidence)
    if not runs:
        return None
    blocks: list[Block] = []
    for run in runs:
        blocks += _run(evidence, run)
    blocks.append(Paragraph(said(_APART), "small"))
    return Section("pairs", tr("Go-arounds flown in pairs"), tuple(blocks))


_APART = marked(
    "These go-arounds are not part of the joint fit: they check what the fitted airplane "
    "says of the techniques, so they must not have shaped it. They were flown at altitude, "
    "against a hard deck."
)


def _run(evidence: Evidence, run: RunEvidence) -> Iterator[Block]:
    flown: GoAroundRun = run.run
    source = line(Words(run.report.source.recording, "user"))
    rows = line(
        Words(tr("{size} in the tables", size=count(flown.pair.size, "go-around")), "number", run.rows_anchor), "."
    )
    note = note_of_runs((run,), source, rows)
    yield Heading(line(Words(run.key, "strong"), f"  {run.title}"), run.anchor)
    chosen = _of_score(run.report.results, flown.chosen)
    if not chosen:
        yield Paragraph(said("Fewer than two complete pairs were read, so nothing is compared yet."), note=note)
        return
    yield Paragraph(line(f"{chosen[0].title.partition(',')[0]}. {chosen[0].sentence}"), note=note)
    place_of = [score.key for score in flown.score_list].index(flown.chosen)
    svg = pairs_figure(evidence, flown, place_of, chosen[0], f"pairs-{run.number}")
    spoken = tr("{title}, pair by pair, with the mean.", title=chosen[0].title)
    caption = said("Circles: each pair as flown. {caption_of_weights}", caption_of_weights=caption_of_weights())
    yield Drawing(f"pairs-{run.number}", svg, spoken, caption)
    yield strengths_table(evidence, run)
    others = [result for result in run.report.results if result.strength == 1 and result not in chosen]
    if others:
        yield Items(tuple(line(f"{result.title}: ", result.sentence) for result in others), "remarks")


def _of_score(results: tuple[HandResult, ...], score: str) -> list[HandResult]:
    return [result for result in results if result.key.startswith(f"{score},")]


def go_arounds_table(evidence: Evidence, run: RunEvidence) -> Table:
    """Return every go-around of a run as it was read, with its row in the recording."""
    flown: GoAroundRun = run.run
    speed = evidence.scale("kt")
    scales = [evidence.scale(score.unit) for score in flown.score_list]
    columns = [Column(tr("Row"), number=True), Column(tr("Pair")), Column(tr("Technique"))]
    columns.append(Column(tr("Entry"), tr("{symbol} indicated", symbol=speed.symbol), number=True))
    columns += [
        Column(tr(score.title), scale.symbol, number=True)
        for score, scale in zip(flown.score_list, scales, strict=True)
    ]
    rows = []
    for i in range(flown.pair.size):
        cells: list[Line] = [
            line(str(int(flown.flown_rows[i]))),
            line(Words(flown.pairs[int(flown.pair[i])], "user")),
            line(Words(flown.techniques[int(flown.technique[i])], "user")),
            line(_cell(float(flown.entry_ias_mps[i]) / speed.size, 0)),
        ]
        cells += [
            line(_cell(float(flown.scores[i, j]) / scale.size, 1 if scale.symbol == "s" else 0))
            for j, scale in enumerate(scales)
        ]
        rows.append(Row(tuple(cells), run.row_anchor(i)))
    return Table(tuple(columns), tuple(rows), wide=True)


def _cell(value: float, places: int) -> str:
    return number(value, places) if math.isfinite(value) else ""
