"""A brief as a document: sections of blocks, each number with its note, before it becomes HTML or PDF.

Values only. All text is plain text; whoever prints it must not read markup into it. An ``anchor`` names a place in the
document, a ``target`` the anchor a press on the text walks to.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

Voice = Literal["plain", "number", "strong", "quiet", "user"]
"""``number`` is a value with its evidence behind it; ``user`` is text that somebody typed."""


Style = Literal["body", "answer", "question", "small"]
"""How a paragraph is set."""


@dataclass(frozen=True, slots=True)
class Words:
    """A run of text in one voice; ``target`` is the anchor it walks to, or empty."""

    text: str
    voice: Voice = "plain"
    target: str = ""


Line = tuple[Words, ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """A run as a small mark: its spark (SVG), its key, and the anchor of its figure."""

    key: str
    spark: str
    target: str
    spoken: str


@dataclass(frozen=True, slots=True)
class Note:
    """What stands in the margin beside a number: the runs, the method, the interval, and what the doubt is made of."""

    marks: tuple[Mark, ...] = ()
    more: str = ""
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Text. ``answer`` and ``question`` are set large; ``small`` is for remarks."""

    line: Line
    style: Style = "body"
    note: Note | None = None
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading inside a section."""

    line: Line
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A figure: one SVG, what it shows in words for those who cannot see it, and a caption.

    ``floats``: on paper it may go to the head of a page while the text runs on; such a figure has no note.
    """

    name: str
    svg: str
    spoken: str
    caption: Line = ()
    note: Note | None = None
    anchor: str = ""
    floats: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table. ``number`` columns are set with tabular figures, flush right."""

    title: str
    unit: str = ""
    number: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table; ``stands_out`` for one that needs attention, ``anchor`` when something walks to it."""

    cells: tuple[Line, ...]
    anchor: str = ""
    stands_out: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table. ``abreast``: in how many strips side by side it is set; ``wide``: whether it runs into the margin."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    caption: Line = ()
    note: Note | None = None
    anchor: str = ""
    abreast: int = 1
    wide: bool = False


@dataclass(frozen=True, slots=True)
class Items:
    """A list of lines: ``caution`` sets it apart as cautions, ``remarks`` is small, ``numbered`` counts."""

    lines: tuple[Line, ...]
    style: Literal["list", "remarks", "caution", "numbered"] = "list"


@dataclass(frozen=True, slots=True)
class Commands:
    """Commands to type, one a line."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Abreast:
    """Groups of blocks side by side over the whole page, under one another where it is narrow.

    ``flows``: the groups run through the columns as through those of a newspaper; otherwise each row of groups starts
    at one height. ``floats``: on paper they may go to the head of a page while the text runs on.
    """

    groups: tuple[tuple[Block, ...], ...]
    columns: int = 2
    flows: bool = False
    floats: bool = False


Block = Paragraph | Heading | Drawing | Table | Items | Commands | Abreast


@dataclass(frozen=True, slots=True)
class Section:
    """A section; ``new_page`` starts it on a new page on paper."""

    anchor: str
    title: str
    blocks: tuple[Block, ...]
    new_page: bool = False


@dataclass(frozen=True, slots=True)
class Document:
    """The whole brief. ``kind`` is what it is, for its head; ``margin``: whether it keeps a margin for evidence."""

    title: str
    airplane: str
    date: str
    version: str
    invented: bool
    paper: Literal["us-letter", "a4"]
    sections: tuple[Section, ...]
    kind: str = "Flight-test brief"
    margin: bool = True


def every_block(blocks: Iterable[Block]) -> Iterator[Block]:
    """Yield blocks in the order of the document, those that stand abreast each by itself."""
    for block in blocks:
        if isinstance(block, Abreast):
            for group in block.groups:
                yield from every_block(group)
        else:
            yield block


def plain(text: str) -> Words:
    """Return text in the plain voice."""
    return Words(text)


def line(*parts: str | Words) -> Line:
    """Return a line of texts and words."""
    return tuple(Words(part) if isinstance(part, str) else part for part in parts if part != "")


def joined(lines: Iterable[Line], separator: str = " ") -> Line:
    """Return lines joined into one."""
    out: list[Words] = []
    for one in lines:
        if out and one:
            out.append(Words(separator))
        out += one
    return tuple(out)


def text_of(one: Line) -> str:
    """Return a line as bare text."""
    return "".join(words.text for words in one)
