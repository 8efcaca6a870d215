"""What goes wrong on a user's way, in a real browser: bad files, two windows, unsaved text, work that takes long."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web.crowd import CROWDED
from tests.web.live import SLUG, WAIT_MS, WORK_MS, window

STUDY = f"/studies/{SLUG}"
CROWD = f"/studies/{CROWDED}"
expect.set_options(timeout=WAIT_MS)


PANEL = (files("wringout.services") / "demo_study" / "recordings" / "F3-full-flaps-logger.csv").read_text("utf-8")
UNITS = "hh:mm:ss,kt,ft"
BAD_FILES = {
    "noise.csv": ("one,two\nnot,a recording\n\x00\n", "this is a binary file, not text"),
    "unit.csv": (PANEL.replace(UNITS, "hh:mm:ss,furlong,ft"), "column 'IAS': the unit 'furlong' is not known"),
    "swapped.csv": (
        PANEL.replace("IAS,Altitude", "Altitude,IAS").replace(UNITS, "hh:mm:ss,ft,kt"),
        "column 'IAS' (ias) is said to be in kt, but values from 5992 to 6014 kt are not plausible",
    ),
    "gap.csv": (
        "".join(line for i, line in enumerate(PANEL.splitlines(keepends=True)) if not 60 <= i < 140),
        "1 gap in time, the longest is 40.5 s before row 61 where the usual step is 0.5 s",
    ),
}
"""Files as they go wrong, and the sentence each must be told in."""


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_bad_file_is_told_in_a_sentence_and_nothing_is_lost(browser: Browser, workbench: str, name: str) -> None:
    text, sentence = BAD_FILES[name]
    with window(browser, workbench) as watched:
        page = watched.open(f"{STUDY}/flights")
        rows = page.get_by_role("region", name="Recordings", exact=True).locator("tbody tr")
        before = rows.count()
        page.get_by_label("Choose one or more recordings").set_input_files(
            {"name": name, "mimeType": "text/csv", "buffer": text.encode()}
        )
        page.get_by_role("button", name="Take them in").click()
        expect(rows).to_have_count(before + 1)
        expect(page.get_by_role("region", name="Just taken in")).to_contain_text(sentence)
        expect(rows.filter(has_text=name)).to_contain_text(sentence)
        rows.filter(has_text=name).get_by_role("link", name=name).click()
        expect(page.locator("main")).to_contain_text(sentence)


def test_a_bundle_that_is_none_is_refused_where_it_was_chosen(browser: Browser, workbench: str) -> None:
    with window(browser, workbench) as watched:
        page = watched.open("/")
        page.get_by_label("Take in a study somebody sent").set_input_files(
            {"name": "letter.zip", "mimeType": "application/zip", "buffer": b"this is no archive"}
        )
        page.get_by_role("button", name="Take it in").click()
        expect(page.get_by_role("alert")).to_contain_text("letter.zip")
        expect(page.locator("ol.shelf > li")).to_have_count(2)


def test_two_windows_on_one_question_keep_both_texts(browser: Browser, workbench: str) -> None:
    with window(browser, workbench) as watched:
        first, second = watched.page, watched.watch(watched.context.new_page())
        for page in (first, second):
            page.goto(f"{workbench}{STUDY}/")
        mine, theirs = (
            "Flaps or gear first, as the second window asks?",
            "Flaps or gear first, as the first window asks?",
        )
        edit(first, theirs)
        expect(first.locator("#field-question .kept")).to_have_text("Saved.")
        edit(second, mine)
        told = second.get_by_role("alert")
        expect(told).to_contain_text(theirs)
        expect(second.locator("#value-question")).to_have_value(mine)
        told.get_by_role("button", name="Keep mine").click()
        expect(second.locator("#field-question .kept")).to_have_text("Saved.")
        first.reload()
        expect(first.locator("#value-question")).to_have_value(mine)
        first.get_by_role("button", name="Undo edit").first.click()
        expect(first.locator("#value-question")).to_have_value(theirs)


def edit(page: Page, text: str) -> None:
    """Type a question and leave the field, which saves it."""
    page.locator("#value-question").fill(text)
    page.locator("#value-question").blur()


def test_text_that_was_not_saved_is_offered_again(browser: Browser, workbench: str) -> None:
    """A window that is closed in mid-sentence gives the sentence back."""
    with window(browser, workbench) as watched:
        page = watched.open("/")
        page.get_by_label("What is the question?").fill("Does the gear cost more than half flaps")
        again = watched.watch(watched.context.new_page())
        again.goto(f"{workbench}/")
        again.get_by_role("button", name="Put it back").click()
        expect(again.get_by_label("What is the question?")).to_have_value("Does the gear cost more than half flaps")


def test_two_windows_on_one_airplane_keep_both_files(browser: Browser, workbench: str) -> None:
    """The second window's text is not put over the first's unseen, and is not lost either."""
    with window(browser, workbench) as watched:
        first, second = watched.page, watched.watch(watched.context.new_page())
        for page in (first, second):
            page.goto(f"{workbench}{STUDY}/airplane")
            page.get_by_text("Edit it as text").click()
        for page, line in ((first, "# said in the first window"), (second, "# said in the second window")):
            text = page.get_by_label("Airplane file (TOML)")
            text.fill(f"{text.input_value()}{line}\n")
            page.get_by_role("button", name="Save the text").click()
            page.wait_for_load_state()
        expect(second.get_by_role("alert")).to_contain_text("Nothing was lost")
        expect(second.get_by_label("Airplane file (TOML)")).to_have_value(re.compile("# said in the second window"))
        first.reload()
        expect(first.get_by_label("Airplane file (TOML)")).to_have_value(re.compile("# said in the first window"))


def test_two_windows_on_one_plan_keep_both_edits(browser: Browser, workbench: str) -> None:
    """Other fields of one point: both stay, unasked."""
    with window(browser, workbench) as watched:
        first, second = watched.page, watched.watch(watched.context.new_page())
        for page in (first, second):
            page.goto(f"{workbench}{CROWD}/plan")
        for page, label, text in ((first, "minutes of point F1", "7"), (second, "remark on point F1", "smooth air")):
            page.get_by_label(label).fill(text)
            page.get_by_label(label).press("Tab")
            expect(page.locator("#said-point-F1 .kept")).to_have_text("Saved.")
        first.reload()
        expect(first.get_by_label("minutes of point F1")).to_have_value("7")
        expect(first.get_by_label("remark on point F1")).to_have_value("smooth air")


def test_long_work_is_seen_again_after_a_reload_and_stops_when_told(browser: Browser, workbench: str) -> None:
    with window(browser, workbench) as watched:
        page = watched.open(f"{CROWD}/plan")
        chance = page.get_by_role("region", name="Chance to decide")
        kept = str(chance.text_content())
        assert "as planned" in kept
        page.get_by_label("times each").fill("500")  # minutes of work: it cannot end by itself while this test runs
        page.get_by_role("button", name="Work it out").click()
        work = page.get_by_role("progressbar", name="Flying the plan in simulation")
        expect(work).not_to_have_attribute("value", "0.0", timeout=WORK_MS)
        page.reload()
        expect(work).not_to_have_attribute("value", "0.0")
        broken = "**/jobs"
        page.route(broken, lambda route: route.fulfill(status=500, body="no answer"))
        with page.expect_response(lambda got: got.url.endswith("/jobs") and got.status == 500):
            pass
        page.unroute(broken)
        far = str(work.get_attribute("value"))
        expect(work).not_to_have_attribute("value", far, timeout=WORK_MS)
        page.get_by_role("link", name="Airplane", exact=True).click()
        page.locator("#jobs").get_by_role("button", name="Stop").click()
        expect(page.locator("#jobs")).to_contain_text("was stopped")
        expect(work).to_have_count(0)
        page.get_by_role("link", name="Plan and cards", exact=True).click()
        expect(chance).to_have_text(kept)
        page.locator("#jobs").get_by_role("button", name="Put away").click()
        expect(page.locator("#jobs .job")).to_have_count(0)
        assert all("500" in wrong for wrong in watched.wrong)  # the browser itself reports the answer that failed
        watched.wrong.clear()
