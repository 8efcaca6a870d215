"""The whole brief in order."""

from __future__ import annotations

from wringout.briefs.catalogue import tr
from wringout.briefs.content import BriefContent
from wringout.briefs.document import Document, Section
from wringout.briefs.evidence import gather
from wringout.briefs.story import changes, closing, findings, lift, opening, pairs, printed, runs, together, verdicts
from wringout.briefs.story.walks import threaded


def build_document(content: BriefContent) -> Document:
    """Return the brief of a study as a document.

    Raises:
        BadInputError: a result carries a unit nobody knows.
    """
    evidence = gather(content)
    judgements = verdicts.judge_all(evidence)
    sections: list[Section | None] = [
        opening.question(evidence),
        opening.answer(evidence, judgements),
        opening.cautions(evidence),
        opening.airplane(evidence),
        opening.method(evidence),
        findings.findings(evidence),
        findings.curves(evidence) if content.reduction.curves else None,
        runs.runs(evidence),
        lift.stalls(evidence),
        lift.travel(evidence),
        findings.knots(evidence),
        verdicts.techniques(evidence, judgements),
        pairs.pairs(evidence),
        printed.printed(evidence),
        together.together(evidence),
        changes.changes(evidence, judgements),
        closing.limits(evidence),
        closing.reproduce(evidence),
        runs.run_by_run(evidence),
        closing.data(evidence),
    ]
    document = Document(
        title=content.title,
        kind=tr("Flight-test brief"),
        airplane=content.airplane,
        date=content.date,
        version=content.version,
        invented=content.invented,
        paper="a4" if content.units == "metric" else "us-letter",
        sections=tuple(section for section in sections if section is not None),
    )
    return threaded(document)
