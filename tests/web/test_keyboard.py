"""The main way by keyboard alone: question, airplane, strip chart, findings, techniques; the focus is always seen."""

from __future__ import annotations

from playwright.sync_api import Browser, Page, expect

from tests.web.crowd import CROWDED
from tests.web.live import WAIT_MS, window

expect.set_options(timeout=WAIT_MS)
AT = f"/studies/{CROWDED}"
SEEN = """() => {
  const one = document.activeElement;
  const style = getComputedStyle(one);
  return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0;
}"""


def tab_to(page: Page, what: str, most: int = 250, key: str = "Tab") -> None:
    """Press Tab until the element that a CSS selector names has the focus, and see that it shows."""
    for _ in range(most):
        page.keyboard.press(key)
        if page.evaluate("what => document.activeElement.matches(what)", what):
            assert page.evaluate(SEEN), f"nobody sees that {what} has the focus"
            return
    raise AssertionError(f"{what} is not reached by the Tab key")


def press(page: Page, what: str) -> None:
    """Go to a link or a button that opens a page, and press it."""
    tab_to(page, what)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def chapter(page: Page, path: str, title: str) -> None:
    """Go to a chapter from the line of chapters."""
    press(page, f"ol.chapters a[href='{AT}{path}']")
    expect(page.get_by_role("heading", level=1)).to_have_text(title)


def test_the_keyboard_alone_goes_the_main_way(browser: Browser, workbench: str) -> None:
    with window(browser, workbench) as watched:
        page = watched.open("/")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.className") == "skip"
        press(page, f"ol.shelf h2 a[href='{AT}/']")
        tab_to(page, "#value-question")
        page.keyboard.press("ControlOrMeta+A")
        page.keyboard.type("What comes up first, asked by keyboard?")
        page.keyboard.press("Tab")
        expect(page.locator("#field-question .kept")).to_have_text("Saved.")
        expect(page.locator("#said")).to_have_text("Saved.")
        chapter(page, "/airplane", "Airplane")
        chapter(page, "/flights", "Flights")
        logger = page.get_by_role("link", name="-F3").first.get_attribute("href")
        press(page, f"main a[href='{logger}']")
        press(page, "a[href$='/strip']")
        trims_a_run(page)
        chapter(page, "/findings", "Findings")
        chapter(page, "/techniques", "Techniques")
        press(page, f"a[href='{AT}/techniques/try']")
        moves_a_lever(page)


def trims_a_run(page: Page) -> None:
    """Move both ends of a run on the strip chart with arrow and page keys, see the fit follow, keep it shorter."""
    expect(page.locator("#looked table")).to_be_visible()
    first, last = page.locator("#strips .end").all()
    began, ended = (float(str(end.get_attribute("aria-valuenow"))) for end in (first, last))
    tab_to(page, "#strips .end[aria-label='Beginning of the stretch']")
    for key in ("ArrowRight", "ArrowRight", "ArrowLeft"):
        page.keyboard.press(key)
    expect(first).to_have_attribute("aria-valuenow", f"{began + 1:g}")
    expect(page.locator("#looked")).to_contain_text("trimmed")
    tab_to(page, "button[data-trim='F3']")
    page.keyboard.press("Enter")
    expect(first).to_have_attribute("aria-valuenow", f"{began:g}")
    tab_to(page, "#strips .end[aria-label='End of the stretch']", key="Shift+Tab")
    page.keyboard.press("PageDown")
    expect(last).to_have_attribute("aria-valuenow", f"{ended - 10:g}")
    expect(page.get_by_label("To, seconds")).to_have_value(f"{ended - 10:g}")
    expect(page.locator("#looked")).to_contain_text("trimmed")
    tab_to(page, "input[name=key]")
    page.keyboard.type("K1")
    press(page, "#keep")
    expect(page.get_by_role("listitem").filter(has=page.get_by_role("link", name="K1"))).to_contain_text("in use")
    expect(page.get_by_role("listitem").filter(has=page.get_by_role("link", name="F3"))).to_contain_text("set aside")


def moves_a_lever(page: Page) -> None:
    """Add a movement, move its lever on the line of time, scrub, turn a knob, and keep the technique."""
    expect(page.locator("#panels canvas").first).to_be_visible()
    tab_to(page, "#line .lever")
    lever = page.locator("#line .lever").first
    began = float(str(lever.get_attribute("aria-valuenow")))
    page.keyboard.press("ArrowRight")
    expect(lever).to_have_attribute("aria-valuenow", f"{began + 0.5:g}")
    page.keyboard.press("PageUp")
    expect(lever).to_have_attribute("aria-valuenow", f"{began + 5.5:g}")
    expect(lever).to_be_focused()
    tab_to(page, "#scrub")
    words = page.locator("#now-words").inner_text()
    page.keyboard.press("ArrowRight")
    expect(page.locator("#now-words")).not_to_have_text(words)
    tab_to(page, "#knob-weight")
    page.keyboard.press("ArrowLeft")
    tab_to(page, "#title")
    page.keyboard.type("Tried by keyboard")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Tried by keyboard", exact=True)).to_be_visible()
