"""Colours of what lies on a picture: those of the house by day, and those of its night theme on a dark picture."""

from __future__ import annotations

from typing import Final

from wringout.briefs.house_style import COLOURS

NIGHT: Final = {
    "paper": "#16120d",
    "ink": "#f0e6d2",
    "quiet": "#c9bda6",
    "faint": "#a2967f",
    "hair": "#5a5040",
    "wash": "#3a3227",
    "gear": "#e6a940",
    "flaps": "#7fb4d2",
    "power": "#7cb894",
    "margin": "#e8834c",
}
"""The night theme, lighter than on a screen in the cockpit: it must stand out from a moving picture."""


def palette(dark: bool) -> dict[str, str]:
    """Return colours by name."""
    return NIGHT if dark else COLOURS


def recoloured(svg: str, dark: bool) -> str:
    """Return an SVG of the house for a light or a dark picture."""
    if dark:
        for name, value in COLOURS.items():
            svg = svg.replace(value, NIGHT[name])
    return svg
