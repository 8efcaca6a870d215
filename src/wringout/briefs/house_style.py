"""The house style of figures: warm paper, dark ink, hairlines, one colour per thing, and SVG that is always the same.

Figures are drawn once and used on screen and on paper. They carry text as text in the vendored fonts, no dates and no
random names; :func:`themed` turns their colours into CSS variables so that a page can be read at night.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Any, Final

import matplotlib as mpl
from matplotlib import font_manager
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from wringout.plain_text import visible

FONT_FOLDER: Final = Path(__file__).parent / "fonts"
SERIF: Final = "Literata"
SANS: Final = "Open Sans"

PAPER: Final = "#fbf7ef"
INK: Final = "#211d18"
QUIET: Final = "#6b6358"
FAINT: Final = "#a79f92"
HAIR: Final = "#d8d0c2"
WASH: Final = "#efe8da"

# The Okabe-Ito set (Okabe and Ito, "Color Universal Design", 2008); one colour per thing, everywhere.
GEAR: Final = "#e69f00"
FLAPS: Final = "#0072b2"
POWER: Final = "#009e73"
MARGIN: Final = "#d55e00"
CLEAN: Final = INK

COLOURS: Final = {
    "paper": PAPER,
    "ink": INK,
    "quiet": QUIET,
    "faint": FAINT,
    "hair": HAIR,
    "wash": WASH,
    "gear": GEAR,
    "flaps": FLAPS,
    "power": POWER,
    "margin": MARGIN,
}
"""Name of each colour as a CSS variable (``--ink``) and its value by day."""

WIDTH_IN: Final = 4.6
"""Width of every figure, inches: wide enough for a page column, and still legible across a phone."""
HALF_IN: Final = 3.45
"""Width of a figure that stands beside another one."""
TEXT_PT: Final = 8.0
SMALL_PT: Final = 7.3

_RC: Final[dict[Any, Any]] = {
    "svg.hashsalt": "wringout",
    "svg.fonttype": "none",
    "font.family": [SANS, "DejaVu Sans"],
    "font.size": TEXT_PT,
    "axes.titlesize": TEXT_PT,
    "axes.labelsize": TEXT_PT,
    "xtick.labelsize": SMALL_PT,
    "ytick.labelsize": SMALL_PT,
    "text.color": INK,
    "axes.edgecolor": FAINT,
    "axes.labelcolor": QUIET,
    "axes.linewidth": 0.5,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.facecolor": "none",
    "figure.facecolor": "none",
    "savefig.facecolor": "none",
    "xtick.color": FAINT,
    "ytick.color": FAINT,
    "xtick.labelcolor": QUIET,
    "ytick.labelcolor": QUIET,
    "xtick.major.width": 0.5,
    "ytick.major.width": 0.5,
    "xtick.major.size": 2.5,
    "ytick.major.size": 2.5,
    "lines.solid_capstyle": "butt",
    "lines.linewidth": 1.2,
    "text.usetex": False,
    "text.parse_math": False,
    "axes.unicode_minus": True,
    "path.simplify": True,
}


@cache
def known_fonts() -> None:
    """Make the vendored fonts known to matplotlib, once."""
    known = {entry.fname for entry in font_manager.fontManager.ttflist}
    for path in sorted(FONT_FOLDER.glob("*.ttf")):
        if str(path) not in known:
            font_manager.fontManager.addfont(str(path))


_OUTLINED: ContextVar[bool] = ContextVar("wringout_outlined", default=False)


@contextmanager
def outlined() -> Iterator[None]:
    """Have every figure made inside the ``with`` block draw its letters as shapes, for programs without the fonts."""
    token = _OUTLINED.set(True)
    try:
        yield
    finally:
        _OUTLINED.reset(token)


@contextmanager
def styled(height_in: float, width_in: float = WIDTH_IN) -> Iterator[Figure]:
    """Give an empty figure whose drawing calls, inside the ``with`` block, follow the house style."""
    known_fonts()
    letters = {"svg.fonttype": "path"} if _OUTLINED.get() else {}
    with mpl.rc_context(rc=_RC | letters):
        yield Figure(figsize=(width_in, height_in), layout=None)


def place(figure: Figure, left: float, bottom: float, right: float, top: float) -> Axes:
    """Return axes whose frame stands the given inches away from the figure's edges."""
    width, height = figure.get_size_inches()
    return figure.add_axes((left / width, bottom / height, 1.0 - (left + right) / width, 1.0 - (bottom + top) / height))


_METADATA: Final = {"Date": None, "Creator": None, "Format": None, "Type": None}
_DROPPED: Final = re.compile(r"<\?xml.*?\?>|<!DOCTYPE.*?>|<metadata>.*?</metadata>|<!--.*?-->", re.DOTALL)
_ID: Final = re.compile(r' id="([^"]*)"')
_REFERENCE: Final = re.compile(r'(url\(#|href="#)([^")]+)')


def svg_of(figure: Figure, name: str) -> str:
    """Return a figure as one SVG element; ``name`` keeps its inner ids apart from those of other figures.

    Call it inside the ``styled`` block. The same figure and name give the same text, whenever and wherever drawn.
    """
    buffer = io.StringIO()
    figure.savefig(buffer, format="svg", metadata=_METADATA)
    text = _DROPPED.sub("", "".join(map(_printable, buffer.getvalue()))).strip()
    used = {match.group(2) for match in _REFERENCE.finditer(text)}
    text = _ID.sub(lambda m: f' id="{name}-{m.group(1)}"' if m.group(1) in used else "", text)
    text = _REFERENCE.sub(lambda m: f"{m.group(1)}{name}-{m.group(2)}", text)
    return re.sub(r"\n\s*", "\n", text)


def _printable(character: str) -> str:
    return character if character == "\n" else visible(character)


def themed(svg: str) -> str:
    """Return an SVG whose house colours are CSS variables with the day colour as fall-back."""
    for name, value in COLOURS.items():
        svg = re.sub(rf"{value}\b", f"var(--{name},{value})", svg, flags=re.IGNORECASE)
    return svg
