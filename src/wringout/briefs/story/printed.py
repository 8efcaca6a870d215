"""What the airplane's handbooks print for the manoeuvre, cited from the register; the approved manual comes first."""

from __future__ import annotations

from collections.abc import Sequence

from wringout.briefs.content import PrintedOrder
from wringout.briefs.document import Block, Column, Paragraph, Row, Section, Table, Words, line
from wringout.briefs.evidence import Evidence

DEFERS = (
    "The approved manual in the airplane decides what is flown, not this brief and not the register, which holds what "
    "was typed into it. Where the two differ, ask the holder of the type certificate or your instructor."
)


def printed(evidence: Evidence) -> Section | None:
    """Return what the handbooks print; None where the register has nothing for the airplane."""
    entries = evidence.content.printed
    if not entries:
        return None
    lead = "What the handbooks of this airplane print for a go-around or balked landing, as entered in the register."
    blocks: list[Block] = [Paragraph(line(Words(DEFERS, "strong"))), Paragraph(line(lead)), _table(entries)]
    if any(entry.invented for entry in entries):
        blocks.append(Paragraph(line("Entries marked invented were made up; no such handbook exists."), "small"))
    return Section("printed", "What the handbooks print", tuple(blocks))


def _table(entries: Sequence[PrintedOrder]) -> Table:
    columns = (Column("Document"), Column("Where"), Column("Holds for serials"), Column("Prints"))
    return Table(columns, tuple(_row(entry) for entry in entries), wide=True)


def _row(entry: PrintedOrder) -> Row:
    number = f", part number {entry.part_number}" if entry.part_number else ", no part number"
    revision = f"revision {entry.revision}, " if entry.revision else ""
    later = f". Superseded by {entry.superseded_by}" if entry.superseded_by else ""
    order = entry.order or "no order"
    said = f" In the words of whoever entered it: {entry.paraphrase}" if entry.paraphrase else ""
    invented = " (invented)" if entry.invented else ""
    return Row(
        (
            line(Words(f"{entry.document}{number}, {revision}{entry.date}", "user"), f"{invented}{later}."),
            line(Words(entry.section, "user") if entry.section else "not stated"),
            line(Words(entry.serials, "user")),
            line(Words(order, "user"), ".", Words(said, "quiet") if said else ""),
        )
    )
