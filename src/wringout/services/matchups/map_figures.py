"""The figures of maps and searches, their parts and their words, as faces show them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from wringout.briefs.content import Units
from wringout.briefs.figures.benefit import benefit_figure, benefit_words, flight_figure, flight_words
from wringout.briefs.figures.technique_map import (
    MOST_PANELS,
    Panel,
    cell_mark,
    letter_of,
    map_figure,
    map_words,
    panels,
    shown,
)
from wringout.briefs.house_style import themed

__all__ = [
    "MOST_PANELS",
    "Panel",
    "benefit_svg",
    "benefit_words",
    "cell_mark",
    "flight_svg",
    "flight_words",
    "letter_of",
    "map_svg",
    "map_words",
    "panels",
    "shown",
]


def map_svg(body: Mapping[str, Any], in_page: bool = True) -> str:
    """Return a map's figure as SVG; ``in_page`` turns its colours into variables of the page's theme."""
    drawn = map_figure(body)
    return themed(drawn) if in_page else drawn


def benefit_svg(why: Mapping[str, Any], units: Units = "aviation") -> str:
    """Return the figure of why a technique is ahead, its colours variables of the page's theme."""
    return themed(benefit_figure(why, units=units))


def flight_svg(flight: Mapping[str, Any], lowest_ratio: float, name: str = "flight", units: Units = "aviation") -> str:
    """Return the figure of where energy goes, of the drag areas and of the stall margin, in the page's theme."""
    return themed(flight_figure(flight, lowest_ratio, name, units))
