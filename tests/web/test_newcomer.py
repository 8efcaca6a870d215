"""A newcomer's whole way in a real browser, from an empty shelf to a printed brief, by clicking and typing alone."""

from __future__ import annotations

import io
from importlib.resources import files

import pypdf
from playwright.sync_api import Browser, Locator, Page, expect

from tests.web.live import WAIT_MS, WORK_MS, shot, window

expect.set_options(timeout=WAIT_MS)
QUESTION = "What should come up first after power, the gear or the flaps to half?"
RECORDINGS = files("wringout.services") / "demo_study" / "recordings"
AIRPLANE = {
    "name of the airplane": "Quillback 230 (invented)",
    "where the figures come from": "an invented handbook",
    "wing area": "174 ft2",
    "wing span": "33.5 ft",
    "propeller diameter": "76 in",
    "rated power": "230 ± 5 hp",
    "clean drag area": "4.6 ± 0.7 ft2",
    "stall speed, flaps up": "61 ± 2 kt",
    "angle of flap setting 1": "20 deg",
    "stall speed, flap setting 1": "54 ± 2 kt",
    "limit speed, flap setting 1": "120 kt",
    "angle of flap setting 2": "40 deg",
    "stall speed, flap setting 2": "51 ± 2 kt",
    "limit speed, flap setting 2": "110 kt",
    "gear extend limit, VLO": "130 kt",
    "gear retract limit": "115 kt",
    "gear extended limit, VLE": "140 kt",
    "maximum weight": "3200 lb",
    "never exceed speed": "187 kt",
    "maneuvering speed": "124 kt",
}
"""What a newcomer types into the sheet, by the name each field has; invented."""


def recording(name: str, called: str = "", without: tuple[str, ...] = ()) -> dict[str, object]:
    """Return a bundled recording as a file to choose, without header lines that begin with the words of ``without``."""
    lines = (RECORDINGS / name).read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith(tuple(f"# {word}" for word in without))]
    return {"name": called or name, "mimeType": "text/csv", "buffer": "".join(kept).encode()}


def chapter(page: Page, title: str) -> None:
    """Go to a chapter by its place in the line of chapters."""
    page.get_by_role("navigation", name="Chapters of the study").get_by_role("link", name=title, exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(title)


def when_done(page: Page, title: str) -> Locator:
    """Wait until work is told to be done."""
    told = page.locator("#jobs").get_by_text(f"{title} is done.")
    expect(told).to_be_visible(timeout=WORK_MS)
    return told


def test_a_newcomer_comes_from_an_empty_shelf_to_a_printed_brief(browser: Browser, empty_workbench: str) -> None:
    with window(browser, empty_workbench) as watched:
        page = watched.open("/")
        asks(page)
        describes_the_airplane(page)
        plans_and_prints_cards(page)
        takes_recordings_in(page)
        cuts_a_run(page)
        reduces(page)
        compares(page)
        writes_the_brief(page)
        home(page)


def asks(page: Page) -> None:
    expect(page.locator(".lead")).to_contain_text("The shelf is empty")
    shot(page, "newcomer 1 empty shelf")
    page.get_by_label("What is the question?").fill(QUESTION)
    page.get_by_label("smallest difference that matters").fill("30 ft")
    page.get_by_role("button", name="Begin the study").click()
    expect(page.locator(".study .title")).to_have_text(QUESTION)


def describes_the_airplane(page: Page) -> None:
    expect(page.locator(".lead")).to_contain_text("Nothing is known of the airplane yet")
    for label, text in AIRPLANE.items():
        page.get_by_label(label, exact=True).fill(text)
    page.get_by_role("button", name="Begin with this airplane").click()
    expect(page.locator(".lead")).to_contain_text("it is believed to stall at 51")
    shot(page, "newcomer 2 airplane")


def plans_and_prints_cards(page: Page) -> None:
    chapter(page, "Plan and cards")
    page.get_by_label("repeats, 1 to 6").fill("1")
    page.get_by_role("button", name="Propose the points").click()
    when_done(page, "Proposing points")
    points = page.locator("ol.points > li")
    expect(points.first).to_be_visible()
    page.get_by_label("fuel on board").fill("50 gal")
    page.get_by_label("fuel flow").fill("11 gal/h")
    page.get_by_label("reserve").fill("12 gal")
    page.get_by_label("reserve").press("Tab")
    expect(page.locator("#flight-guard")).to_contain_text("Fuel left at the end 34.2 gal against the reserve 12.0 gal")
    expect(page.locator("#said-flight .kept")).to_have_text("Saved.")
    shot(page, "newcomer 3 plan")
    with page.expect_download() as download:
        page.get_by_role("button", name="Download the cards").click()
    cards = pypdf.PdfReader(download.value.path())
    assert "Quillback" in "".join(sheet.extract_text() for sheet in cards.pages)


def takes_recordings_in(page: Page) -> None:
    chapter(page, "Flights")
    taken = [
        recording("G1-gear-out-and-back.csv"),
        recording("S1-stalls.csv"),
        recording("F3-full-flaps-logger.csv", "panel.csv", without=("method", "device")),
    ]
    page.get_by_label("Choose one or more recordings").set_input_files(taken)  # type: ignore[arg-type]
    page.get_by_role("button", name="Take them in").click()
    arrived = page.get_by_role("region", name="Just taken in")
    expect(arrived.get_by_role("listitem")).to_have_count(3)
    expect(arrived).to_contain_text("Run G1 was made: gear down, then gear up.")
    expect(arrived).not_to_contain_text("None")
    shot(page, "newcomer 4 flights")


def cuts_a_run(page: Page) -> None:
    page.get_by_role("region", name="Just taken in").get_by_role("link", name="panel.csv").click()
    page.get_by_role("link", name="Cut runs on its strip chart").click()
    ends = page.get_by_role("slider", name="Beginning of the stretch")
    expect(ends).to_be_visible()
    expect(page.locator("#looked table")).to_be_visible()
    shot(page, "newcomer 5 strip")
    page.get_by_label("Short name of the run").fill("F1")
    page.get_by_role("button", name="Keep it as a run").click()
    expect(page.get_by_role("heading", name="Runs cut from it")).to_be_visible()


def reduces(page: Page) -> None:
    chapter(page, "Findings")
    page.get_by_role("button", name="Reduce the runs").click()
    when_done(page, "Reducing the runs")
    expect(page.get_by_role("heading", name="Each quantity, by run and method")).to_be_visible()
    shot(page, "newcomer 6 findings")


def compares(page: Page) -> None:
    chapter(page, "Techniques")
    page.get_by_role("button", name="Fly every order").click()
    when_done(page, "Flying every order")
    expect(page.locator(".verdict").first).to_be_visible()
    shot(page, "newcomer 7 techniques")


def writes_the_brief(page: Page) -> None:
    chapter(page, "Brief")
    page.get_by_role("button", name="Write the brief").click()
    when_done(page, "Writing the brief")
    expect(page.locator(".lead")).to_contain_text("says what the study holds now")
    paper = page.frame_locator("iframe.paper")
    expect(paper.get_by_text(QUESTION).first).to_be_visible()
    shot(page, "newcomer 8 brief")
    with page.expect_download() as download:
        page.get_by_role("link", name=".pdf").click()
    printed = pypdf.PdfReader(download.value.path())
    text = " ".join("".join(sheet.extract_text() for sheet in printed.pages).split())
    assert QUESTION in text
    assert "Quillback 230" in text
    frame = page.locator("iframe.paper").element_handle().content_frame()
    assert frame is not None
    again = page.context.new_page()
    again.goto(frame.url)
    by_browser = pypdf.PdfReader(io.BytesIO(again.pdf()))
    assert QUESTION in " ".join(by_browser.pages[0].extract_text().split())
    again.close()


def home(page: Page) -> None:
    page.get_by_role("link", name="Wringout", exact=True).click()
    expect(page.locator(".lead")).to_contain_text("The newest is written up")
    shot(page, "newcomer 9 shelf")
