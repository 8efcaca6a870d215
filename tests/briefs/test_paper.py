"""The PDF and the files on disk."""

from __future__ import annotations

import re
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import typst
from pypdf import PdfReader

from tests.briefs import study
from tests.briefs.test_page import hostile
from wringout.briefs import pdf, write
from wringout.briefs.pdf import pdf_of
from wringout.briefs.story.build import build_document
from wringout.briefs.write import write_brief
from wringout.plain_text import visible


def reader(content: Any) -> PdfReader:
    return PdfReader(BytesIO(pdf_of(build_document(content))))


@cache
def full() -> PdfReader:
    return reader(study.content())


def words_of(paper: PdfReader) -> str:
    return "".join("".join(page.extract_text() for page in paper.pages).split())


def squeezed(text: str) -> str:
    return "".join(text.split())


def test_the_paper_holds_the_whole_story() -> None:
    text = words_of(full())
    document = build_document(study.content())
    for section in document.sections:
        assert squeezed(section.title) in text
    content = study.content()
    for words in (content.question, content.difference, content.bundle_sha256, *content.reproduce):
        assert squeezed(words) in text
    assert 10 <= len(full().pages) <= 16
    for recording in content.recordings:
        assert recording.sha256 in text


def test_the_invented_mark_is_on_every_page() -> None:
    for page in full().pages:
        assert "Inventedstudy" in squeezed(page.extract_text())
    for page in reader(study.content(study=study.one_run_study(), with_matchups=False, invented=False)).pages:
        assert "Inventedstudy" not in squeezed(page.extract_text())


def test_the_paper_is_tagged_titled_and_in_a_language() -> None:
    root = full().trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"].value
    assert root["/StructTreeRoot"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value
    assert b"pdfuaid:part" in root["/Metadata"].get_data()  # PDF/UA-1, ISO 14289-1
    assert full().metadata is not None
    assert full().metadata.title == "Clean-up order in a go-around"
    assert full().metadata.creation_date is None


def embedded(paper: PdfReader) -> dict[str, bool]:
    """Return base names of fonts with whether the font file is inside."""
    found: dict[str, bool] = {}
    for page in paper.pages:
        pending = [page["/Resources"]]
        while pending:
            resources = pending.pop()
            for font in (resources.get("/Font") or {}).values():
                inner = font.get_object()["/DescendantFonts"][0].get_object()
                descriptor = inner["/FontDescriptor"]
                name = str(inner["/BaseFont"]).partition("+")[2]
                found[name] = bool({"/FontFile2", "/FontFile3"} & set(descriptor))
            pending += [
                form.get_object()["/Resources"]
                for form in (resources.get("/XObject") or {}).values()
                if "/Resources" in form.get_object()
            ]
    return found


def test_fonts_are_the_vendored_ones_and_inside() -> None:
    found = embedded(full())
    assert {"Literata-Regular", "Literata-Italic", "Literata-SemiBold", "OpenSans-Regular", "OpenSans-SemiBold"} <= set(
        found
    )
    assert all(found.values())
    assert all(name.startswith(("Literata", "OpenSans", "DejaVuSans")) for name in found)


def test_setting_the_paper_settles_without_a_warning(monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[Any] = []

    def compiled(files: Any, **options: Any) -> Any:
        made, warnings = typst.compile_with_warnings(files, **options)
        said.extend(warnings)
        return made

    monkeypatch.setattr(pdf.typst, "compile", compiled)
    pdf_of(build_document(study.content()))
    assert said == []


def test_no_note_hangs_off_the_foot_of_a_page() -> None:
    foot = 50.5  # points; the lower margin is 18 mm, the footer's line stands below it
    for page in full().pages:
        low: list[str] = []

        def see(text: str, matrix: Any, local: Any, *_: Any, low: list[str] = low) -> None:
            height = local[4] * matrix[1] + local[5] * matrix[3] + matrix[5]
            if text.strip() and height < foot:
                low.append(text)

        page.extract_text(visitor_text=see)
        words = squeezed("".join(low))
        assert words, "the footer is there"
        rest = words.replace(squeezed("Clean-up order in a go-around · Invented study · wringout 0.1.0"), "")
        assert re.fullmatch(r"\d+/\d+", rest), rest


def test_walks_are_links_inside_the_paper() -> None:
    links = [a.get_object() for page in full().pages for a in page.get("/Annots", [])]
    assert len(links) > 50
    assert all(link["/Subtype"] == "/Link" and "/URI" not in str(link.get("/A", "")) for link in links)


def test_paper_follows_the_units() -> None:
    width, height = (float(x) for x in full().pages[0].mediabox[2:])
    assert (width, height) == pytest.approx((612.0, 792.0), abs=0.5)  # US letter, 8.5 by 11 inches
    metric = reader(study.content(study=study.one_run_study(), with_matchups=False, units="metric"))
    width, height = (float(x) for x in metric.pages[0].mediabox[2:])
    assert (width, height) == pytest.approx((595.28, 841.89), abs=0.5)  # ISO 216 A4, 210 by 297 mm


def test_what_users_typed_is_text_on_paper() -> None:
    text = words_of(reader(hostile()))
    for before in ("Title", "Question", "Difference", "Airplane", "Value", "Reason", "rec"):
        assert squeezed(visible(f"{before} {study.HOSTILE}")) in text, before
    assert squeezed("{{ 7*7 }}") in text


def test_other_scripts_reach_the_paper() -> None:
    name = "Квиллбэк Πέρδικα Łódź"
    assert squeezed(name) in words_of(
        reader(study.content(study=study.one_run_study(), with_matchups=False, airplane=name))
    )


def test_the_same_study_gives_the_same_bytes() -> None:
    content = study.content(study=study.one_run_study(), with_matchups=False)
    assert pdf_of(build_document(content)) == pdf_of(build_document(content))


def test_files_are_written_whole_and_again(tmp_path: Path) -> None:
    content = study.content(study=study.one_run_study(), with_matchups=False)
    files = write_brief(content, tmp_path / "a" / "b")
    first = files.html.read_bytes(), files.pdf.read_bytes()
    assert first[0].startswith(b"<!doctype html>")
    assert first[1].startswith(b"%PDF-")
    assert sorted(p.name for p in files.html.parent.iterdir()) == ["brief.html", "brief.pdf"]
    assert write_brief(content, tmp_path / "a" / "b") == files
    assert (files.html.read_bytes(), files.pdf.read_bytes()) == first


def test_a_write_that_fails_leaves_the_old_brief_and_no_litter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    content = study.content(study=study.one_run_study(), with_matchups=False)
    (tmp_path / "brief.html").write_text("the old one", encoding="utf-8")

    def broken(_: int) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(write.os, "fsync", broken)
    with pytest.raises(OSError, match="disk is full"):
        write_brief(content, tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["brief.html"]
    assert (tmp_path / "brief.html").read_text(encoding="utf-8") == "the old one"


def test_a_folder_that_is_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with pytest.raises(OSError, match="taken"):
        write_brief(study.content(study=study.one_run_study(), with_matchups=False), tmp_path / "taken")


def test_files_can_be_read_by_others(tmp_path: Path) -> None:
    files = write_brief(study.content(study=study.one_run_study(), with_matchups=False), tmp_path)
    assert files.pdf.stat().st_mode & 0o044 == 0o044
