"""The brief as one HTML page that needs nothing but itself: styles, fonts and figures are inside, no script."""

from __future__ import annotations

import base64
import html
from functools import cache
from pathlib import Path
from typing import Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from wringout.briefs.catalogue import language, marked, tr
from wringout.briefs.document import Block, Document, Drawing, Line, Mark, Row, Table, Words, text_of
from wringout.briefs.house_style import FONT_FOLDER, SANS, SERIF, themed
from wringout.plain_text import visible

_TEMPLATES: Final = Path(__file__).parent / "templates"
_FACES: Final = (
    (SERIF, 400, "normal", "Literata-Regular"),
    (SERIF, 400, "italic", "Literata-Italic"),
    (SERIF, 600, "normal", "Literata-SemiBold"),
    (SANS, 400, "normal", "OpenSans-Regular"),
    (SANS, 600, "normal", "OpenSans-SemiBold"),
)

MADE_BY: Final = marked(
    "Made by {program}. It describes what was measured within stated bounds and is no advice for use in flight; the "
    "airplane's approved manual comes first."
)

_WORDS: Final = (marked("Contents"), marked("Evidence"), marked("Table"))
"""Words of the template itself."""

_LONGEST_WORD: Final = 20
"""A longer word in a table is broken anywhere; a shorter one keeps its column wide enough for it."""


def html_of(document: Document) -> str:
    """Return the page of a document; the same document gives the same text."""
    return _environment().get_template("brief.html.j2").render(d=document, style=Markup(_style()))  # noqa: S704


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES), autoescape=True, undefined=StrictUndefined, auto_reload=False
    )
    environment.filters["visible"] = visible
    environment.globals.update(
        said=_said,
        spark=_spark,
        picture=_picture,
        strips=strips,
        kind_of=kind_of,
        is_long=_is_long,
        tr=tr,
        language=language,
        made_by=MADE_BY,
    )
    return environment


@cache
def _style() -> str:
    """Return the style sheet with the fonts inside."""
    faces = "".join(
        f'@font-face{{font-family:"{family}";font-weight:{weight};font-style:{style};font-display:swap;'
        f"src:url(data:font/woff2;base64,{_base64(name)}) format('woff2')}}\n"
        for family, weight, style, name in _FACES
    )
    return faces + (_TEMPLATES / "brief.css").read_text(encoding="utf-8")


def _base64(name: str) -> str:
    return base64.b64encode((FONT_FOLDER / f"{name}.woff2").read_bytes()).decode("ascii")


def _said(words: Words) -> str:
    return visible(words.text)


def _spark(mark: Mark) -> Markup:
    svg = themed(mark.spark)
    return Markup(svg.replace("<svg ", '<svg aria-hidden="true" ', 1))  # noqa: S704


def _picture(drawing: Drawing) -> Markup:
    spoken = html.escape(visible(drawing.spoken), quote=True)
    return Markup(themed(drawing.svg).replace("<svg ", f'<svg role="img" aria-label="{spoken}" ', 1))  # noqa: S704


def _is_long(cell: Line) -> bool:
    """Return whether a cell holds a word, such as a hash, that must be broken to fit a column."""
    return max(map(len, text_of(cell).split()), default=0) > _LONGEST_WORD


def strips(table: Table) -> list[tuple[Row, ...]]:
    """Return a table's rows cut into the strips that stand side by side; short tables stay whole."""
    n = len(table.rows)
    if table.abreast == 1 or n < 6:
        return [table.rows]
    height = -(-n // table.abreast)
    return [table.rows[i : i + height] for i in range(0, n, height)]


def kind_of(block: Block) -> str:
    """Return the name of a block's kind."""
    return type(block).__name__
