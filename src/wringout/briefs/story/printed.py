"""What the airplane's handbooks print for the manoeuvre, cited from the register; the approved manual comes first."""

from __future__ import annotations

from collections.abc import Sequence

from wringout.briefs.catalogue import marked, said, tr
from wringout.briefs.content import PrintedOrder
from wringout.briefs.document import Block, Column, Line, Paragraph, Row, Section, Table, Words, line
from wringout.briefs.evidence import Evidence

DEFERS = marked(
    "The approved manual in the airplane decides what is flown, not this brief and not the "
    "register, which holds what was typed into it. Where the two differ, ask the holder of "
    "the type certificate or your instructor."
)


def printed(evidence: Evidence) -> Section | None:
    """Return what the handbooks print; None where the register has nothing for the airplane."""
    entries = evidence.content.printed
    if not entries:
        return None
    lead = tr(
        "What the handbooks of this airplane print for a go-around or balked landing, as entered in the register."
    )
    blocks: list[Block] = [Paragraph(line(Words(tr(DEFERS), "strong"))), Paragraph(line(lead)), _table(entries)]
    if any(entry.invented for entry in entries):
        blocks.append(Paragraph(said("Entries marked invented were made up; no such handbook exists."), "small"))
    return Section("printed", tr("What the handbooks print"), tuple(blocks))


def _table(entries: Sequence[PrintedOrder]) -> Table:
    columns = (Column(tr("Document")), Column(tr("Where")), Column(tr("Holds for serials")), Column(tr("Prints")))
    return Table(columns, tuple(_row(entry) for entry in entries), wide=True)


def _row(entry: PrintedOrder) -> Row:
    order = line(Words(entry.order, "user"), ".") if entry.order else said("No order.")
    return Row(
        (_document(entry), _or_not_stated(entry.section), _or_not_stated(entry.serials), (*order, *_words(entry)))
    )


def _document(entry: PrintedOrder) -> Line:
    """Cite a document in full."""
    number = said(", part number {number}", number=Words(entry.part_number, "user")) if entry.part_number else ()
    revision = said(", revision {revision}", revision=Words(entry.revision, "user")) if entry.revision else ()
    later = said(" Superseded by {later}.", later=Words(entry.superseded_by, "user")) if entry.superseded_by else ()
    return (
        Words(entry.document, "user"),
        *(number or said(", no part number")),
        *revision,
        *line(f", {entry.date}", tr(" (invented)") if entry.invented else "", "."),
        *later,
    )


def _or_not_stated(text: str) -> Line:
    return line(Words(text, "user")) if text else said("not stated")


def _words(entry: PrintedOrder) -> Line:
    """Return what whoever entered it wrote of it."""
    if not entry.paraphrase:
        return ()
    return said(" In the words of whoever entered it: {words}", words=Words(entry.paraphrase, "user"))
