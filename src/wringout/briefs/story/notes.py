"""Margin notes: where a number comes from, and what its doubt is made of."""

from __future__ import annotations

from collections.abc import Sequence

from wringout.briefs.catalogue import tr
from wringout.briefs.document import Line, Mark, Note, Words, line
from wringout.briefs.evidence import Evidence, RunEvidence
from wringout.briefs.figures.spark import spark_of
from wringout.briefs.numbers import count
from wringout.briefs.words import capital, doubt_words, prior_words
from wringout.estimate.findings import Finding

MOST_MARKS = 6


def mark_of(run: RunEvidence) -> Mark:
    """Return a run as a mark that walks to its figure."""
    return Mark(run.key, spark_of(run), run.anchor, tr("Run {key}, {title}", key=run.key, title=run.title))


def note_of_runs(runs: Sequence[RunEvidence], *lines: Line) -> Note:
    """Return a note that shows runs and says these lines."""
    more = len(runs) - MOST_MARKS
    said = tr("and {more}", more=count(more, "more run")) if more > 0 else ""
    return Note(tuple(mark_of(run) for run in runs[:MOST_MARKS]), said, tuple(one for one in lines if one))


def note_of(finding: Finding, evidence: Evidence, method: str = "") -> Note:
    """Return the note of a finding: its runs, the method, 50 and 95 % intervals, doubt, and the belief before."""
    shown = evidence.show(finding)
    how = method or tr("joint fit of {count}", count=count(len(evidence.runs), "run"))
    doubt, prior = doubt_words(finding), prior_words(finding, evidence)
    half = tr(
        " 50\N{NO-BREAK SPACE}%: {half}\N{NO-BREAK SPACE}to\N{NO-BREAK SPACE}{half2}{unit}.",
        half=shown.half[0],
        half2=shown.half[1],
        unit=shown.unit,
    )
    lines = [line(f"{capital(how)}.", Words(half, "quiet"))]
    if doubt:
        lines.append(line(Words(tr("Doubt: {doubt}.", doubt=doubt), "quiet")))
    if prior:
        lines.append(line(Words(tr("Before the runs: {prior}.", prior=prior), "quiet")))
    return note_of_runs(evidence.of(finding.runs), *lines)
