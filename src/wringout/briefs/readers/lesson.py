"""The lesson sheet for the instructor: aims, briefing, demonstration flight, questions and their answers."""

from __future__ import annotations

from collections.abc import Sequence

from wringout.briefs.catalogue import tr
from wringout.briefs.content import BriefContent
from wringout.briefs.document import Abreast, Block, Document, Heading, Items, Paragraph, Section, Words, line
from wringout.briefs.evidence import Evidence, gather
from wringout.briefs.procedure_words import is_go_around
from wringout.briefs.readers import pictures
from wringout.briefs.readers.members import caution_lines, head
from wringout.briefs.readers.plain_answers import (
    answer_lines,
    compared_lines,
    domain_words,
    drag_lines,
    threshold_words,
)
from wringout.briefs.standings import Judged
from wringout.briefs.story.verdicts import judge_all
from wringout.briefs.words import capital
from wringout.methods.register import method

PAIRS, DRAG = "go around pairs", "level deceleration"
OTHERS = {
    "Loss of power after take-off": "glide",
    "Loss of power on approach": "glide",
    "Slow-down to approach speed": "slow down",
}
SHOWN_BY = (PAIRS, DRAG, *dict.fromkeys(OTHERS.values()))
"""The methods whose card can be the demonstration flight."""


def shown_by(judgements: Sequence[Judged]) -> str:
    """Return the method whose card shows the answer: pairs for a go-around, what fits another procedure, else drag."""
    if not judgements:
        return DRAG
    situation = judgements[0].matchup.situation
    return PAIRS if is_go_around(situation) else OTHERS.get(situation.title, DRAG)


def lesson_document(content: BriefContent) -> Document:
    """Return the lesson sheet.

    Raises:
        BadInputError: a result carries a unit nobody knows.
    """
    evidence = gather(content)
    judgements = judge_all(evidence)
    aims = [
        tr("Say what gear and each flap setting cost in drag, with the interval, and at which speed that holds."),
        tr("Tell a difference that matters from one that is too small to matter."),
        tr("Name the conditions the answer was computed for, and where it ends."),
        tr("Say what the airplane's own approved manual prints for this manoeuvre, and why it comes first."),
    ]
    sections = (
        Section("cautions", tr("Before anything else"), (Items(caution_lines(evidence), "caution"),)),
        Section("aims", tr("Aims"), (Paragraph(line(Words(content.question, "user")), "question"), _items(aims))),
        Section("briefing", tr("Briefing"), _briefing(evidence, judgements)),
        Section("flight", tr("Demonstration flight"), _flight(evidence, judgements)),
        Section("questions", tr("Questions"), (_items([q for q, _ in _asked(evidence, judgements)]),)),
        Section("answers", tr("Answers"), (_items([a for _, a in _asked(evidence, judgements)]),), new_page=True),
    )
    return head(content, tr("Lesson sheet for the instructor"), sections)


def _items(sentences: list[str]) -> Items:
    return Items(tuple(line(sentence) for sentence in sentences), "numbered")


def _briefing(evidence: Evidence, judgements: tuple[Judged, ...]) -> tuple[Block, ...]:
    said = answer_lines(evidence, judgements)
    if judgements:
        said += [domain_words(evidence, judgements[0]), threshold_words(evidence, judgements[0])]
    drawn = tuple((drawing,) for drawing in pictures.three(evidence, judgements)[:2])
    said_lines = tuple(Paragraph(line(sentence)) for sentence in said)
    return (*said_lines, Abreast(drawn)) if drawn else said_lines


def _flight(evidence: Evidence, judgements: tuple[Judged, ...]) -> tuple[Block, ...]:
    """Return the demonstration as the test card of the method that shows the answer."""
    card = method(shown_by(judgements)).card(evidence.content.reduction.beliefs, {})
    parts = (
        (tr("Set up"), card.setup),
        (tr("Fly"), card.steps),
        (tr("Read"), card.readings),
        (tr("Stop when"), card.stop_conditions),
    )
    blocks: list[Block] = [Paragraph(line(tr("The instructor decides whether, where and how this is flown.")))]
    for title, steps in parts:
        blocks += [Heading(line(title)), Items(tuple(line(capital(evidence.limited(step))) for step in steps))]
    return tuple(blocks)


def _asked(evidence: Evidence, judgements: tuple[Judged, ...]) -> list[tuple[str, str]]:
    """Return questions with their answers from this study."""
    found = [(tr("How does the drag of the devices compare?"), " ".join(drag_lines(evidence)))]
    if judgements:
        found += [
            (tr("Did any order come out ahead?"), " ".join(compared_lines(evidence, judgements))),
            (tr("What had to be stated before flying, and what was it?"), threshold_words(evidence, judgements[0])),
            (tr("Where does the answer end?"), domain_words(evidence, judgements[0])),
        ]
    found.append(
        (
            tr("The manual prints another order. What do you fly?"),
            tr(
                "What the approved manual prints. A question about it goes to the holder of the type certificate or "
                "to your instructor."
            ),
        )
    )
    return found
