"""Briefs opened in a browser as files, as from a USB stick: nothing is asked of any host, and all of it is there."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.briefs import study
from wringout.briefs.write import Reader, write_for


@pytest.mark.parametrize("reader", ["peers", "members", "instructor"])
def test_a_page_on_a_stick_needs_nothing_but_itself(browser: Browser, tmp_path: Path, reader: Reader) -> None:
    content = study.content(study=study.one_run_study(), with_matchups=False)
    (path,) = (one for one in write_for(content, reader, tmp_path) if one.suffix == ".html")
    context = browser.new_context(viewport={"width": 390, "height": 800}, offline=True)
    try:
        page = context.new_page()
        asked: list[str] = []
        said: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: said.append(message.text))
        page.goto(path.as_uri())
        fonts = page.evaluate("document.fonts.ready.then(f => [...f].filter(x => x.status == 'loaded').length)")
        assert fonts >= 3, "the fonts are inside"
        assert [url for url in asked if url != path.as_uri() and not url.startswith("data:")] == []
        assert said == []
        drawn = page.evaluate("[...document.querySelectorAll('figure svg')].map(s => s.getBoundingClientRect().width)")
        assert drawn
        assert all(width > 200 for width in drawn)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
    finally:
        context.close()
