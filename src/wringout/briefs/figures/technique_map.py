"""A map of techniques as a picture: who is favoured where, how sure that is, and where the answer flips.

It is drawn from the map's document (docs/json.md). Letters and hatches say what colours say, so that it reads in grey.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any, Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from wringout.briefs.house_style import (
    FAINT,
    FLAPS,
    GEAR,
    HAIR,
    INK,
    MARGIN,
    PAPER,
    QUIET,
    SANS,
    SMALL_PT,
    WIDTH_IN,
    styled,
    svg_of,
)

Json = Mapping[str, Any]
FAVOURED, TOO_CLOSE, NOT_ACCEPTABLE = "favoured", "too close to call", "not acceptable"
_LEFT, _RIGHT, _BELOW, _ABOVE, _KEY_LINE = 0.6, 0.06, 0.42, 0.24, 0.175
_MOST_TICKS = 9
_MOST_KEYS = 8
_COLOURS: Final = {"gear": GEAR, "flaps": FLAPS}
MOST_PANELS = 12


@dataclass(frozen=True, slots=True)
class Panel:
    """One part of a map: two axes, and the numbers of its cells, row after row of y; ``title`` says what is held."""

    title: str
    x: Json
    y: Json
    cells: tuple[tuple[int, ...], ...]


def panels(body: Json) -> tuple[Panel, ...]:
    """Return a map as parts over its first two axes, one for each combination of values of the others."""
    x, y, *more = body["axes"]
    across, up = len(x["values"]), len(y["values"])
    found = []
    for number, chosen in enumerate(product(*(axis["values"] for axis in reversed(more)))):
        said = [f"{a['condition']} {shown(v)} {a['unit']}" for a, v in zip(reversed(more), chosen, strict=True)]
        first = number * across * up
        rows = tuple(tuple(range(first + r * across, first + (r + 1) * across)) for r in range(up))
        found.append(Panel(", ".join(reversed(said)).capitalize(), x, y, rows))
    return tuple(found)


def shown(value: float) -> str:
    """Return a value of an axis as it is printed."""
    return f"{value:,.0f}" if abs(value) >= 100.0 else f"{value:.3g}"


def letter_of(body: Json, n: int) -> str:
    """Return the letter of the technique that is best in a cell; "" where none is acceptable."""
    best = body["cells"][n]["best"]
    return next((str(t["letter"]) for t in body["techniques"] if t["key"] == best), "")


def cell_mark(body: Json, n: int) -> str:
    """Return what stands for a cell: a letter and a probability in %, in brackets if too close to call, x if none."""
    cell = body["cells"][n]
    if cell["outcome"] == NOT_ACCEPTABLE:
        return "x"
    text = f"{letter_of(body, n)} {100.0 * cell['probability']:.0f}"
    return text if cell["outcome"] == FAVOURED else f"({text})"


def map_figure(body: Json, name: str = "map") -> str:
    """Return the figure of a map as SVG; of more than ``MOST_PANELS`` parts the first ones are drawn."""
    drawn = panels(body)[:MOST_PANELS]
    columns = 1 if len(drawn) == 1 else 2
    rows = -(-len(drawn) // columns)
    width = (WIDTH_IN - columns * (_LEFT + _RIGHT)) / columns
    height = _height(drawn[0], columns)
    keys = _key(body)
    foot = _KEY_LINE * len(keys) + 0.1
    tall = rows * (height + _BELOW + _ABOVE) + foot
    at_border = {n for one in body["borders"] for n in one["cells"]}
    with styled(tall) as figure:
        for place, panel in enumerate(drawn):
            row, column = divmod(place, columns)
            left = column * (WIDTH_IN / columns) + _LEFT
            bottom = tall - (row + 1) * (height + _BELOW + _ABOVE) + _BELOW
            axes = figure.add_axes((left / WIDTH_IN, bottom / tall, width / WIDTH_IN, height / tall))
            _panel(axes, body, panel, at_border, (width, height))
        _draw_key(figure, keys, tall)
        return svg_of(figure, name)


def _height(panel: Panel, columns: int) -> float:
    """Return the height of a panel's axes, inches: cells a little flatter than squares, within reason."""
    rows = len(panel.cells)
    return min(max(0.27 * rows if columns == 1 else 0.2 * rows, 0.8), 3.6 if columns == 1 else 1.9)


def _panel(axes: Axes, body: Json, panel: Panel, at_border: set[int], inches: tuple[float, float]) -> None:
    across, up = len(panel.x["values"]), len(panel.y["values"])
    size = (inches[0] / across, inches[1] / up)
    for r, row in enumerate(panel.cells):
        for c, n in enumerate(row):
            _draw_cell(axes, body, n, (c, r))
            _mark_cell(axes, body, n, (c + 0.5, r + 0.5), n in at_border, size)
    places = {n: (c, r) for r, row in enumerate(panel.cells) for c, n in enumerate(row)}
    for border in body["borders"]:
        _draw_border(axes, border, places)
    axes.set_xlim(0.0, across)
    axes.set_ylim(0.0, up)
    _ticks(axes, panel)
    axes.set_xlabel(f"{panel.x['condition']}, {panel.x['unit']}", labelpad=2.0)
    axes.set_ylabel(f"{panel.y['condition']}, {panel.y['unit']}")
    axes.yaxis.set_label_coords(-(_LEFT - 0.19) / inches[0], 0.5)
    for side in ("left", "bottom"):
        axes.spines[side].set_visible(False)
    axes.tick_params(length=0)
    if panel.title:
        axes.set_title(panel.title, loc="left", fontsize=SMALL_PT, color=INK, pad=3.0)


def _ticks(axes: Axes, panel: Panel) -> None:
    for values, put in ((panel.x["values"], axes.set_xticks), (panel.y["values"], axes.set_yticks)):
        every = -(-len(values) // _MOST_TICKS)
        chosen = range(0, len(values), every)
        put([place + 0.5 for place in chosen], [shown(values[place]) for place in chosen])


def _draw_cell(axes: Axes, body: Json, n: int, corner: tuple[int, int]) -> None:
    cell = body["cells"][n]
    outcome, begins = cell["outcome"], cell["begins_with"]
    axes.add_patch(Rectangle(corner, 1.0, 1.0, **_look(outcome, begins)))
    axes.add_patch(Rectangle(corner, 1.0, 1.0, facecolor="none", edgecolor=PAPER, linewidth=0.6))


def _look(outcome: str, begins: str | None) -> dict[str, Any]:
    """Return how a cell is filled: plain colour if favoured, hatched if too close, crossed if nothing is acceptable."""
    colour = _COLOURS.get(begins or "", FAINT)
    if outcome == FAVOURED:
        return {"facecolor": colour, "alpha": 0.5, "linewidth": 0.0}
    if outcome == TOO_CLOSE:
        return {"facecolor": "none", "edgecolor": colour, "hatch": "////", "linewidth": 0.0, "alpha": 0.9}
    return {"facecolor": "none", "edgecolor": MARGIN, "hatch": "xxxx", "linewidth": 0.0, "alpha": 0.75}


def _mark_cell(
    axes: Axes, body: Json, n: int, at: tuple[float, float], border: bool, size: tuple[float, float]
) -> None:
    """Write a cell's letter, and its probability where there is room for it; border cells in heavy type."""
    cell = body["cells"][n]
    if cell["outcome"] == NOT_ACCEPTABLE or size[0] < 0.1 or size[1] < 0.1:
        return
    letter, share = letter_of(body, n), f"{100.0 * cell['probability']:.0f}"
    if size[0] >= 0.34:
        text = f"{letter} {share}"
    else:
        text = f"{letter}\n{share}" if border and size[0] >= 0.18 and size[1] >= 0.24 else letter
    sure = cell["outcome"] == FAVOURED
    back = {"boxstyle": "square,pad=0.12", "facecolor": PAPER, "edgecolor": "none", "alpha": 0.85}
    axes.text(
        *at,
        text,
        ha="center",
        va="center",
        color=INK if sure else QUIET,
        fontsize=min(SMALL_PT, 60.0 * size[1]),
        fontfamily=SANS,
        fontweight=600 if border else 400,
        linespacing=1.0,
        bbox=None if sure else back,
    )


def _draw_border(axes: Axes, border: Json, places: Mapping[int, tuple[int, int]]) -> None:
    """Draw a flip between two cells of a panel: solid where both sides are favoured, broken where one is not."""
    one, other = border["cells"]
    if one not in places or other not in places:
        return
    (c, r), (c2, _) = places[one], places[other]
    xs, ys = ((c2, c2), (r, r + 1)) if c2 != c else ((c, c + 1), (r + 1, r + 1))
    sure = border["before"]["favoured"] and border["after"]["favoured"]
    axes.plot(xs, ys, color=INK, lw=2.0 if sure else 1.3, ls="solid" if sure else (0, (2.2, 1.4)), zorder=5)


def _key(body: Json) -> list[tuple[dict[str, Any] | None, str, str]]:
    """Return the lines of the key: a look, a letter and words."""
    lettered = sorted((t for t in body["techniques"] if t["letter"]), key=lambda t: t["letter"])
    lines: list[tuple[dict[str, Any] | None, str, str]] = [
        (_look(FAVOURED, t["begins_with"]), t["letter"], t["title"]) for t in lettered[:_MOST_KEYS]
    ]
    if len(lettered) > _MOST_KEYS:
        lines.append((None, "", f"and {len(lettered) - _MOST_KEYS} more, named in the table"))
    outcomes = {cell["outcome"] for cell in body["cells"]}
    if TOO_CLOSE in outcomes:
        lines.append(
            (_look(TOO_CLOSE, None), "", "hatched: too close to call; coloured where all that lead begin alike")
        )
    if NOT_ACCEPTABLE in outcomes:
        lines.append((_look(NOT_ACCEPTABLE, None), "", "crossed: no technique keeps the stated margins"))
    lines.append((None, "97", "share of draws, %, in which the best is ahead of its nearest rival"))
    if body["borders"]:
        lines.append((None, "-", "border: the answer flips; broken where one side is undecided"))
    return lines


def _draw_key(figure: Figure, lines: Sequence[tuple[dict[str, Any] | None, str, str]], tall: float) -> None:
    """Draw the key under the panels."""
    height = _KEY_LINE * len(lines) + 0.06
    axes = figure.add_axes((0.0, 0.0, 1.0, height / tall))
    axes.set_xlim(0.0, WIDTH_IN)
    axes.set_ylim(len(lines), 0.0)
    axes.axis("off")
    for row, (look, letter, words) in enumerate(lines):
        if look is not None:
            axes.add_patch(Rectangle((0.04, row + 0.14), 0.3, 0.72, **look))
            axes.add_patch(Rectangle((0.04, row + 0.14), 0.3, 0.72, facecolor="none", edgecolor=HAIR, linewidth=0.4))
        if letter == "-":
            axes.plot((0.04, 0.34), (row + 0.5, row + 0.5), color=INK, lw=2.0)
        else:
            axes.text(0.19, row + 0.5, letter, ha="center", va="center", fontsize=SMALL_PT, color=INK)
        axes.text(0.44, row + 0.5, words, ha="left", va="center", fontsize=SMALL_PT, color=INK)


def map_words(body: Json) -> str:
    """Return a map's figure in words, for those who do not see it."""
    x, y = body["axes"][:2]
    spans = [f"{a['condition']} from {shown(a['values'][0])} to {shown(a['values'][-1])} {a['unit']}" for a in (x, y)]
    return f"Map over {spans[0]} and {spans[1]}. {' '.join((*body['margins'][:1], *body['answer'], *body['flips']))}"
