"""The figure of a map: colours say nothing that letters and hatches do not, and what is not decided looks undecided."""

from __future__ import annotations

import re
from typing import Any

from wringout.briefs.figures.technique_map import cell_mark, map_figure, map_words, panels


def technique(letter: str, begins_with: str) -> dict[str, Any]:
    return {"key": f"{begins_with}-first", "title": f"{begins_with.title()} first", "letter": letter} | {
        "begins_with": begins_with
    }


def cell(outcome: str, best: str | None, probability: float) -> dict[str, Any]:
    begins = best.removesuffix("-first") if best and outcome == "favoured" else None
    return {"outcome": outcome, "best": best, "begins_with": begins, "probability": probability}


def border(one: int, other: int, before: str | None, after: str | None) -> dict[str, Any]:
    return {"cells": [one, other], "before": {"favoured": before}, "after": {"favoured": after}}


def body(**more: Any) -> dict[str, Any]:
    made: dict[str, Any] = {
        "answer": ["“Gear first” is favoured in 2 of 6 cells."],
        "margins": ["“Flaps first” breaks a margin in 1 of 6 cells."],
        "flips": ["Along weight the answer flips once."],
        "axes": [
            {"condition": "weight", "unit": "lb", "values": [2600.0, 2800.0, 3000.0]},
            {"condition": "pilot delay", "unit": "s", "values": [1.0, 2.5]},
        ],
        "techniques": [technique("A", "gear"), technique("B", "flaps")],
        "cells": [
            cell("favoured", "gear-first", 0.97),
            cell("favoured", "flaps-first", 0.92),
            cell("too close to call", "flaps-first", 0.61),
            cell("favoured", "gear-first", 1.0),
            cell("too close to call", "gear-first", 0.4),
            cell("not acceptable", None, 0.0),
        ],
        "borders": [border(0, 1, "gear-first", "flaps-first"), border(1, 2, "flaps-first", None)],
    }
    return made | more


def test_every_cell_says_in_letters_who_leads_and_how_probable_that_is() -> None:
    drawn = map_figure(body())
    texts = re.findall(r"<text[^>]*>([^<]*)</text>", drawn)
    assert {"A 97", "B 92", "B 61", "A 100", "A 40"} <= set(texts)
    assert [cell_mark(body(), n) for n in range(6)] == ["A 97", "B 92", "(B 61)", "A 100", "(A 40)", "x"]
    assert "Gear first" in texts
    assert map_figure(body()) == drawn


def test_what_is_not_decided_is_hatched_and_its_border_broken() -> None:
    drawn = map_figure(body())
    assert drawn.count("<pattern") == 2  # hatched: too close; crossed: nothing acceptable
    sure = map_figure(body(borders=[border(0, 1, "gear-first", "flaps-first")]))
    assert "stroke-dasharray" not in sure
    assert "stroke-dasharray" in drawn
    decided = body(cells=[cell("favoured", "gear-first", 1.0)] * 6, borders=[])
    assert "<pattern" not in map_figure(decided)


def test_a_third_condition_makes_parts_and_the_words_put_margins_first() -> None:
    three = body(
        axes=[*body()["axes"], {"condition": "density altitude", "unit": "ft", "values": [0.0, 4000.0]}],
        cells=body()["cells"] * 2,
    )
    assert [part.title for part in panels(three)] == ["Density altitude 0 ft", "Density altitude 4,000 ft"]
    assert panels(three)[1].cells == ((6, 7, 8), (9, 10, 11))
    assert "Density altitude 4,000 ft" in map_figure(three)
    words = map_words(body())
    assert words.startswith("Map over weight from 2,600 to 3,000 lb and pilot delay from 1 to 2.5 s.")
    assert words.index("breaks a margin") < words.index("is favoured")
