"""The scripts print numbers as the pages do: both are asked the same, in a real browser."""

from __future__ import annotations

import math
from importlib.resources import files

import pytest
from playwright.sync_api import Browser

from wringout.numerals import count, number, places_for, symbol

VALUES = (0.0, -0.0, 0.04, -0.04, 1.0, -1.26, 12.3456, 999.96, 1000.4, 2948.1, -1234567.89, 1e-9)


@pytest.mark.parametrize(
    ("value", "places", "printed"),
    [
        (2948.1, 0, "2,948"),
        (-12.4, 0, "\N{MINUS SIGN}12"),
        (-0.04, 1, "0.0"),
        (1234.0, -2, "1,200"),
        (None, 0, "not known"),
        (math.nan, 0, "not known"),
        (math.inf, 2, "never"),
    ],
)
def test_a_number_is_printed_one_way(value: float | None, places: int, printed: str) -> None:
    assert number(value, places) == printed


def test_counts_and_symbols_are_words() -> None:
    assert (count(1, "run"), count(10, "run"), count(1200, "row")) == ("one run", "ten runs", "1,200 rows")
    assert (symbol("ft2"), symbol("1"), symbol("kt")) == ("ft²", "", "kt")
    assert [places_for(sd) for sd in (0.12, 0.0367, 12.0, 380.0, 0.0)] == [2, 2, 0, -2, 2]  # the PDG rule, by hand


def test_scripts_print_the_same(browser: Browser) -> None:
    script = (files("wringout.web") / "static" / "numbers.js").read_text(encoding="utf-8").replace("export ", "")
    page = browser.new_page()
    try:
        page.add_script_tag(content=script)
        asked = [[value, places] for value in VALUES for places in (0, 1, 2)]
        found = page.evaluate("asked => asked.map(([value, places]) => shown(value, places))", asked)
        assert found == [number(value, int(places)) for value, places in asked]
        assert page.evaluate("[shown(null), shown(NaN), shown(Infinity)]") == ["not known", "not known", "never"]
        assert page.evaluate("[quantity(-12.4, 'ft'), quantity(3.26, '°', 1), quantity(0.5, '', 2), clock(3725)]") == [
            "\N{MINUS SIGN}12\N{NO-BREAK SPACE}ft",
            "3.3°",
            "0.50",
            "1:02:05",
        ]
    finally:
        page.close()
