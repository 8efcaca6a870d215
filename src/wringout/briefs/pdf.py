"""The brief on paper: a tagged PDF (PDF/UA-1) set by Typst, with its evidence as side notes.

What users typed reaches Typst only as strings in a JSON file; nothing of it is ever read as markup.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any, Final, Literal

import matplotlib as mpl
import typst

from wringout.briefs.catalogue import language, tr
from wringout.briefs.document import Abreast, Block, Document, Drawing, Line, Mark, Note, Row, Table
from wringout.briefs.house_style import FONT_FOLDER
from wringout.briefs.html import kind_of, strips
from wringout.plain_text import visible

_TEMPLATES: Final = Path(__file__).parent / "templates"
Template = Literal["brief", "one-page", "slides"]
STANDARD: Final = "ua-1"


def pdf_of(document: Document, template: Template = "brief") -> bytes:
    """Return the PDF of a document; the same document gives the same bytes.

    ``brief`` runs over pages, ``one-page`` keeps all on one, ``slides`` gives each section a page of 16 by 9.
    """
    files: dict[str, bytes] = {"main.typ": (_TEMPLATES / f"{template}.typ").read_bytes()}
    data = _document(document, files)
    files["/brief.json"] = json.dumps(data, ensure_ascii=False, sort_keys=True).encode("utf-8")
    made = typst.compile(  # type: ignore[call-overload]  # its annotations leave out the mapping of files
        files, font_paths=_fonts(), ignore_system_fonts=True, format="pdf", pdf_standards=STANDARD, timestamp=0
    )
    return bytes(made)


@cache
def _fonts() -> typst.Fonts:
    """Return the vendored fonts, and behind them the wide one that the drawing library ships for other scripts."""
    wide = Path(mpl.get_data_path()) / "fonts" / "ttf"
    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(FONT_FOLDER), str(wide)]
    )


def _document(document: Document, files: dict[str, bytes]) -> dict[str, Any]:
    by = [document.airplane, document.date, tr("invented") if document.invented else ""]
    running = [
        document.title,
        tr("Invented study") if document.invented else "",
        f"wringout {document.version}" if document.version else "",
    ]
    return {
        "title": visible(document.title),
        "by": " · ".join(visible(part) for part in by if part),
        "running": " · ".join(visible(part) for part in running if part),
        "paper": document.paper,
        "language": language(),
        "kind": visible(document.kind),
        "margin": document.margin,
        "sections": [
            {
                "anchor": section.anchor,
                "title": section.title,
                "new_page": section.new_page,
                "blocks": _spaced(_chained([_block(block, files) for block in section.blocks])),
            }
            for section in document.sections
        ],
    }


_LONGEST_CHAIN = 4


def _chained(blocks: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return blocks with sentences that follow one another, each with its note, joined into chains."""
    out: list[dict[str, Any]] = []
    for block in blocks:
        noted = block["kind"] == "Paragraph" and block["style"] == "body" and block["note"] is not None
        if noted and out and out[-1]["kind"] == "Chain" and len(out[-1]["items"]) < _LONGEST_CHAIN:
            out[-1]["items"].append(block)
        else:
            out.append({"kind": "Chain", "items": [block]} if noted else block)
    return out


def _spaced(blocks: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return blocks in which notes keep their room free where something as wide as the page follows."""
    for i, block in enumerate(blocks):
        before = [one for one in blocks[:i] if not one.get("floats")][-_NEAR:]
        for one in before if block.get("wide") or (block["kind"] == "Abreast" and not block["floats"]) else ():
            one["whole"] = True
    return [{"whole": False, **block} for block in blocks]


_NEAR = 2
"""So many blocks before a wide one may have a note that hangs down to it."""


def _line(one: Line) -> list[dict[str, str]]:
    return [{"text": visible(words.text), "voice": words.voice, "target": words.target} for words in one]


def _block(block: Block, files: dict[str, bytes]) -> dict[str, Any]:
    out: dict[str, Any] = {"kind": kind_of(block)}
    for name in ("style", "anchor"):
        if hasattr(block, name):
            out[name] = getattr(block, name)
    if hasattr(block, "note"):
        out["note"] = _note(block.note, files)
    if hasattr(block, "line"):
        out["line"] = _line(block.line)
    match block:
        case Drawing():
            out |= {"file": _file(block.svg, files), "spoken": visible(block.spoken), "caption": _line(block.caption)}
            out["floats"] = block.floats
        case Table():
            out |= _table(block)
        case Abreast():
            out |= {"columns": block.columns, "flows": block.flows, "floats": block.floats}
            out["groups"] = [[_block(inner, files) for inner in group] for group in block.groups]
    if kind_of(block) == "Items":
        out["lines"] = [_line(one) for one in block.lines]  # type: ignore[union-attr,arg-type]
    if kind_of(block) == "Commands":
        out["lines"] = [visible(str(one)) for one in block.lines]  # type: ignore[union-attr]
    return out


def _table(table: Table) -> dict[str, Any]:
    return {
        "columns": [{"title": c.title, "unit": c.unit, "number": c.number} for c in table.columns],
        "widths": _widths(table),
        "wide": table.wide,
        "strips": [[_row(row) for row in part] for part in strips(table)],
    }


def _row(row: Row) -> dict[str, Any]:
    return {"cells": [_line(cell) for cell in row.cells], "anchor": row.anchor, "stands_out": row.stands_out}


_HEAD = 16
"""Characters of a column's title that stand in one line where a table has the whole page."""


def _widths(table: Table) -> list[int]:
    """Return for each column its width in characters; negative where it shares what is left over, by its length."""
    out = []
    for i, column in enumerate(table.columns):
        words = f"{column.title} {column.unit}".split()
        longest = max((sum(len(w.text) for w in row.cells[i]) for row in table.rows), default=0)
        needed = max([longest, *map(len, words), *([min(len(" ".join(words)), _HEAD)] if table.wide else [])])
        out.append(needed if column.number or needed < 14 else -min(needed, 60))
    if all(width > 0 for width in out):
        return [-width for width in out]
    return out


def _note(note: Note | None, files: dict[str, bytes]) -> dict[str, Any] | None:
    if note is None:
        return None
    return {
        "marks": [_mark(mark, files) for mark in note.marks],
        "more": note.more,
        "lines": [_line(one) for one in note.lines],
    }


def _mark(mark: Mark, files: dict[str, bytes]) -> dict[str, str]:
    return {
        "key": visible(mark.key),
        "spark": _file(mark.spark, files),
        "target": mark.target,
        "spoken": visible(mark.spoken),
    }


def _file(svg: str, files: dict[str, bytes]) -> str:
    """Give an SVG a place among the files of the compilation, the same one for the same drawing."""
    data = svg.encode("utf-8")
    for name, held in files.items():
        if held == data:
            return name
    name = f"/figure-{len(files)}.svg"
    files[name] = data
    return name
