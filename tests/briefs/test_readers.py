"""Briefs for members, instructor and slides: what they hold, that they fit, and that their words are sound."""

from __future__ import annotations

import gettext
import io
import re
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
from wringout.briefs.catalogue import spoken_in
from wringout.briefs.content import BriefContent
from wringout.briefs.document import Document, Drawing, Heading, Items, Paragraph, Table, every_block, text_of
from wringout.briefs.pdf import pdf_of
from wringout.briefs.readers.members import members_document
from wringout.briefs.readers.plain_answers import domain_words, threshold_words, verdict_words
from wringout.briefs.readers.slides import slides_document
from wringout.briefs.standings import judged
from wringout.briefs.story.build import build_document
from wringout.briefs.write import READERS, write_for
from wringout.methods.cautions import CAUTIONS
from wringout.techniques.rule import Outcome
from wringout.techniques.types import Law

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
    assert all(caution in text for caution in CAUTIONS)
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

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    @staticmethod
    def strange(text: str) -> str:
        return "".join(chr(ord(c) - ord("A") + 0x0410) if c.isascii() and c.isalpha() else c for c in text)


@pytest.mark.parametrize("case", ["letter", "a4, long name", "one run"])
def test_every_sentence_of_the_members_brief_passes_the_catalogue(case: str) -> None:
    with spoken_in(Pseudo()):
        document = members_document(contents()[case])
    known = {"ft", "kt", "lb", "s", "m", "km", "h", "kg", "C", "full", "half"}  # units and names of flap settings
    known |= set(re.findall(r"[a-f0-9]{16}", contents()[case].bundle_sha256[:16]))
    for text in (*spoken(document), document.kind):
        bare = re.sub("“.*?”", "", text)  # titles of techniques are names
        bare = bare.replace(contents()[case].bundle_sha256[:16], "")
        assert not set(re.findall(r"[A-Za-z]+", bare)) - known, text


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


def of_other_rooms(content: BriefContent) -> str:
    """Return what a brief quotes from other rooms, in English: names, labels, and what the methods say of a run."""
    reduction = content.reduction
    out = [content.airplane, *(f.label for f in reduction.findings), *(p.label for p in reduction.beliefs.parameters)]
    out += [item.verdict for item in reduction.learned]
    out += [word for finding in reduction.findings for word in finding.shares]
    out += [text for figure in content.key_figures for text in (figure.label, figure.value, figure.source)]
    for posed, report in zip(reduction.joint.problem.runs, reduction.reports, strict=True):
        out += [posed.run.key, posed.run.title, posed.method.key, posed.method.title, report.source.recording]
        out += [report.why_they_differ, *(exceedance.sentence() for exceedance in report.exceedances)]
        out += [text for result in report.results for text in (result.title, result.sentence)]
    out += [t.title for m in content.matchups for t in m.techniques] + [m.law.value for m in content.matchups]
    out += [*content.reproduce, *(f"{one.name} {one.sha256}" for one in content.recordings), content.date]
    out += [tension.quantity for tension in reduction.diagnostics.tensions]
    return " ".join((*out, "kt ft lb s m km h kg C CL sd SHA wringout V Vs sigma", content.bundle_sha256))


@pytest.mark.parametrize("case", ["letter", "a4, long name", "one run"])
def test_what_the_full_brief_says_itself_passes_the_catalogue(case: str) -> None:
    content = contents()[case]
    with spoken_in(Pseudo()):
        document = build_document(content)
    known = set(re.findall(r"[A-Za-z]+", of_other_rooms(content)))
    known |= {word.lower() for word in known} | {word.capitalize() for word in known}
    told = [section.title for section in document.sections] + [document.kind]
    for section in document.sections:
        for block in every_block(section.blocks):
            lines: list[Any] = []
            if isinstance(block, Paragraph | Heading):
                lines = [block.line, *(block.note.lines if isinstance(block, Paragraph) and block.note else ())]
            elif isinstance(block, Drawing):
                lines = [block.caption]
            elif isinstance(block, Items):
                lines = list(block.lines)
            elif isinstance(block, Table):
                lines = [cell for row in block.rows for cell in row.cells]
                told += [column.title for column in block.columns]
            told += [text_of(tuple(w for w in one if w.voice != "user")) for one in lines]
    left = {word for text in told for word in re.findall(r"[A-Za-z]{2,}", text)} - known
    assert sorted(left) == []
