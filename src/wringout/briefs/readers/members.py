"""The brief for members: one page, plain words, the answer with its domain, three figures, the cautions."""

from __future__ import annotations

from wringout.briefs.catalogue import tr
from wringout.briefs.content import BriefContent
from wringout.briefs.document import Block, Document, Items, Line, Paragraph, Section, Words, line
from wringout.briefs.evidence import Evidence, gather
from wringout.briefs.readers import pictures
from wringout.briefs.readers.plain_answers import answer_lines, domain_words, threshold_words
from wringout.briefs.story.verdicts import judge_all
from wringout.methods.cautions import CAUTIONS


def members_document(content: BriefContent) -> Document:
    """Return the brief for members.

    Raises:
        BadInputError: a result carries a unit nobody knows.
    """
    evidence = gather(content)
    judgements = judge_all(evidence)
    first, *more = answer_lines(evidence, judgements)
    answer: list[Block] = [
        Paragraph(line(Words(content.question, "user")), "question"),
        Paragraph(line(first), "answer"),
    ]
    answer += [Paragraph(line(sentence)) for sentence in more]
    if judgements:
        said = (domain_words(evidence, judgements[0]), threshold_words(evidence, judgements[0]))
        answer += [Paragraph(line(sentence), "small") for sentence in said]
    sections = (
        Section("answer", tr("The answer"), tuple(answer)),
        Section("figures", tr("What it rests on"), pictures.three(evidence, judgements)),
        Section("cautions", tr("Before anything else"), (Items(caution_lines(evidence), "caution"),)),
        Section("more", tr("Where to look further"), (Paragraph(line(further(evidence)), "small"),)),
    )
    return head(content, tr("Brief for members"), sections)


def caution_lines(evidence: Evidence) -> tuple[Line, ...]:
    """Return the cautions in the brief's units and language."""
    return tuple(line(evidence.limited(caution)) for caution in CAUTIONS)


def further(evidence: Evidence) -> str:
    """Say where the full account is, and how to compute it again."""
    content = evidence.content
    said = tr(
        "The full brief for peers shows every run with its fit, what is in doubt, and what would change the answer."
    )
    if not content.bundle_sha256:
        return said
    again = tr("All numbers can be computed again from the study's bundle ({hash}).", hash=content.bundle_sha256[:16])
    return f"{said} {again}"


def head(content: BriefContent, kind: str, sections: tuple[Section, ...]) -> Document:
    """Return a document for one kind of reader."""
    return Document(
        title=content.title,
        airplane=content.airplane,
        date=content.date,
        version=content.version,
        invented=content.invented,
        paper="a4" if content.units == "metric" else "us-letter",
        sections=sections,
        kind=kind,
        margin=False,
    )
