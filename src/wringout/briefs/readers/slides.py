"""Slides for a talk: one thought a slide, each figure large, the answer never without its domain."""

from __future__ import annotations

from dataclasses import replace

from wringout.briefs.catalogue import tr
from wringout.briefs.content import BriefContent
from wringout.briefs.document import Block, Document, Drawing, Items, Paragraph, Section, Words, line
from wringout.briefs.evidence import gather
from wringout.briefs.readers import pictures
from wringout.briefs.readers.members import caution_lines, head
from wringout.briefs.readers.plain_answers import (
    answer_lines,
    domain_words,
    drag_lines,
    law_words,
    threshold_words,
    verdict_words,
)
from wringout.briefs.story.verdicts import judge_all


def slides_document(content: BriefContent) -> Document:
    """Return the slides, one section each.

    Raises:
        BadInputError: a result carries a unit nobody knows.
    """
    evidence = gather(content)
    judgements = judge_all(evidence)
    first, *more = answer_lines(evidence, judgements)
    answer: list[Block] = [Paragraph(line(first), "answer"), *(Paragraph(line(one)) for one in more)]
    if judgements:
        answer.append(Paragraph(line(domain_words(evidence, judgements[0])), "small"))
    out = [
        Section("question", tr("The question"), (Paragraph(line(Words(content.question, "user")), "question"),)),
        Section("cautions", tr("Before anything else"), (Items(caution_lines(evidence)),)),
        Section("answer", tr("The answer"), tuple(answer)),
    ]
    if judgements:
        stated = (threshold_words(evidence, judgements[0]), domain_words(evidence, judgements[0]))
        out.append(Section("stated", tr("What was stated before flying"), tuple(Paragraph(line(s)) for s in stated)))
    drawn: list[tuple[str, Drawing | None]] = [
        (tr("What each device costs"), pictures.drag_picture(evidence, "drag")),
        (tr("Drag over speed"), pictures.curves_picture(evidence, "speed")),
        (tr("Stalls along the flap travel"), pictures.stall_picture(evidence, "stall")),
    ]
    for i, one in enumerate(judgements):
        drawn.append((law_words(one.matchup), pictures.verdict_picture(evidence, one, f"orders-{i}")))
    if judgements:
        drawn.append((tr("In time"), pictures.time_picture(evidence, judgements[0], "time")))
    out += [Section(d.name, title, (d,)) for title, d in drawn if d is not None]
    spoken = {f"orders-{i}": verdict_words(evidence, one) for i, one in enumerate(judgements)}
    out = [
        replace(one, blocks=(Paragraph(line(spoken[one.anchor])), *one.blocks)) if one.anchor in spoken else one
        for one in out
    ]
    again = [Paragraph(line(sentence)) for sentence in drag_lines(evidence)]
    again.append(Paragraph(line(tr("Every number can be computed again from the study's bundle: wringout verify."))))
    if content.bundle_sha256:
        again.append(Paragraph(line(tr("Bundle {hash}", hash=content.bundle_sha256)), "small"))
    return head(content, tr("Slides"), (*out, Section("again", tr("What stays, and how to check it"), tuple(again))))
