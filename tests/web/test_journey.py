"""What goes wrong on a user's way, in a real browser: a bad file, two windows, unsaved text, no mouse."""

from __future__ import annotations

from playwright.sync_api import Browser, Page, expect

from tests.web.live import SLUG, WAIT_MS, window

STUDY = f"/studies/{SLUG}"
expect.set_options(timeout=WAIT_MS)


def test_a_bad_file_is_told_in_a_sentence_and_nothing_is_lost(browser: Browser, workbench: str) -> None:
    with window(browser, workbench) as watched:
        page = watched.open(f"{STUDY}/flights")
        before = page.locator("section[aria-labelledby=recordings] tbody tr").count()
        page.get_by_text("Words that are not in the files").click()
        page.get_by_label("A note to keep with them").fill("read from the left seat")
        broken = {"name": "broken.csv", "mimeType": "text/csv", "buffer": b"one,two\nnot,a recording\n\x00\xff\n"}
        page.get_by_label("Choose one or more recordings").set_input_files([broken])  # type: ignore[list-item]
        page.get_by_role("button", name="Take them in").click()
        expect(page.get_by_text("broken.csv").first).to_be_visible()
        rows = page.locator("section[aria-labelledby=recordings] tbody tr")
        expect(rows).to_have_count(before + 1)
        told = rows.filter(has_text="broken.csv")
        expect(told).to_contain_text("cannot be read")
        assert len(told.locator("td").last.inner_text()) > 20
        told.get_by_role("link", name="broken.csv").click()
        expect(page.locator("main")).to_contain_text("broken.csv")


def test_a_bundle_that_is_none_is_refused_where_it_was_chosen(browser: Browser, workbench: str) -> None:
    with window(browser, workbench) as watched:
        page = watched.open("/")
        page.get_by_label("Take in a study somebody sent").set_input_files(
            {"name": "letter.zip", "mimeType": "application/zip", "buffer": b"this is no archive"}
        )
        page.get_by_role("button", name="Take it in").click()
        expect(page.get_by_role("alert")).to_contain_text("letter.zip")
        expect(page.locator("ol.shelf > li")).to_have_count(1)


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


def tab_to(page: Page, what: str, most: int = 60) -> None:
    """Press Tab until the element that a CSS selector names has the focus."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("what => document.activeElement.matches(what)", what):
            outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
            assert outline != "none", f"nobody sees that {what} has the focus"
            return
    raise AssertionError(f"{what} is not reached by the Tab key")


def test_the_keyboard_alone_edits_a_question(browser: Browser, workbench: str) -> None:
    with window(browser, workbench) as watched:
        page = watched.open("/")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        tab_to(page, "ol.shelf h2 a")
        page.keyboard.press("Enter")
        page.wait_for_url(f"**{STUDY}/")
        tab_to(page, "#value-question")
        page.keyboard.press("ControlOrMeta+A")
        page.keyboard.type("What comes up first, asked by keyboard?")
        page.keyboard.press("Tab")
        expect(page.locator("#field-question .kept")).to_have_text("Saved.")
        expect(page.locator("#said")).to_have_text("Saved.")
