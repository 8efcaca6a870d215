"""The end of a brief: limits of the study, the readings, and how to compute it again."""

from __future__ import annotations

from wringout.briefs.document import (
    Block,
    Column,
    Commands,
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
from wringout.briefs.figures.beliefs import beliefs_figure
from wringout.briefs.numbers import MINUS, count, number
from wringout.briefs.words import learned_sentence


def limits(evidence: Evidence) -> Section:
    """Return what this study cannot say: what was not identified, what was flagged, limits that were passed."""
    reduction = evidence.content.reduction
    blocks: list[Block] = [Paragraph(line(learned_sentence(reduction.learned)))]
    if reduction.learned:
        blocks.append(
            Drawing(
                "beliefs",
                beliefs_figure(evidence, reduction.learned),
                "Each parameter's belief before the runs and after.",
                line(
                    "Pale bar: belief before the runs, 95 %. Line and mark: after. A line as long as its bar has learned "
                    "nothing. Right: the 95 % interval after."
                ),
                anchor="figure-beliefs",
            )
        )
    lines = _remarks(evidence)
    blocks.append(Items(tuple(lines)))
    return Section("limits", "Limits of the study", tuple(blocks))


def _remarks(evidence: Evidence) -> list[Line]:
    content, out = evidence.content, []
    flagged = sum(len(run.flags) for run in evidence.runs.values())
    if flagged:
        first = next(run for run in evidence.runs.values() if run.flags)
        out.append(
            line(
                f"{count(flagged, 'reading')[:1].upper()}{count(flagged, 'reading')[1:]} did not belong to the curve of its run "
                "and was given almost no weight; none was removed: "
                if flagged == 1
                else f"{count(flagged, 'reading')} did not belong to the curves of their runs and were given almost no weight; none was removed: ",
                *_run_links([run for run in evidence.runs.values() if run.flags]),
                ".",
            )
        )
        del first
    else:
        out.append(line("No reading was flagged."))
    for run in evidence.runs.values():
        for exceedance in run.report.exceedances:
            out.append(line("Run ", Words(run.key, "number", run.anchor), f": {exceedance.sentence()}"))
    for aside in content.asides:
        out.append(line("Set aside by hand: ", Words(f"{aside.key}, {aside.title}: {aside.reason}", "user"), "."))
    alone = [c.label for c in content.reduction.curves if len(c.runs) == 1]
    for label in alone:
        out.append(line(f"The drag of {'the gear' if label == 'gear' else label} rests on a single run."))
    out.append(
        line(
            "The airplane is a point mass with wings level; one airplane, its pilot and its instruments were flown. Another "
            "airplane of the type may differ."
        )
    )
    return out


def _run_links(runs: list[RunEvidence]) -> list[Words]:
    out: list[Words] = []
    for run in runs:
        out += [Words(", ")] if out else []
        out.append(Words(run.key, "number", run.anchor))
    return out


def data(evidence: Evidence) -> Section:
    """Return every reading that was used, by run, with its row in the recording."""
    blocks: list[Block] = [
        Paragraph(
            line(
                "Every reading that was used, with its row in the recording. A row in bold was flagged. Press a run's name "
                "to walk back to its figure."
            )
        )
    ]
    for run in evidence.runs.values():
        blocks += [
            Heading(
                line(
                    Words(run.key, "number", run.anchor),
                    f"  {run.title}, from ",
                    Words(run.report.source.recording, "user"),
                ),
                run.rows_anchor,
            ),
            _rows(evidence, run),
        ]
    return Section("data", "The readings", tuple(blocks), new_page=True)


def _rows(evidence: Evidence, run: RunEvidence) -> Table:
    scale = evidence.scale(run.method.observed_unit)
    times = getattr(run.run, "time_s", None)
    columns = [Column("Row", number=True)]
    if times is not None:
        columns.append(Column("Time", "s", number=True))
    columns += [
        Column("Read", scale.symbol, number=True),
        Column("Fit", scale.symbol, number=True),
        Column("Left over", "sd", number=True),
    ]
    places = 0 if scale.symbol not in ("s", "m/s²") else 1
    rows = []
    for k in range(run.fit.observed.size):
        left = float(run.fit.standardised[k])
        cells = [line(str(int(run.run.rows[k])))]
        if times is not None:
            cells.append(line(number(float(times[k]), 0 if abs(times[k] - round(times[k])) < 1e-9 else 1)))
        sign = "+" if left >= 0.05 else MINUS if left <= -0.05 else ""
        cells += [
            line(number(float(run.fit.observed[k]) / scale.size, places)),
            line(number(float(run.fit.predicted[k]) / scale.size, 1)),
            line(f"{sign}{abs(left):.1f}"),
        ]
        rows.append(Row(tuple(cells), run.row_anchor(k), k in run.fit.flagged))
    return Table(tuple(columns), tuple(rows), abreast=3)


def reproduce(evidence: Evidence) -> Section:
    """Return what it takes to compute every number again."""
    content = evidence.content
    facts = [("Package", f"wringout {content.version}" if content.version else "")]
    facts.append(("Bundle, SHA-256", content.bundle_sha256))
    seeds = [f"{content.reduction.seed} (draws)", *(f"{m.seed} ({m.law})" for m in content.matchups)]
    facts.append(("Seeds", ", ".join(seeds)))
    facts.append(("Date", content.date))
    rows = tuple(Row((line(name), line(Words(value, "user")))) for name, value in facts if value)
    blocks: list[Block] = [
        Paragraph(
            line(
                "The bundle holds the airplane file, the recordings as they were taken in, and the settings. The same bundle, "
                "version and seeds give the same numbers."
            )
        ),
        Table((Column("What"), Column("Value")), rows),
    ]
    if content.reproduce:
        blocks.append(Commands(content.reproduce))
    if content.recordings:
        listed = tuple(
            Row(
                (
                    line(Words(r.name, "user")),
                    line(number(r.rows)),
                    line(f"{r.size_bytes:,}"),
                    line(Words(r.sha256, "user")),
                )
            )
            for r in content.recordings
        )
        columns = (Column("Recording"), Column("Rows", number=True), Column("Bytes", number=True), Column("SHA-256"))
        blocks += [Heading(line("Recordings")), Table(columns, listed)]
    return Section("reproduce", "How to compute it again", tuple(blocks))
