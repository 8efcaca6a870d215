"""The thread from number to run to rows and back: every walk made to lead somewhere else than where it starts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from wringout.briefs.document import (
    Abreast,
    Block,
    Document,
    Drawing,
    Heading,
    Items,
    Line,
    Note,
    Paragraph,
    Table,
    every_block,
)


def anchors(document: Document) -> Iterator[str]:
    """Yield every anchor of a document."""
    for section in document.sections:
        yield section.anchor
        for block in every_block(section.blocks):
            if isinstance(block, Paragraph | Heading | Drawing | Table) and block.anchor:
                yield block.anchor
            if isinstance(block, Table):
                yield from (row.anchor for row in block.rows if row.anchor)


def threaded(document: Document) -> Document:
    """Return the document with its walks threaded.

    A number in the sentence that states it walks on to the first run behind it; a walk to a place that is not in this
    brief is taken out, and its words stay.
    """
    known = frozenset(anchors(document))
    return replace(
        document,
        sections=tuple(
            replace(section, blocks=tuple(_block(block, known) for block in section.blocks))
            for section in document.sections
        ),
    )


def _block(block: Block, known: frozenset[str]) -> Block:
    match block:
        case Paragraph():
            onward = block.note.marks[0].target if block.note and block.note.marks else ""
            return replace(block, line=_line(block.line, known, block.anchor, onward), note=_note(block.note, known))
        case Heading():
            return replace(block, line=_line(block.line, known))
        case Drawing():
            return replace(block, caption=_line(block.caption, known), note=_note(block.note, known))
        case Table():
            rows = tuple(
                replace(row, cells=tuple(_line(cell, known, row.anchor) for cell in row.cells)) for row in block.rows
            )
            return replace(block, rows=rows, caption=_line(block.caption, known), note=_note(block.note, known))
        case Items():
            return replace(block, lines=tuple(_line(one, known) for one in block.lines))
        case Abreast():
            groups = tuple(tuple(_block(inner, known) for inner in group) for group in block.groups)
            return replace(block, groups=groups)
        case _:
            return block


def _note(note: Note | None, known: frozenset[str]) -> Note | None:
    if note is None:
        return None
    return replace(note, lines=tuple(_line(one, known) for one in note.lines))


def _line(one: Line, known: frozenset[str], here: str = "", onward: str = "") -> Line:
    out = []
    for words in one:
        target = onward if here and words.target == here else words.target
        out.append(replace(words, target=target if target in known else ""))
    return tuple(out)
