"""Briefs for members, instructor and slides: what they hold, that they fit, and that their words are sound."""

from __future__ import annotations

import gettext
import io
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from babel.messages.pofile import read_po
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.briefs import made, study
from wringout.briefs import catalogue
from wringout.briefs.cards.metric import metric_words
from wringout.briefs.catalogue import foreign, spoken_in
from wringout.briefs.content import BriefContent
from wringout.briefs.document import Document, Drawing, Heading, Items, Paragraph, Table, every_block, text_of
from wringout.briefs.html import html_of
from wringout.briefs.other_rooms import title_told
from wringout.briefs.pdf import pdf_of
from wringout.briefs.readers.lesson import lesson_document
from wringout.briefs.readers.members import members_document
from wringout.briefs.readers.plain_answers import domain_words, threshold_words, verdict_words
from wringout.briefs.readers.slides import slides_document
from wringout.briefs.standings import judged
from wringout.briefs.story.build import build_document
from wringout.briefs.write import READERS, write_for
from wringout.methods.cautions import CAUTIONS
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.stated.types import Law

CATALOGUE = Path(catalogue.__file__).parent / "locale" / "wringout.pot"
LONG = "An invented airplane whose name has exactly sixty characters"


@cache
def contents() -> dict[str, BriefContent]:
    one: dict[str, Any] = {"study": study.one_run_study(), "with_matchups": False}
    return {
        "letter": study.content(),
        "a4, long name": study.content(units="metric", airplane=LONG),
        "one run": study.content(**one),
        "hostile": study.content(**one, title=study.HOSTILE, question=study.HOSTILE, airplane=study.HOSTILE),
    }


def spoken(document: Document) -> list[str]:
    """Return every sentence of a document but what users typed."""
    out: list[str] = []
    for section in document.sections:
        out.append(section.title)
        for block in section.blocks:
            lines = block.lines if isinstance(block, Items) else (block.line,) if isinstance(block, Paragraph) else ()
            lines = (block.caption,) if isinstance(block, Drawing) else lines
            out += [text_of(tuple(w for w in one if w.voice != "user")) for one in lines]  # type: ignore[union-attr]
    return [text for text in out if text]


@pytest.mark.parametrize("case", ["letter", "a4, long name", "one run", "hostile"])
def test_the_members_brief_is_one_page_with_answer_figures_and_cautions(case: str) -> None:
    document = members_document(contents()[case])
    with pikepdf.open(io.BytesIO(pdf_of(document, "one-page"))) as paper:
        assert len(paper.pages) == 1
    text = " ".join(spoken(document))
    metric = contents()[case].units == "metric"
    assert all((metric_words(caution) if metric else caution) in text for caution in CAUTIONS)
    drawn = sum(isinstance(block, Drawing) for section in document.sections for block in section.blocks)
    assert drawn == (3 if contents()[case].matchups else 2)
    if contents()[case].matchups:
        assert "too close to call" in text
        assert "Outside of that nothing was computed" in text
        assert "Stated before flying" in text


def figures_in(paper: pikepdf.Pdf) -> list[pikepdf.Object]:
    found, pending = [], [paper.Root.StructTreeRoot]
    while pending:
        node = pending.pop()
        if isinstance(node, pikepdf.Dictionary):
            if node.get("/S") == "/Figure":
                found.append(node)
            kids = node.get("/K")
            pending += list(kids) if isinstance(kids, pikepdf.Array) else [] if kids is None else [kids]
    return found


@pytest.mark.parametrize("reader", ["members", "instructor", "slides"])
def test_every_paper_is_tagged_titled_and_its_figures_speak(reader: Any, tmp_path: Path) -> None:
    for path in write_for(contents()["letter"], reader, tmp_path):
        if path.suffix == ".html":
            text = path.read_text(encoding="utf-8")
            assert not re.search(r'(?:src|href)="(?:https?:)?//', text)
            continue
        with pikepdf.open(path) as paper:
            assert paper.Root.MarkInfo.Marked
            assert str(paper.Root.Lang) == "en"
            assert str(paper.docinfo["/Title"]) == contents()["letter"].title
            assert b"pdfuaid:part" in paper.Root.Metadata.read_bytes()
            figures = figures_in(paper)
            assert len(figures) >= 2
            assert all(len(str(figure.get("/Alt", ""))) > 20 for figure in figures)
            if reader == "slides":
                assert len(paper.pages) >= 8
                _, _, width, height = (float(x) for x in paper.pages[0].mediabox)
                assert width / height == pytest.approx(16 / 9, rel=1e-3)


def test_readers_are_those_of_the_command() -> None:
    assert READERS == ("peers", "members", "instructor", "slides")


offsets = st.lists(st.floats(-120.0, 120.0), min_size=1, max_size=9)


@settings(max_examples=150, deadline=None)
@given(
    offsets,
    st.floats(0.0, 40.0),
    st.sampled_from(list(Law)),
    st.floats(0.9, 1.3),
    st.sampled_from(["aviation", "metric"]),
)
def test_the_words_of_a_verdict_say_what_was_decided_and_no_more(
    off: list[float], noise: float, law: Law, ratio: float, units: Any
) -> None:
    held = made.evidence(units)
    matchup = made.matchup(off, noise, draws=100, law=law)
    matchup = replace(matchup, thresholds=replace(matchup.thresholds, min_stall_ratio=ratio))
    judgement = judged(matchup)
    text = verdict_words(held, judgement)
    outcome = judgement.verdict.outcome
    assert ("too close to call" in text) == (outcome is Outcome.TOO_CLOSE)
    assert (" is favoured." in text or " only " in text) == (outcome is Outcome.FAVOURED)
    assert ("acceptable: " in text) == (outcome is Outcome.NOT_ACCEPTABLE)
    assert text.count(" is behind by ") == text.count("(95 %: ")
    for sentence in (text, domain_words(held, judgement), threshold_words(held, judgement)):
        assert sentence.endswith(".")
        assert sentence[0].isupper()
        assert [wrong for wrong in ("  ", "{", " ,", "..") if wrong in sentence] == []
        assert not re.search(r"\b(definitive|proven|proves|safe|always|certain)\b", sentence)
        assert not re.search(r"\b1 orders\b|-\d", sentence)
    unit = "ft" if units == "aviation" else "m"
    assert f"\N{NO-BREAK SPACE}{unit}" in threshold_words(held, judgement)


class Pseudo(gettext.NullTranslations):
    """A language whose letters are all of another script, so that what did not pass the catalogue stands out."""

    def gettext(self, message: str) -> str:
        parts = re.split(r"(\{[a-z0-9_]+\})", message)
        return "".join(part if part.startswith("{") else self.strange(part) for part in parts)

    def pgettext(self, context: str, message: str) -> str:
        assert context == catalogue.TOLD
        return Pseudo.gettext(self, message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    @staticmethod
    def strange(text: str) -> str:
        return "".join(chr(ord(c) - ord("A") + 0x0410) if c.isascii() and c.isalpha() else c for c in text)


class Noted(Pseudo):
    """Remembers every message that was looked up."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: set[str] = set()

    def gettext(self, message: str) -> str:
        self.seen.add(message)
        return super().gettext(message)


def test_the_committed_catalogue_holds_every_message_that_is_said() -> None:
    noted = Noted()
    with spoken_in(noted):
        for case in ("letter", "a4, long name", "one run"):
            for build in (members_document, slides_document, build_document):
                build(contents()[case])
    with CATALOGUE.open("rb") as stream:
        known = {
            text
            for message in read_po(stream)
            for text in (message.id if isinstance(message.id, tuple) else (message.id,))
        }
    assert len(noted.seen) > 150
    assert noted.seen - known == set()


def owners_words(content: BriefContent) -> set[str]:
    """Return what stands in a brief as somebody typed it, names, and units."""
    out = [content.title, content.question, content.airplane, content.date, content.bundle_sha256, *content.reproduce]
    out += [figure.value for figure in content.key_figures]
    out += [text for one in content.recordings for text in (one.name, one.sha256)]
    out += [setting.name for setting in content.reduction.beliefs.settings if setting.name != "up"]
    out += [posed.run.key for posed in content.reduction.joint.problem.runs]
    symbols = "kt ft lb hp s m km h kg kW CL CLmax V Vs VFE VLO VLE VA VNE sd CSV wringout A B C °C SHA x"
    return set(re.findall(r"[A-Za-z]+", " ".join((*out, symbols))))


def everything(document: Document) -> Iterator[str]:
    """Yield every text of a document, figures and notes included, but what is marked as typed by users."""
    yield document.kind
    for section in document.sections:
        yield section.title
        for block in every_block(section.blocks):
            note = getattr(block, "note", None)
            lines = [*(note.lines if note else ())]
            if isinstance(block, Paragraph | Heading):
                lines.append(block.line)
            elif isinstance(block, Items):
                lines += block.lines
            elif isinstance(block, Drawing):
                lines.append(block.caption)
                yield block.spoken
                yield from re.findall(r">([^<>]+)</(?:text|tspan)>", block.svg)
            elif isinstance(block, Table):
                lines += [cell for row in block.rows for cell in row.cells]
                yield from (text for column in block.columns for text in (column.title, column.unit))
            yield note.more if note else ""
            yield from (mark.spoken for mark in note.marks) if note else ()
            yield from (text_of(tuple(w for w in one if w.voice != "user")) for one in lines)


@pytest.mark.parametrize("case", ["letter", "a4, long name", "one run"])
def test_no_reader_meets_a_word_that_did_not_pass_the_catalogue(case: str) -> None:
    content = contents()[case]
    with spoken_in(Pseudo()):
        documents = [build(content) for build in (members_document, lesson_document, slides_document, build_document)]
        page = html_of(documents[0])
    known = owners_words(content)
    for document in documents:
        for text in everything(document):
            assert not set(re.findall(r"[A-Za-z]{2,}", text)) - known, text
    page = re.sub(r"<(style|svg|bdi|title).*?</\1>|<!doctype html>", " ", page, flags=re.DOTALL)
    spoken_attributes = " ".join(re.findall(r'(?:aria-label|title|alt)="([^"]*)"', page))
    assert not set(re.findall(r"[A-Za-z]{2,}", re.sub(r"<[^>]*>", " ", page) + spoken_attributes)) - known


def test_a_metric_brief_holds_no_other_unit_but_in_words_as_typed() -> None:
    content = contents()["a4, long name"]
    typed = {figure.value for figure in content.key_figures}
    for build in (members_document, lesson_document, slides_document, build_document):
        for text in everything(build(content)):
            if text not in typed:
                assert not re.search(r"\d[\d,.]*[ \u00a0](?:kt|ft|lb|ft²|kt/s|ft/min)(?![\w/])", text), text


def test_a_translation_keeps_numbers_and_names_in_the_places_it_gives_them() -> None:
    class German(Pseudo):
        def pgettext(self, _: str, message: str) -> str:
            return {
                "fell at {1} kt/s over {2} s": "in {2} s um {1} kt/s",
                "flaps to {a}": "Klappen auf {a}",
                "gear up": "Fahrwerk ein",
            }.get(message, message)

    with spoken_in(German()):
        assert foreign("fell at −0.81 kt/s over 12 s") == "in 12 s um −0.81 kt/s"
        assert title_told("Flaps to half; gear up, gear up below 75 kt", "metric", ["half"]) == (
            "Klappen auf half; Fahrwerk ein, gear up below 138 km/h"
        )
        assert foreign("{1} as typed, 3") == "{1} as typed, 3"
