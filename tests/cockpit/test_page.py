"""The page of taps in a real browser: nothing tapped is lost or doubled, whatever happens to tab, network and clock."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, Playwright, sync_playwright

from tests.cockpit.bench import CARD, host, kill, log_of, open_context, ready
from wringout.cockpit.page import PAGE, folder_files, page_with_card, single_file
from wringout.recordings.reader import read_recording
from wringout.units import KNOT

LEAST_TAP_PX = 94  # 15 mm where a CSS pixel is 0.16 mm, as on handhelds (160 to the inch, the reference density)


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as started:
        yield started


@pytest.fixture
def context(playwright: Playwright, tmp_path: Path) -> Iterator[BrowserContext]:
    opened = open_context(playwright, tmp_path / "profile")
    yield opened
    opened.close()


TAP_MANY = """async ([count, seed]) => {
  let state = seed;
  const dice = () => (state = (state * 1103515245 + 12345) % 2147483648) / 2147483648;
  const press = (key) => key.dispatchEvent(new PointerEvent("pointerdown", { button: 0, bubbles: true }));
  const tapped = [];
  while (tapped.length < count) {
    const view = dice() < 0.5 ? "marks" : "speeds";
    press(document.querySelector(`nav button[data-view=${view}]`));
    const undo = document.getElementById("undo");
    if (dice() < 0.05 && !undo.disabled && tapped.length && tapped.at(-1) !== "undo") {
      await new Promise((done) => setTimeout(done, 60));
      press(undo);
      tapped.push("undo");
      continue;
    }
    const keys = [...document.querySelectorAll(`#view-${view} button:not(.wide):not(.shift)`)];
    const key = keys[Math.floor(dice() * keys.length)];
    tapped.push(view === "marks" ? key.textContent : Number(key.textContent));
    press(key);
    await new Promise((done) => setTimeout(done, dice() < 0.3 ? 0 : 20 * dice()));
  }
  return tapped;
}"""
"""Presses keys as fast as no hand can, and returns what each said when it was pressed."""


TAPS_KEPT = """(many) => new Promise((done, failed) => {
  const opening = indexedDB.open("wringout-capture");
  opening.onerror = () => failed(opening.error);
  opening.onsuccess = () => {
    const events = opening.result.transaction("log").objectStore("log").getAll();
    events.onerror = () => failed(events.error);
    events.onsuccess = () => {
      opening.result.close();
      done(events.result.filter((event) => ["mark", "reading", "undo"].includes(event.kind)).length >= many);
    };
  };
})"""
"""Whether the device has so many taps in its database; the screen also counts openings and clock comparisons."""


def tap_many(page: Page, count: int, seed: int) -> list[Any]:
    """Tap marks, speeds and now and then undo, and return what was tapped, in order."""
    tapped: list[Any] = page.evaluate(TAP_MANY, [count, seed])
    return tapped


def wait_for_taps(page: Page, many: int) -> None:
    """Wait until the device has so many taps; a function that promises its answer is not waited for by the browser."""
    for _ in range(1200):
        if page.evaluate(TAPS_KEPT, many):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"the device never had {many} taps")


def said(events: list[dict[str, Any]]) -> list[Any]:
    """Return marks, speeds and undos of a log, in order."""
    words = {"mark": "label", "reading": "value"}
    return [
        "undo" if event["kind"] == "undo" else event[words[event["kind"]]]
        for event in events
        if event["kind"] in {"mark", "reading", "undo"}
    ]


def test_a_thousand_taps_survive_kills_a_cut_network_and_a_stepped_clock(
    playwright: Playwright, tmp_path: Path
) -> None:
    """Five openings of 200 taps: each ends with the browser killed, the network cut, the clock stepped meanwhile."""
    profile, tapped = tmp_path / "profile", []
    with host({**CARD, "deliver": "taps"}) as (url, receiver):
        for opening in range(5):
            context = open_context(playwright, profile)
            page = context.pages[0]
            ready(page, url)
            if opening % 2:
                context.set_offline(True)
            for part in range(2):
                tapped += tap_many(page, 100, 1000 * opening + part + 1)
                if part == 0:
                    page.evaluate("() => { const at = Date.now.bind(Date); Date.now = () => at() - 5400000; }")
            wait_for_taps(page, len(tapped))
            kill(profile)
        context = open_context(playwright, profile)
        page = context.pages[0]
        ready(page, url)
        page.wait_for_function(
            "() => { const { kept, delivered } = document.getElementById('kept').dataset; "
            "return Number(kept) > 1000 && kept === delivered; }"
        )
        events = log_of(page)
        kill(profile)
    assert said(events) == tapped
    assert [event["sequence"] for event in events] == list(range(1, len(events) + 1))
    delivered = [receiver.taps[place] for place in sorted(receiver.taps)]
    assert said(delivered) == tapped
    tapped_at = [event for event in events if event["kind"] != "clock"]  # that one holds when the question was sent
    times = [event["mono_ms"] for event in tapped_at]
    openings = [event["epoch"] for event in tapped_at]
    assert all(a <= b for a, b, e, f in zip(times, times[1:], openings, openings[1:], strict=False) if e == f)
    assert len(set(openings)) == 6


def test_an_answer_that_is_lost_delivers_again_without_doubling(context: BrowserContext) -> None:
    with host({**CARD, "deliver": "taps"}) as (url, receiver):
        receiver.lose_answers = True
        page = context.pages[0]
        ready(page, url)
        page.locator("#view-marks button", has_text="power set").click()
        page.wait_for_timeout(500)
        assert receiver.posts >= 1
        assert page.locator("#kept").get_attribute("data-delivered") == "0"
        receiver.lose_answers = False
        page.evaluate("dispatchEvent(new Event('online'))")
        page.wait_for_function("Number(document.getElementById('kept').dataset.delivered) >= 2")
        labels = [tap.get("label") for tap in receiver.taps.values() if tap["kind"] == "mark"]
    assert labels == ["power set"]


def test_the_page_opens_again_after_its_host_has_gone(context: BrowserContext) -> None:
    """Loopback is a secure context, as HTTPS is: there the page installs itself."""
    page = context.pages[0]
    with host(CARD) as (url, _):
        ready(page, url)
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.locator("#view-marks button", has_text="gear down and locked").click()
        page.wait_for_function("Number(document.getElementById('kept').dataset.kept) >= 2")
        page.reload()
    ready(page, url)
    assert "gear down and locked" in page.locator("#last").inner_text()


def test_one_file_alone_hands_over_a_log_that_reads_as_a_recording(context: BrowserContext, tmp_path: Path) -> None:
    alone = tmp_path / "taps.html"
    alone.write_text(single_file({**CARD, "title": "</script><b>Invented & bold"}), encoding="utf-8")
    page = context.pages[0]
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    ready(page, alone.as_uri())
    page.locator("#view-marks button").nth(1).click()
    page.locator("nav button", has_text="Speeds").click()
    page.locator("#view-speeds button", has_text="118").click()
    page.locator("#view-speeds button", has_text="113").click()
    page.locator("nav button", has_text="More").click()
    page.locator("#note").fill("=1+1 <b>bumpy</b>")
    page.locator("#keep-note").click()
    page.locator("nav button", has_text="Watch").click()
    page.locator("#view-timer button", has_text="gear").click()
    page.locator("#view-timer button", has_text="gear").click()
    page.locator("#kept[data-kept='7']").wait_for()
    page.locator("nav button", has_text="More").click()
    with page.expect_download() as handed:
        page.locator("#hand-over").click()
    data = Path(handed.value.path()).read_bytes()
    found = read_recording(data, handed.value.suggested_filename)
    assert handed.value.suggested_filename.endswith(".taps")
    speeds = found.channels["ias"].values / KNOT
    assert [round(speed) for speed in speeds if speed == speed] == [118, 113]
    assert [mark.label for mark in found.marks] == ["gear down", "=1+1 <b>bumpy</b>", "gear moving", "gear stopped"]
    assert [address for address in asked if not address.startswith(("file:", "blob:"))] == []


def test_undo_takes_back_the_last_tap_and_keeps_both(context: BrowserContext) -> None:
    with host(CARD) as (url, _):
        page = context.pages[0]
        ready(page, url)
        page.locator("#view-marks button", has_text="power set").click()
        page.locator("#view-marks button", has_text="stable").click()
        page.wait_for_function("document.getElementById('last').textContent.includes('stable')")
        page.locator("#undo").click()
        page.wait_for_function("document.getElementById('last').textContent.includes('power set')")
        assert said(log_of(page)) == ["power set", "stable", "undo"]


def test_points_follow_the_card_and_survive_a_reload(context: BrowserContext) -> None:
    with host(CARD) as (url, _):
        page = context.pages[0]
        ready(page, url)
        page.locator("#view-marks button", has_text="Next point").click()
        page.wait_for_function("document.getElementById('point-title').textContent.startsWith('Flaps full')")
        page.reload()
        page.wait_for_function("document.getElementById('point-title').textContent.startsWith('Flaps full')")
        page.locator("nav button", has_text="Speeds").click()
        assert "105" in page.locator("#view-speeds").inner_text()


def test_two_windows_on_one_device_never_give_the_same_place_twice(context: BrowserContext) -> None:
    with host(CARD) as (url, _):
        one, other = context.pages[0], context.new_page()
        ready(one, url)
        ready(other, url)
        for page in (one, other) * 10:
            page.evaluate(
                "document.querySelector('#view-marks button:nth-child(4)')"
                ".dispatchEvent(new PointerEvent('pointerdown', { button: 0, bubbles: true }))"
            )
        one.wait_for_function("Number(document.getElementById('kept').dataset.kept) >= 22")
        events = log_of(one)
    places = [event["sequence"] for event in events]
    assert places == list(range(1, len(places) + 1))
    assert said(events).count("stable") == 20


@pytest.mark.parametrize(("width", "height"), [(390, 844), (360, 640), (768, 1024), (844, 390)])
def test_every_target_is_large_enough_for_gloves(context: BrowserContext, width: int, height: int) -> None:
    least = LEAST_TAP_PX if width >= 390 else 84  # a 360 px screen has coarser pixels (0.18 mm)
    with host(CARD) as (url, _):
        page = context.pages[0]
        page.set_viewport_size({"width": width, "height": height})
        ready(page, url)
        for view in ("Marks", "Speeds", "Watch", "More"):
            page.locator("nav button", has_text=view).click()
            for button in page.locator("button:visible").all():
                box = button.bounding_box()
                assert box is not None
                assert min(box["width"], box["height"]) >= least, (view, button.inner_text(), box)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("ground", ["white", "black"])
def test_the_page_has_no_barrier_that_axe_knows(context: BrowserContext, ground: str) -> None:
    with host(CARD) as (url, _):
        page = context.pages[0]
        ready(page, url)
        page.locator("#view-marks button").first.click()
        page.evaluate("(ground) => { document.documentElement.dataset.ground = ground; }", ground)
        for view in ("Marks", "Speeds", "Watch", "More"):
            page.locator("nav button", has_text=view).click()
            found = Axe().run(page)
            assert found.violations_count == 0, found.generate_report()


def test_the_page_works_by_keyboard_alone(context: BrowserContext) -> None:
    with host(CARD) as (url, _):
        page = context.pages[0]
        ready(page, url)
        page.locator("#view-marks button", has_text="gear down").first.focus()
        page.keyboard.press("Enter")
        page.wait_for_function("document.getElementById('last').textContent.includes('gear down')")
        assert said(log_of(page)) == ["gear down"]


def test_a_full_device_says_that_nothing_was_kept(context: BrowserContext) -> None:
    with host(CARD) as (url, _):
        page = context.pages[0]
        ready(page, url)
        page.evaluate(
            "() => { IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError'); }; }"
        )
        page.locator("#view-marks button", has_text="stable").click()
        page.wait_for_function("document.getElementById('last').textContent.includes('NOT KEPT: stable')")
        assert "paper" in page.locator("#last").inner_text()


def test_a_card_cannot_end_the_element_it_stands_in() -> None:
    page = page_with_card({**CARD, "title": "</script><script>alert(1)</script>"})
    assert "</script><script>alert" not in page
    assert set(folder_files(CARD)) >= {PAGE, "sw.js", "manifest.webmanifest"}
