"""The HTML page: it stands alone, every walk leads somewhere, and what users typed is text."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.briefs import study
from wringout.briefs.content import BriefContent, KeyFigure, RunAside
from wringout.briefs.evidence import finding_anchor, gather
from wringout.briefs.html import html_of
from wringout.briefs.story.build import build_document
from wringout.methods.cautions import CAUTIONS
from wringout.plain_text import visible

VOID = {"meta", "link", "br", "hr", "img", "input"}


class Page(HTMLParser):
    """What a page holds: ids, targets, texts by element, and whether its elements close in order."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.ids: list[str] = []
        self.targets: list[str] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.faults: list[str] = []
        self.tags: set[str] = set()
        self.outside: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            if name in ("href", "xlink:href"):
                self.targets.append(value or "")
            if name in ("src", "href", "xlink:href", "action", "srcset") and not (value or "").startswith("#"):
                self.outside.append(f"{tag} {name}={value}")
            if name.startswith("on"):
                self.faults.append(f"{tag} has {name}")
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> does not close what is open")

    def handle_data(self, data: str) -> None:
        if not {"style", "script"} & set(self.open):
            self.words.append(data)

    @property
    def text(self) -> str:
        """All words, blanks folded."""
        return " ".join("".join(self.words).split())


def folded(text: str) -> str:
    return " ".join(text.split())


@cache
def written(which: str = "full") -> str:
    made = {
        "full": study.content,
        "metric": lambda: study.content(units="metric"),
        "one run": lambda: study.content(study=study.one_run_study(), with_matchups=False),
        "real": lambda: study.content(study=study.one_run_study(), with_matchups=False, invented=False),
    }[which]()
    return html_of(build_document(made))


def hostile() -> BriefContent:
    bad = study.HOSTILE
    return study.content(
        study=study.one_run_study(f"G{bad}", f"rec {bad}"),
        with_matchups=False,
        title=f"Title {bad}",
        question=f"Question {bad}",
        difference=f"Difference {bad}",
        airplane=f"Airplane {bad}",
        key_figures=(KeyFigure(f"Label {bad}", f"Value {bad}", f"Source {bad}"),),
        conditions=(KeyFigure(f"Air {bad}", "calm", "a"), KeyFigure("b", "c", f"From {bad}")),
        asides=(RunAside(f"A{bad}", "gear", f"Reason {bad}"),),
        version=f"1 {bad}",
        date=f"Date {bad}",
        reproduce=(f"wringout {bad}",),
    )


@pytest.mark.parametrize("which", ["full", "metric", "one run", "real"])
def test_the_page_is_whole_and_every_walk_leads_somewhere(which: str) -> None:
    page = Page(written(which))
    assert page.faults == []
    assert page.open == []
    assert len(page.ids) == len(set(page.ids))
    assert [t for t in page.targets if t.removeprefix("#") not in page.ids] == []


def test_every_finding_is_said_somewhere() -> None:
    page = Page(written())
    findings = study.full_study().reduction.findings
    assert findings
    assert [f.key for f in findings if finding_anchor(f.key) not in page.ids] == []


def test_the_thread_goes_from_number_to_run_to_rows_and_back() -> None:
    html = written()
    evidence = gather(study.content())
    gear = re.search(
        r'<div class="block"><aside.*?</aside><p class="body" id="finding-area-gear-middle">.*?</p></div>', html
    )
    assert gear is not None
    first = evidence.runs["G1"]
    assert f'class="number" href="#{first.anchor}"' in gear.group()
    run = html[html.index(f'id="{first.anchor}"') :]
    run = run[: run.index("<h3", 10)]
    assert f'href="#{first.rows_anchor}"' in run
    assert 'href="#finding-area-gear-middle"' in run
    rows = re.search(rf'<h3 id="{first.rows_anchor}">.*?</h3>', html)
    assert rows is not None
    assert f'href="#{first.anchor}"' in rows.group()
    wrong = evidence.runs["F2"]
    assert wrong.flags, "the misheard call is flagged"
    flagged = wrong.row_anchor(wrong.flags[0].index)
    assert f'href="#{flagged}"' in html
    assert f'<tr id="{flagged}" class="out">' in html


def test_the_page_needs_nothing_but_itself() -> None:
    html = written()
    page = Page(html)
    assert page.outside == []
    assert not page.tags & {"script", "link", "iframe", "object", "embed", "img", "form", "video", "audio"}
    assert set(re.findall(r"https?://[^\s\"')<]+", html)) <= {
        "http://www.w3.org/2000/svg",
        "http://www.w3.org/1999/xlink",
    }
    assert all(address.startswith(("data:font/woff2;base64,", "#")) for address in re.findall(r"url\(([^)]*)\)", html))
    assert "@import" not in html


def test_the_order_is_question_answer_cautions_and_so_on() -> None:
    sections = re.findall(r'<section id="([^"]+)"', written())
    assert sections == [
        "question",
        "answer",
        "cautions",
        "airplane",
        "method",
        "findings",
        "curves",
        "runs",
        "stalls",
        "travel",
        "knots",
        "techniques",
        "together",
        "changes",
        "limits",
        "reproduce",
        "run-by-run",
        "data",
    ]


def test_cautions_difference_hash_seeds_and_commands_are_printed() -> None:
    text = Page(written()).text
    content = study.content()
    for caution in CAUTIONS:
        assert folded(caution) in text
    for words in (content.question, content.difference, content.bundle_sha256, content.date, *content.reproduce):
        assert folded(words) in text
    assert "wringout 0.1.0" in text
    assert "7 (draws), 11 (hold attitude)" in text
    for recording in content.recordings:
        assert recording.name in text
        assert recording.sha256 in text


def test_what_was_set_aside_flagged_and_exceeded_is_said() -> None:
    text = Page(written()).text
    assert "Set aside by hand: G4, gear down: rough air; flown again as G3." in text
    assert "One reading does not belong to its curve and was given almost no weight; nothing was removed: F2." in text
    assert "a limit exceedance; the run is still reduced." in text
    assert "These runs say nothing of " in text
    assert "The drag of flaps half rests on a single run." in text


def test_the_true_ratio_stands_beside_the_ratio_of_knots() -> None:
    html = written()
    knots = html[html.index('<section id="knots"') :]
    knots = Page(knots[: knots.index("</section>") + len("</section>")]).text
    assert "times the drag of the gear" in knots
    assert "That is not a ratio of drags." in knots
    assert "Why they differ" in knots


def test_an_invented_study_says_so_and_a_real_one_does_not() -> None:
    assert "Invented study" in Page(written()).text
    assert "Nothing here describes an airplane that exists" in Page(written()).text
    assert "Invented study" not in Page(written("real")).text


def test_a_study_without_matchup_says_what_to_do_next() -> None:
    text = Page(written("one run")).text
    assert "The next thing to do is to fly the matchup" in text
    assert 'id="techniques"' not in written("one run")


def test_metric_pages_carry_no_knots_feet_or_pounds_of_their_own() -> None:
    html = written("metric")
    findings = html[html.index('<section id="findings"') : html.index('<section id="runs"')]
    text = Page(findings).text
    assert "km/h" in text
    assert "m²" in text
    assert not re.search(r"\b(kt|ft²|lb)\b", text)


def test_what_users_typed_is_text() -> None:
    html = html_of(build_document(hostile()))
    page = Page(html)
    assert page.faults == []
    assert "b" not in page.tags
    for before in ("Title", "Question", "Difference", "Airplane", "Label", "Value", "Source", "From", "Reason", "Date"):
        assert folded(visible(f"{before} {study.HOSTILE}")) in page.text, before
    assert folded(visible(f"rec {study.HOSTILE}")) in page.text
    assert folded(visible(f"G{study.HOSTILE}")) in page.text
    assert "\u202e" not in html
    assert "{{ 7*7 }}" in page.text
    assert [t for t in page.targets if t.removeprefix("#") not in page.ids] == []


def test_colours_of_figures_follow_the_night() -> None:
    html = written()
    assert "prefers-color-scheme:dark" in html
    figures = "".join(re.findall(r"<svg .*?</svg>", html, re.DOTALL))
    bare = re.sub(r"var\(--[a-z]+,#[0-9a-f]{6}\)", "", figures)
    assert set(re.findall(r"#[0-9a-f]{6}\b", bare)) == set()


def test_the_same_study_gives_the_same_page_in_another_process(tmp_path: Path) -> None:
    here = hashlib.sha256(written("one run").encode()).hexdigest()
    code = (
        "import hashlib, sys; sys.path.insert(0, sys.argv[1])\n"
        "from tests.briefs.test_page import written\n"
        "print(hashlib.sha256(written('one run').encode()).hexdigest())"
    )
    root = Path(__file__).parents[2]
    made = subprocess.run(
        [sys.executable, "-c", code, str(root)],
        capture_output=True,
        text=True,
        check=True,
        cwd=tmp_path,
        env={
            **os.environ,  # the same linear algebra, which may be chosen by the environment
            "PYTHONHASHSEED": "12345",
            "HOME": str(tmp_path),
            "MPLCONFIGDIR": str(tmp_path),
            "TZ": "Asia/Tokyo",
            "LC_ALL": "C",
        },
    )
    assert made.stdout.strip() == here


def test_a_fit_that_did_not_settle_is_among_the_limits() -> None:
    made = study.one_run_study()
    loose = replace(made.reduction, joint=replace(made.reduction.joint, settled=False))
    assert made.reduction.remarks == ()
    (remark,) = loose.remarks
    assert remark in visible(html_of(build_document(study.content(study=replace(made, reduction=loose)))))
    assert remark not in visible(html_of(build_document(study.content(study=made))))
