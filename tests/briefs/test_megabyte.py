"""A question of a megabyte, made of everything that steers a page or a press, is printed to its last word as text."""

from __future__ import annotations

from dataclasses import replace

from tests.briefs import study
from tests.briefs.test_page import Page, hostile
from tests.briefs.test_paper import reader, squeezed
from wringout.briefs.content import BriefContent
from wringout.briefs.html import html_of
from wringout.briefs.story.build import build_document
from wringout.plain_text import visible

TIMES = 2**20 // (len(study.HOSTILE) + 1)


def long_one() -> BriefContent:
    return replace(hostile(), question=f"{study.HOSTILE} " * TIMES + "the end")


def test_on_the_page() -> None:
    page = Page(html_of(build_document(long_one())))
    assert page.faults == []
    assert "b" not in page.tags
    assert page.text.count(" ".join(visible(study.HOSTILE).split())) >= TIMES
    assert "the end" in page.text


def test_on_paper() -> None:
    pages = reader(long_one()).pages
    assert len(pages) > 100
    there = [
        i for i in range(len(pages)) if i % 40 == 20 and squeezed("{{ 7*7 }}") in squeezed(pages[i].extract_text())
    ]
    assert len(there) >= 5
