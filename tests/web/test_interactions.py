"""What a hand does and a page answers at once: residuals pointed at, a field left, several flights on one clock."""

from __future__ import annotations

from playwright.sync_api import Browser, expect

from tests.web.crowd import CROWDED
from tests.web.live import SLUG, WAIT_MS, window

expect.set_options(timeout=WAIT_MS)
STUDY = f"/studies/{SLUG}"


def test_a_run_that_is_pointed_at_shows_its_residuals_in_the_margin(browser: Browser, workbench: str) -> None:
    with window(browser, workbench) as watched:
        page = watched.open(f"/studies/{CROWDED}/findings")
        section = page.locator("section", has=page.locator("table a[data-run]")).first
        pointed, reached = section.locator("table a[data-run]").first, section.locator("table a[data-run]").last
        pointed.hover()
        shown = section.locator(".note .left-over")
        expect(shown).to_contain_text("rms off the fit")
        name = f"Residuals of run {pointed.get_attribute('data-run')}:"
        expect(shown.get_by_role("img", name=name)).to_be_visible()
        page.keyboard.press("Escape")
        expect(page.locator(".left-over")).to_have_count(0)
        reached.focus()
        expect(section.locator(".left-over")).to_contain_text(f"{reached.get_attribute('data-run')},")


def test_a_field_of_the_airplane_is_saved_when_it_is_left_and_the_hand_goes_on(
    browser: Browser, workbench: str
) -> None:
    with window(browser, workbench) as watched:
        page = watched.open(f"{STUDY}/airplane")
        page.get_by_label("stall speed, flaps up").fill("62 ± 2 kt")
        page.keyboard.press("Tab")
        expect(page.locator("#sheet-said")).to_contain_text("Saved.")
        expect(page.locator(".lead")).to_contain_text("62 kt (95 %: 58.1 to 65.9 kt) with flaps up")
        expect(page.get_by_label("name of flap setting 1")).to_be_focused()
        page.get_by_label("wing area").fill("large")
        page.keyboard.press("Tab")
        expect(page.locator("#sheet-said [role=alert]")).to_contain_text("'large' is not a quantity")
        expect(page.get_by_label("wing area")).to_have_value("large")
        page.get_by_label("wing area").fill("174 ft2")
        page.keyboard.press("Tab")
        expect(page.locator("[aria-invalid=true]")).to_have_count(0)
        page.goto(workbench + f"{STUDY}/")
        page.get_by_role("button", name="Undo edit", exact=False).first.click()
        page.goto(workbench + f"{STUDY}/airplane")
        expect(page.get_by_label("stall speed, flaps up")).to_have_value("61 ± 2 kt")


def test_four_flights_lie_on_one_clock_and_stay_over_a_reload(browser: Browser, workbench: str) -> None:
    with window(browser, workbench) as watched:
        page = watched.open(f"{STUDY}/techniques/try?order=flaps-half,gear-up,flaps-up&law=hold%20speed")
        lines = page.locator("#lines li")
        expect(lines).to_have_count(2)
        expect(lines.first).to_contain_text("Flaps half, gear up, flaps up, in hand")
        page.locator("#also-1").select_option("power-only")
        page.locator("#also-2").select_option("gear-up,flaps-up")
        expect(lines).to_have_count(4)
        expect(page.locator("#scores thead th")).to_have_count(5)
        upright = page.locator("#flap-part").get_attribute("transform")
        page.locator("#scrub").fill("12")
        expect(page.locator("#now-words")).to_contain_text("12.0 s:")
        expect(page.locator("#flap-part")).not_to_have_attribute("transform", upright or "")
        page.locator("[data-step='0']").press("PageUp")
        expect(page.get_by_label("Wait before step 1, seconds")).to_have_value("5.0")
        page.goto(workbench + f"{STUDY}/techniques/try")
        expect(lines).to_have_count(4)
        expect(page.get_by_label("Wait before step 1, seconds")).to_have_value("5.0")
