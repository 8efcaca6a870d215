"""Every page, as anybody may have to read it: with axe, by day and by night, in any width, with doubled letters.

Rules are those of WCAG 2.2 AA and axe's own good practice. The studies are the crowded one and the bundled one.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from starlette.routing import Route

from tests.fleet.flights import GO_AROUND
from tests.web.crowd import CROWDED, NAME
from tests.web.live import SLUG, WORK_MS, Watched, shot, window
from wringout.web.pages import load, page_names, routes_of

AT = f"/studies/{CROWDED}"
CARD = "device:gear%0Aentry+speed:100+kt%0Aaltitude:7000+ft"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WIDE, NARROW = 1280, 390
WIDTHS = (360, NARROW, 768, WIDE, 2560)
LARGE = (NARROW, WIDE)
"""Widths at which letters are doubled too."""
BRIEF = "brief as a page"
PAGES = {
    "home": "/",
    "question": f"{AT}/",
    "airplane": f"{AT}/airplane",
    "plan": f"{AT}/plan",
    "flights": f"{AT}/flights",
    "recording": f"{AT}/recordings/{{logger}}",
    "recording that cannot be read": f"{AT}/recordings/{{bad}}",
    "rows": f"{AT}/recordings/{{logger}}/rows?row=20",
    "strip": f"{AT}/recordings/{{logger}}/strip",
    "run": f"{AT}/runs/F2",
    "captions": f"{AT}/captions",
    "captions, phrases": f"{AT}/recordings/{{said}}/captions",
    "clips": f"{AT}/clips",
    "clip": f"{AT}/recordings/{{dial}}/clip",
    "clocks": f"{AT}/clocks?first={{logger}}&other={{again}}&other={{called}}",
    "findings": f"{AT}/findings",
    "techniques": f"{AT}/techniques",
    "techniques to try": f"{AT}/techniques/try",
    "techniques, map": f"{AT}/techniques/map",
    "techniques, search": f"{AT}/techniques/search",
    "techniques, why": f"{AT}/techniques/why",
    "handbooks": f"{AT}/handbooks",
    "history": f"{AT}/history",
    "diagnostics": f"{AT}/diagnostics",
    "calibration": f"{AT}/calibration",
    "bundle": f"{AT}/bundle",
    "airplane, versions": f"{AT}/airplane/versions",
    "airplane, from a handbook": f"{AT}/airplane/handbook",
    "methods": f"{AT}/methods",
    "methods, a card": f"{AT}/methods?method=level+deceleration&words={CARD}",
    "brief": f"{AT}/brief",
    BRIEF: f"{AT}/brief/files/brief.html",
    "taps": f"{AT}/capture?flight=one",
    "register": "/register",
    "register, what holds": "/register/holds?model=Quillback+230&serial=1100&on=1975-01-01",
    "register, gaps": "/register/check",
    "register, new entry": "/register/new",
    "register, a table": "/register/import",
    "register, entry": "{entry}",
    "register, airplanes": "/register/airplanes",
    "fleet": "/fleet",
    "fleet, pooled": "/fleet/pooled?model=Quillback+230&quantity=area.gear.middle",
    "fleet, export": "/fleet/export",
    "archives": "/archives",
    "archive": "/archives/{archive}",
    "archive, a recording": "{found}",
    "verify": "/verify",
    "verify, a bundle": "/verify/{bundle}",
    "back-ups": "/backups",
    "back-ups, one to take back": "/backups/{backup}/restore",
    "pairing": "/pair",
    "no such page": "/nowhere",
    "no such study": f"/studies/{NAME}/",
    "no such run": f"{AT}/runs/{NAME}",
    "begun, question": f"/studies/{SLUG}/",
    "begun, captions": f"/studies/{SLUG}/captions",
    "begun, plan": f"/studies/{SLUG}/plan",
    "begun, findings": f"/studies/{SLUG}/findings",
    "begun, techniques": f"/studies/{SLUG}/techniques",
    "begun, brief": f"/studies/{SLUG}/brief",
}
PARTS_AND_FILES = {
    "/studies/{slug}/jobs",
    "/jobs",
    "/studies/{slug}/recordings/{sha}/strip.bin",
    "/studies/{slug}/recordings/{sha256}/clip/picture.jpg",
    "/studies/{slug}/recordings/{sha256}/file",
    "/studies/{slug}/plan/{plan}/cards.pdf",
    "/studies/{slug}/capture/{flight}/page.html",
    "/studies/{slug}/capture/{flight}/folder.zip",
    "/studies/{slug}/brief/video/{name}",
    "/register/register.csv",
    "/register/register.json",
    "/register/attachments/{digest}",
    "/archives/{key}/finds.{form}",
    "/studies/{slug}/airplane/versions/{version}.toml",
    "/studies/{slug}/techniques/map/{key}/map.svg",
    "/backups/{name}",
    "/capture/{slug}/{flight}/{key}/",
    "/capture/{slug}/{flight}/{key}/{name}",
}
"""What a browser asks for that is no page of the workbench; the page of taps is looked at in tests/cockpit."""
TOO_WIDE = """() => {
  const wide = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= wide) return [];
  const rolls = (one) => one && one !== document.documentElement &&
    (getComputedStyle(one).overflowX !== "visible" || rolls(one.parentElement));
  const out = [...document.body.querySelectorAll("*")]
    .filter((one) => one.getBoundingClientRect().right > wide + 1 && !rolls(one.parentElement))
    .map((one) => `${one.outerHTML.slice(0, 160)} ends at ${Math.round(one.getBoundingClientRect().right)}`);
  return [`${document.documentElement.scrollWidth} px of ${wide}`, ...out.slice(0, 4)];
}"""
LIGHTER = """() => {
  if (document.querySelectorAll("*").length < 2500) return;
  document.querySelectorAll("tbody > tr:nth-child(n+9), .abreast > :nth-child(n+9), .flow > :nth-child(n+9)")
    .forEach((one) => one.remove());
  document.querySelectorAll("svg[role=img] > :not(title, desc)").forEach((one) => one.remove());
}"""
"""Axe would take long over sixty runs: the ninth of a kind is built as the first eight, and a drawing is one image."""
TWO_FRAMES = "() => new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(() => go())))"


@pytest.fixture(scope="module")
def watched(browser: Browser, workbench: str) -> Iterator[Watched]:
    """Open one window for all pages; what goes wrong in it is asked after each page."""
    with window(browser, workbench, WIDE) as opened:
        yield opened


@pytest.fixture(scope="module")
def known(watched: Watched, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Return what stands for the names in braces, found as a reader finds it."""
    logs = tmp_path_factory.mktemp("logs")
    page = watched.open(f"{AT}/flights")
    recordings = page.get_by_role("region", name="Recordings", exact=True).get_by_role("link")
    addresses = {one.inner_text(): str(one.get_attribute("href")) for one in recordings.all()}
    (logs / NAME).mkdir()
    (logs / NAME / f"{NAME}.csv").write_text(GO_AROUND)
    page = watched.open("/archives")
    page.get_by_label("Folder on this machine").fill(str(logs / NAME))
    page.get_by_role("button", name="Scan it").click()
    found = page.locator("#finds ~ .wide table a").first.get_attribute("href", timeout=WORK_MS)
    archive = page.url.rpartition("/")[2]
    page = watched.open("/verify")
    page.get_by_label("study").select_option(index=1)
    page.get_by_role("button", name="Compute it again").click()
    page.wait_for_url("**/verify/*")
    bundle = page.url.rpartition("/")[2]
    page.get_by_role("button", name="Stop").click()  # what it comes to is looked at in test_verify_pages
    page = watched.open("/backups")
    page.get_by_role("button", name="Write a back-up").click()
    backup = page.locator("table a[download]").first.inner_text()
    page = watched.open("/register")
    entry = page.locator("table a").first.get_attribute("href")
    return {
        "logger": next(to for name, to in addresses.items() if "-F3" in name).rsplit("/", 1)[1],
        "bad": next(to for name, to in addresses.items() if "-bad" in name).rsplit("/", 1)[1],
        "called": next(to for name, to in addresses.items() if "-F1" in name).rsplit("/", 1)[1],
        "again": next(to for name, to in addresses.items() if "-again" in name).rsplit("/", 1)[1],
        "said": next(to for name, to in addresses.items() if "-said" in name).rsplit("/", 1)[1],
        "dial": next(to for name, to in addresses.items() if "-dial" in name).rsplit("/", 1)[1],
        "entry": str(entry),
        "archive": archive,
        "found": str(found),
        "backup": backup,
        "bundle": bundle,
    }


def test_no_page_is_left_out(known: dict[str, str]) -> None:
    asked = [path.format(**known).partition("?")[0] for path in PAGES.values()]
    routes = [r for r in routes_of(load(page_names())) if isinstance(r, Route) and "GET" in (r.methods or ())]
    missing = {r.path for r in routes if not any(r.path_regex.match(path) for path in asked)}
    assert missing == PARTS_AND_FILES


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_read_by_anybody(watched: Watched, known: dict[str, str], name: str) -> None:
    watched.wrong.clear()
    page = watched.page
    page.set_viewport_size({"width": WIDE, "height": 900})
    if name == BRIEF:  # where it is served its own policy lets no script run, not even one that looks
        brief = page.request.get(watched.address + PAGES[name]).text()
        page.goto("about:blank")
        page.set_content(brief)
    else:
        watched.open(PAGES[name].format(**known))
    ready(page)
    said = page.locator("body").inner_text()
    assert not re.search(r"\b(None(?! of the)|nan|NaN|undefined|null|Traceback|\[object)\b", said), said
    if name != BRIEF:  # the newcomer leaves a picture of one
        shot(page, name)
    found = []
    for width in WIDTHS:
        resize(page, width)
        found += [f"{width} px: {what}" for what in page.evaluate(TOO_WIDE)]
    with letters(page, 32):
        for width in LARGE:
            resize(page, width)
            found += [f"{width} px, letters doubled: {what}" for what in page.evaluate(TOO_WIDE)]
    page.evaluate(LIGHTER)
    page.evaluate(Axe().axe_script)
    for theme, width in (("day", WIDE), ("night", NARROW)):  # colours depend on the theme alone, order on the width
        dress(page, theme)
        resize(page, width)
        found += [f"{theme}, {width} px: {barrier}" for barrier in barriers(page)]
    assert not found, "\n".join(found)
    assert not watched.wrong, "\n".join(watched.wrong)


def ready(page: Page) -> None:
    """Wait until what scripts draw is drawn."""
    if page.locator("#strips").count():
        page.locator("#strips canvas").first.wait_for()
        page.locator("#looked table").wait_for()
    if page.locator("#panels").count():
        page.locator("#panels canvas").first.wait_for()


def dress(page: Page, theme: str) -> None:
    """Choose a theme as a reader does; a brief has one only."""
    if page.locator("form.themes").count():
        page.get_by_role("button", name=theme, exact=True).click()
        page.locator(f"html[data-theme={theme}]").wait_for()


@contextlib.contextmanager
def letters(page: Page, size: int) -> Iterator[None]:
    """Set the size of letters as a reader does in the browser's settings; 16 is what it comes with."""
    session = page.context.new_cdp_session(page)
    session.send("Page.setFontSizes", {"fontSizes": {"standard": size, "fixed": size * 13 // 16}})
    yield
    session.send("Page.setFontSizes", {"fontSizes": {"standard": 16, "fixed": 13}})
    session.detach()


def resize(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.evaluate(TWO_FRAMES)


def barriers(page: Page) -> list[str]:
    """Return what axe finds, one line for each rule."""
    asked: dict[str, Any] = {"runOnly": {"type": "tag", "values": RULES}, "resultTypes": ["violations"]}
    where = {"include": [["html"]], "exclude": [["svg > *"]]}  # a drawing is one image with its words
    result = page.evaluate("([where, asked]) => axe.run(where, asked)", [where, asked])
    return [
        f"{one['id']} ({one['help']}): " + "; ".join(str(node["html"])[:160] for node in one["nodes"][:4])
        for one in result["violations"]
    ]
