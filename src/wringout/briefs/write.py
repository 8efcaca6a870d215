"""Write a brief for its reader: HTML pages and PDFs, each put in place whole or not at all."""

from __future__ import annotations

import os
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, get_args

from wringout.briefs.content import BriefContent
from wringout.briefs.html import html_of
from wringout.briefs.pdf import pdf_of
from wringout.briefs.readers.lesson import lesson_document
from wringout.briefs.readers.members import members_document
from wringout.briefs.readers.slides import slides_document
from wringout.briefs.story.build import build_document

HTML_NAME = "brief.html"
PDF_NAME = "brief.pdf"
Reader = Literal["peers", "members", "instructor", "slides"]
READERS: tuple[Reader, ...] = get_args(Reader)
"""Who a brief is for; ``peers`` is the full one."""


@dataclass(frozen=True, slots=True)
class BriefFiles:
    """Where a brief was written."""

    html: Path
    pdf: Path


def write_brief(content: BriefContent, folder: Path) -> BriefFiles:
    """Write the brief of a study into ``folder`` (made if it is not there) as ``brief.html`` and ``brief.pdf``.

    Both are made before either is written, each is renamed into place from a temporary file beside it, and files of
    those names are replaced. The same content gives the same bytes.

    Raises:
        OSError: the folder cannot be written to.
    """
    document = build_document(content)
    page, paper = html_of(document).encode("utf-8"), pdf_of(document)
    folder.mkdir(parents=True, exist_ok=True)
    return BriefFiles(_put(folder / HTML_NAME, page), _put(folder / PDF_NAME, paper))


def write_for(content: BriefContent, reader: Reader, folder: Path) -> tuple[Path, ...]:
    """Write the brief of one reader and return its files: a page and its paper; of slides the paper only.

    Raises:
        OSError: the folder cannot be written to.
    """
    match reader:
        case "peers":
            files = write_brief(content, folder)
            return (files.html, files.pdf)
        case "members":
            document = members_document(content)
            made = {"members.html": html_of(document).encode("utf-8"), "members.pdf": pdf_of(document, "one-page")}
        case "instructor":
            document = lesson_document(content)
            made = {"lesson.html": html_of(document).encode("utf-8"), "lesson.pdf": pdf_of(document)}
        case _:
            made = {"slides.pdf": pdf_of(slides_document(content), "slides")}
    folder.mkdir(parents=True, exist_ok=True)
    return tuple(_put(folder / name, data) for name, data in made.items())


def _put(path: Path, data: bytes) -> Path:
    """Write a file so that it is there whole or not at all."""
    handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
    return path
