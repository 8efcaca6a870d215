"""The kinds of evidence side by side, and every run with its fit, its strengths of evidence and why they differ."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wringout.briefs.catalogue import marked, said, tr
from wringout.briefs.document import (
    Abreast,
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
from wringout.briefs.evidence import Evidence, RunEvidence, finding_anchor
from wringout.briefs.figures.run_fit import run_figure
from wringout.briefs.numbers import NO_BREAK, amount, count, number, places_for
from wringout.briefs.story.forest import forests
from wringout.briefs.words import capital, short_label
from wringout.methods.types import HandResult
from wringout.units import find_unit

_MOST_BACK = 4


def runs(evidence: Evidence) -> Section:
    """Return what the runs say by kind of evidence; each run stands by itself in :func:`run_by_run`."""
    shared = _shared_sentences(evidence)
    lead = said(
        "What each run says by itself, beside what all of them say together. The runs one by one stand {walk}",
        walk=Words(tr("near the end."), "plain", "run-by-run"),
    )
    blocks: list[Block] = [Paragraph(lead), *forests(evidence)]
    if shared:
        told = tuple(line(Words(f"{title}. ", "strong"), sentence) for title, sentence in shared.values())
        blocks += [Heading(said("What the kinds of evidence are")), Items(told, "remarks")]
    return Section("runs", tr("The runs"), tuple(blocks))


def run_by_run(evidence: Evidence) -> Section:
    """Return every run that was fitted, two abreast: its figure, its strengths of evidence, and what was flagged."""
    shared = {key: sentence for key, (_, sentence) in _shared_sentences(evidence).items()}
    groups = tuple(tuple(_run(evidence, run, shared)) for run in evidence.fitted)
    return Section("run-by-run", tr("Run by run"), (Paragraph(said(_HOW)), Abreast(groups)))


_HOW = marked(
    "Circles are what was read; the line is the joint fit through the run, and below stands "
    "what it leaves over, within a band of twice the noise of a reading. Where readings have "
    "no times, a dash is what the fitted airplane would show. The tables put the strengths "
    "of evidence side by side, strongest first."
)


def _shared_sentences(evidence: Evidence) -> dict[str, tuple[str, str]]:
    """Return, by kind of evidence, its title and the words that its sentences in several runs begin with."""
    seen: dict[str, list[str]] = {}
    titles: dict[str, tuple[int, str]] = {}
    for run in evidence.fitted:
        for result in run.report.results:
            seen.setdefault(result.key, []).append(result.sentence)
            titles[result.key] = (result.strength, result.title)
    out = {}
    for key in sorted(seen, key=lambda k: (titles[k][0], k)):
        shortest = min(seen[key], key=len)
        if len(seen[key]) > 1 and shortest and all(sentence.startswith(shortest) for sentence in seen[key]):
            out[key] = (titles[key][1], shortest)
    return out


def _run(evidence: Evidence, run: RunEvidence, shared: dict[str, str]) -> Iterator[Block]:
    rows = Words(tr("{size} in the tables", size=count(run.fit.observed.size, "reading")), "plain", run.rows_anchor)
    yield Heading(line(Words(run.key, "strong"), f"  {run.title}"), run.anchor)
    source = line(Words(run.report.source.recording, "user"), ", ", rows, ". ")
    yield Paragraph((*source, *_feeds(evidence, run)), "small")
    yield Drawing(run.anchor, run_figure(evidence, run), _spoken(evidence, run))
    if run.report.results:
        yield strengths_table(evidence, run)
        yield Paragraph(line(run.report.why_they_differ), "small")
    told = [*_flags(evidence, run), *_own_sentences(run, shared)]
    if told:
        yield Items(tuple(told), "remarks")


def _own_sentences(run: RunEvidence, shared: dict[str, str]) -> list[Line]:
    """Return what the kinds of evidence say of this run alone, results of the same sentence together."""
    titles: dict[str, list[str]] = {}
    for result in run.report.results:
        own = result.sentence.removeprefix(shared.get(result.key, "")).strip()
        if own:
            titles.setdefault(own, []).append(result.title)
    return [line(f"{capital('; '.join(names))}: ", sentence) for sentence, names in titles.items()]


def _feeds(evidence: Evidence, run: RunEvidence) -> Line:
    """Return the findings that rest on a run, each walking back to where it is said."""
    places: dict[str, str] = {}
    for finding in evidence.content.reduction.findings:
        if run.key in finding.runs:
            places.setdefault(finding_anchor(finding.key), short_label(finding))
    if not places:
        return ()
    out = [Words(tr("Feeds "))]
    for anchor, label in list(places.items())[:_MOST_BACK]:
        out += [Words(", ")] if len(out) > 1 else []
        out.append(Words(label, "plain", anchor))
    more = len(places) - _MOST_BACK
    return (*out, Words(tr(" and {more} more.", more=amount(more)) if more > 0 else "."))


def _spoken(evidence: Evidence, run: RunEvidence) -> str:
    scale = evidence.scale(run.method.observed_unit)
    first, last = run.fit.observed[0] / scale.size, run.fit.observed[-1] / scale.size
    return tr(
        "Run {key}, {title}: {size} from {first} to {last} {symbol}, each with the fitted airplane's value.",
        key=run.key,
        title=run.title,
        size=count(run.fit.observed.size, "reading"),
        first=number(first, 1),
        last=number(last, 1),
        symbol=scale.symbol,
    )


def strengths_table(evidence: Evidence, run: RunEvidence) -> Table:
    """Return every strength of evidence of a run, strongest first, with intervals."""
    columns = (
        Column(tr("Evidence")),
        Column(tr("Value"), number=True),
        Column(f"50{NO_BREAK}%", number=True),
        Column(f"95{NO_BREAK}%", number=True),
    )
    return Table(columns, tuple(_strength(evidence, result) for result in run.report.results))


def _strength(evidence: Evidence, result: HandResult) -> Row:
    unit = find_unit(result.value.unit) if result.value.unit not in ("", "%") else None
    scale = evidence.scale(result.value.unit)
    factor = (1.0 if unit is None else unit.factor) / scale.size
    value, sd = result.value.value * factor, result.value.standard_uncertainty * factor
    places = max(places_for(sd), 0)
    symbol = f"{NO_BREAK}{scale.symbol}" if scale.symbol else ""
    at = (
        ""
        if math.isnan(result.speed_mps)
        else tr(" at {speed_mps} true", speed_mps=evidence.stated(result.speed_mps, "kt"))
    )
    if at.replace(NO_BREAK, " ") in result.title:
        at = ""
    texts = [f"{number(value, places)}{symbol}"]
    for coverage in (0.5, 0.95):  # Student's t where the spread is known from few readings only
        low, high = (bound * factor for bound in result.value.interval(coverage))
        texts.append(tr("{low} to {high}", low=number(low, places), high=number(high, places)))
    title = line(result.title, Words(at, "quiet")) if at else line(result.title)
    return Row((title, *(line(text) for text in texts)))


def _flags(evidence: Evidence, run: RunEvidence) -> list[Line]:
    scale = evidence.scale(run.method.observed_unit)
    out = []
    for flag in run.flags:
        observed = f"{number(flag.observed / scale.size)}{NO_BREAK}{scale.symbol}"
        expected = f"{number((flag.observed - flag.deviation) / scale.size)}{NO_BREAK}{scale.symbol}"
        out.append(
            said(
                "{first} reads {observed} where the curve has {expected}: {abs} standard deviations off. It "
                "is kept and shown, and given almost no weight.",
                first=Words(tr("Row {row}", row=flag.row), "number", run.row_anchor(flag.index)),
                observed=observed,
                expected=expected,
                abs=f"{abs(flag.sds):.0f}",
            )
        )
    return out + [line(evidence.told(exceedance.sentence())) for exceedance in run.report.exceedances]
