"""The end of a brief: limits of the study, the readings, and how to compute it again."""

from __future__ import annotations

from wringout.briefs.catalogue import marked, said, tr
from wringout.briefs.document import (
    Abreast,
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
from wringout.briefs.story.pairs import go_arounds_table
from wringout.briefs.together_words import disagreement_sentences
from wringout.briefs.words import capital, device_words, learned_sentence, propeller_caution
from wringout.methods.go_around_pairs.run import GoAroundRun


def limits(evidence: Evidence) -> Section:
    """Return what this study cannot say: what was not identified, what was flagged, limits that were passed."""
    reduction = evidence.content.reduction
    blocks: list[Block] = [Paragraph(line(learned_sentence(reduction.learned)))]
    if reduction.learned:
        blocks.append(
            Drawing(
                "beliefs",
                beliefs_figure(evidence, reduction.learned),
                tr("Each parameter's belief before the runs and after."),
                said(
                    "Pale bar: belief before the runs, 95 %. Line and mark: after. A line as long as its bar "
                    "has learned nothing. Right: the 95 % interval after."
                ),
                anchor="figure-beliefs",
                floats=True,
            )
        )
    lines = _remarks(evidence)
    caution = propeller_caution(reduction)
    if caution:
        lines.insert(0, line(caution))
    blocks.append(Items(tuple(lines)))
    return Section("limits", tr("Limits of the study"), tuple(blocks))


def _remarks(evidence: Evidence) -> list[Line]:
    content, runs = evidence.content, evidence.runs.values()
    out = [_flagged(evidence)]
    out += [
        said(
            "Run {key}: {sentence}",
            key=Words(run.key, "number", run.anchor),
            sentence=evidence.told(exceedance.sentence()),
        )
        for run in runs
        for exceedance in run.report.exceedances
    ]
    out += [
        said("Set aside by hand: {key}.", key=Words(f"{aside.key}, {aside.title}: {aside.reason}", "user"))
        for aside in content.asides
    ]
    out += [
        said(
            "The drag of {device_words} rests on a single run.", device_words=device_words(curve.device, curve.label)[0]
        )
        for curve in content.reduction.curves
        if len(curve.runs) == 1
    ]
    remarks = map(evidence.told, content.reduction.remarks)
    out += [line(sentence) for sentence in (*remarks, *disagreement_sentences(evidence))]
    return [*out, said(_MODEL)]


_MODEL = marked(
    "The model is a point mass with wings level. One airplane with its pilot and its "
    "instruments was flown; another airplane of the type may differ."
)


def _flagged(evidence: Evidence) -> Line:
    """Say how many readings were flagged, and in which runs."""
    flagged = [run for run in evidence.runs.values() if run.flags]
    n = sum(len(run.flags) for run in flagged)
    if not n:
        return said("No reading was flagged.")
    readings = count(n, "reading")
    verb = tr("does not belong to its curve and was") if n == 1 else tr("do not belong to their curves and were")
    links = _run_links(flagged)
    return said(
        "{readings} {verb} given almost no weight; nothing was removed: {links}.",
        readings=capital(readings),
        verb=verb,
        links=tuple(links),
    )


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
            said(
                "Every reading that was used, with its row in the recording. Off: how far the reading "
                "lies from the fit, in standard deviations of a reading. A row in bold was flagged. A "
                "run's name walks back to its figure."
            )
        )
    ]
    groups = tuple((_head(run), _rows(evidence, run)) for run in evidence.fitted)
    blocks += [Abreast(groups, columns=4, flows=True)] if groups else []
    for run in evidence.runs.values():
        if isinstance(run.run, GoAroundRun):
            blocks += [_head(run), go_arounds_table(evidence, run)]
    return Section("data", tr("The readings"), tuple(blocks))


def _head(run: RunEvidence) -> Heading:
    source = Words(run.report.source.recording, "user")
    return Heading(
        said("{key}  {title}, from {source}", key=Words(run.key, "number", run.anchor), title=run.title, source=source),
        run.rows_anchor,
    )


def _rows(evidence: Evidence, run: RunEvidence) -> Table:
    scale = evidence.scale(run.method.observed_unit)
    times = run.times_s
    columns = [Column(tr("Row"), number=True)]
    if times is not None:
        columns.append(Column(tr("Time"), "s", number=True))
    columns += [
        Column(tr("Read"), scale.symbol, number=True),
        Column(tr("Fit"), scale.symbol, number=True),
        Column(tr("Off"), "sd", number=True),
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
    return Table(tuple(columns), tuple(rows))


def reproduce(evidence: Evidence) -> Section:
    """Return what it takes to compute every number again."""
    content = evidence.content
    facts = [(tr("Package"), tr("wringout {version}", version=content.version) if content.version else "")]
    facts.append((tr("Bundle, SHA-256"), content.bundle_sha256))
    seeds = [
        tr("{seed} (draws)", seed=content.reduction.seed),
        *(f"{m.seed} ({tr(m.flown)})" for m in content.matchups),
    ]
    facts.append((tr("Seeds"), ", ".join(seeds)))
    facts.append((tr("Date"), content.date))
    rows = tuple(Row((line(name), line(Words(value, "user")))) for name, value in facts if value)
    blocks: list[Block] = [
        Paragraph(
            said(
                "The bundle holds the airplane file, the recordings as they were taken in, and the "
                "settings. The same bundle, version and seeds give the same numbers. The first command "
                "computes every number of the bundle again and says which differ; the others make this "
                "brief anew."
            )
        ),
        Table((Column(tr("What")), Column(tr("Value"))), rows),
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
        columns = (
            Column(tr("Recording")),
            Column(tr("Rows"), number=True),
            Column(tr("Bytes"), number=True),
            Column(tr("SHA-256")),
        )
        blocks += [Heading(said("Recordings")), Table(columns, listed, wide=True)]
    return Section("reproduce", tr("How to compute it again"), tuple(blocks))
