"""The units a reader chose, and the one place where what pages show is put into them.

Services hand on documents in the units of the trade, each number beside its unit. A page puts a document into the
reader's units as a whole (:func:`told_in`), so that a number never stands beside another one's unit, and its sentences
when it is rendered (:func:`page_in`). Both go through the converter of the briefs. What somebody typed, read or said
(``bdi``, ``q``, fields, and whatever carries ``data-as-read``) keeps its units; inside ``data-limits`` no rounding
makes a limit wider.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, Final

from starlette.requests import HTTPConnection

from wringout.briefs.cards.metric import metric_words
from wringout.briefs.content import Units
from wringout.briefs.metric_words import Exact, in_metric, places_in, title_in_metric
from wringout.numerals import metric as metric_unit
from wringout.units import from_si, to_si

COOKIE: Final = "wringout-units"
AVIATION: Final[Units] = "aviation"
METRIC: Final[Units] = "metric"
CHOICES: Final[tuple[tuple[Units, str], ...]] = ((AVIATION, "knots, feet, pounds"), (METRIC, "metric"))
_CHOSEN: ContextVar[Units] = ContextVar("wringout_units", default=AVIATION)

_WITH_UNIT: Final = frozenset({
    "value", "interval_50", "interval_95", "prior_interval_95", "standard_uncertainty", "median", "medians", "without",
    "together", "values", "between", "crossing", "cost", "observed", "deviation", "behind_by", "difference",
    "sd_before", "sd_after", "between_airplanes_sd", "indicated", "correction", "low", "high", "mean", "prediction_95",
    "centre", "sd",
})  # fmt: skip
"""Fields that are in the ``unit`` of their object, or of the nearest one around it that names a unit."""
_PLAIN: Final = frozenset({"egger"})
"""Fields with plain numbers inside an object that has a unit."""
_OWN_UNIT: Final = {
    "observed_unit": ("observed", "fitted", "reading_sd"),
    "gate_unit": ("gate_value",),
}
"""Units that go by a name of their own, and what is in them."""


def chosen_by(connection: HTTPConnection) -> Units:
    """Return the units that this browser keeps."""
    return METRIC if connection.cookies.get(COOKIE) == METRIC else AVIATION


@contextmanager
def shown_in(units: Units) -> Iterator[None]:
    """Have everything shown inside the ``with`` block in these units."""
    token = _CHOSEN.set(units)
    try:
        yield
    finally:
        _CHOSEN.reset(token)


def chosen() -> Units:
    """Return the units that the reader chose."""
    return _CHOSEN.get()


def is_metric() -> bool:
    """Say whether the reader chose metric units."""
    return _CHOSEN.get() == METRIC


def unit_in(unit: str) -> str:
    """Return the unit in which a number in ``unit`` is shown."""
    return metric_unit(unit) if is_metric() else unit


def number_in(value: Any, unit: str) -> Any:
    """Return a number in ``unit``, or lists of such, in the unit it is shown in; None and NaN stay."""
    target = unit_in(unit)
    if target == unit or value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, list | tuple):
        return [number_in(one, unit) for one in value]
    return float(from_si(to_si(float(value), unit), target))


def places_for_unit(places: int, unit: str) -> int:
    """Return the decimals with which a number in ``unit`` is shown, where it would have ``places`` in that unit."""
    return max(places_in(places, unit), 0) if unit_in(unit) != unit else places


def told_in(document: Any, unit: str = "") -> Any:
    """Return a document with every number that stands beside a unit, and that unit, in the reader's units."""
    if not is_metric():
        return document
    if isinstance(document, list | tuple):
        return [told_in(one, unit) for one in document]
    if not isinstance(document, Mapping):
        return document
    own = document.get("unit", unit)
    own = own if isinstance(own, str) else unit
    found = {
        key: number_in(value, own) if key in _WITH_UNIT and _is_number(value) else told_in(value, _inside(key, own))
        for key, value in document.items()
    }
    if isinstance(document.get("unit"), str):
        found["unit"] = unit_in(own)
    for name, fields in _OWN_UNIT.items():
        if isinstance(document.get(name), str):
            found |= {field: number_in(document[field], document[name]) for field in fields if field in document}
            found[name] = unit_in(document[name])
    return found


def _inside(key: str, unit: str) -> str:
    """Return the unit of what stands inside a field and names none."""
    return "" if key in _PLAIN else unit


def _is_number(value: Any) -> bool:
    if isinstance(value, list | tuple):
        return all(_is_number(one) for one in value)
    return value is None or (isinstance(value, int | float) and not isinstance(value, bool))


def words_in(text: str, exact: Exact = ()) -> str:
    """Return a sentence in the reader's units; ``exact`` as of :func:`wringout.briefs.metric_words.in_metric`."""
    return _plainly(text, exact) if is_metric() else text


def title_in(title: str) -> str:
    """Return the title of a technique in the reader's units."""
    return title_in_metric(title) if is_metric() else title


_TAG: Final = re.compile(r"(<[^>]*>)")
_ATTRIBUTE: Final = re.compile(r'(?<=\s)(title|aria-label|aria-valuetext|placeholder|data-of)="([^"]*)"')
_AS_TYPED: Final = frozenset({"bdi", "q", "textarea", "script", "style", "title", "code"})
_TYPED: Final = re.compile(r"((?<!\w)'[^'\n]{1,200}'(?!\w))")
_VOID: Final = frozenset({"input", "br", "meta", "link", "img", "hr", "wbr", "source", "col"})


def page_in(page: str) -> str:
    """Return a page with its sentences, and the words that stand in for drawings, in the reader's units."""
    if not is_metric():
        return page
    out: list[str] = []
    inside = 0
    way: Callable[[str], str] = _plainly
    for piece in _TAG.split(page):
        if inside and piece.startswith("<"):
            inside += _depth(piece)
        elif piece.startswith("<") and (found := _way_inside(piece)) is not None:
            inside, way = _depth(piece), found
        kept = way if inside and _name(piece) != "textarea" else _plainly
        if piece.startswith("<"):
            out.append(_ATTRIBUTE.sub(lambda found, kept=kept: _attribute(found, kept), piece))
        else:
            out.append(_converted(piece, kept, quote=False))
    return "".join(out)


def _plainly(text: str, exact: Exact = ()) -> str:
    """Convert a sentence but for what a refusal quotes of what was typed, which stands between single quotes."""
    return "".join(part if i % 2 else in_metric(part, exact) for i, part in enumerate(_TYPED.split(text)))


def _as_it_is(text: str) -> str:
    return text


def _never_wider(text: str) -> str:
    return in_metric(metric_words(text))


def _way_inside(tag: str) -> Callable[[str], str] | None:
    """Return how what stands inside an element is turned, where it is not like everything else."""
    if tag.startswith("</"):
        return None
    if _name(tag) in _AS_TYPED or " data-as-read" in tag:
        return _as_it_is
    return _never_wider if " data-limits" in tag else None


def _name(tag: str) -> str:
    found = re.match(r"</?([\w-]+)", tag)
    return found[1].lower() if found else ""


def _depth(tag: str) -> int:
    if tag.startswith("</"):
        return -1
    return 0 if tag.endswith("/>") or tag.startswith("<!") or _name(tag) in _VOID else 1


def _attribute(found: re.Match[str], way: Callable[[str], str]) -> str:
    return f'{found[1]}="{_converted(found[2], way, quote=True)}"'


def _converted(text: str, way: Callable[[str], str], *, quote: bool) -> str:
    plain = html.unescape(text)
    said = way(plain)
    return text if said == plain else html.escape(said, quote=quote)
