"""Maps: which technique is favoured over two or more conditions, what would settle it, and the run to fly next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError, NotFoundError, WringoutError
from wringout.services.matchups.kept import USUAL_LAW, Kept
from wringout.services.matchups.map_axes import KINDS, usual_ranges
from wringout.services.matchups.map_figures import MOST_PANELS, cell_mark, letter_of, map_svg, map_words, panels, shown
from wringout.services.matchups.maps import DRAWS, check_map, competing, forget_map, technique_map, technique_maps
from wringout.services.matchups.plans import techniques_of
from wringout.services.matchups.searches import technique_searches
from wringout.services.matchups.trials import Desk, desk
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.map_forms import (
    LAWS,
    Typed,
    begin,
    count_in,
    kinds_of,
    law_in,
    refuse_second,
    typed_in_address,
    typed_in_form,
)
from wringout.web.routing import get, post
from wringout.web.units import number_in, title_in, told_in
from wringout.web.work.maps import map_asked

FLY = "wringout.web.work.maps:fly_map_of"
JOB = "map"


USUALLY = Typed({}, str(USUAL_LAW), str(DRAWS))


def show(ask: Ask) -> Response:
    """Show the newest map, or the one that is asked for, and the form for another."""
    return _page(ask)


def _page(
    ask: Ask,
    typed: Typed | None = None,
    refused: WringoutError | None = None,
    status: int = HTTPStatus.OK,
) -> Response:
    try:
        found = desk(ask.store, ask.slug)
    except (BadInputError, NotFoundError) as error:
        return study_page(ask, "techniques", "Map of techniques", "maps.html", status, kept=None, missing=str(error))
    maps = technique_maps(ask.store, ask.slug)
    kept = _chosen(ask, maps)
    return study_page(
        ask,
        "techniques",
        "Map of techniques",
        "maps.html",
        status,
        missing="",
        maps=maps,
        kept=None if kept is None else replace(kept, body=_told(kept.body)),
        view=None if kept is None else _view(_told(kept.body)),
        kinds=kinds_of(found),
        laws=LAWS,
        orders=competing(techniques_of(found.plan, found.beliefs), ()),
        searched=[one.key for one in technique_searches(ask.store, ask.slug)],
        typed=typed or typed_in_address(ask, USUALLY) or _usual(found, kept),
        refused=refused or "",
        to_reduce=isinstance(refused, NotFoundError) and refused.advice.startswith("reduce it"),
    )


def _chosen(ask: Ask, maps: tuple[Kept, ...]) -> Kept | None:
    if key := ask.query("map"):
        return technique_map(ask.store, ask.slug, key)
    return max(maps, key=lambda one: (one.at, one.key), default=None)


def _usual(found: Desk, kept: Kept | None) -> Typed:
    if kept is None:
        return replace(USUALLY, written=usual_ranges(found.plan.domain))
    body = kept.body
    written = {kind.slug: str(body["asked"].get(str(condition), "")) for condition, kind in KINDS.items()}
    best = body.get("found_by_search")
    chosen = tuple(t["key"] for t in body["techniques"] if t["key"] != best) if body["chosen"] else ()
    return Typed(
        written, str(body["law"] or USUAL_LAW), str(body["draws"]), orders=chosen, with_search=best is not None
    )


def _told(body: Mapping[str, Any]) -> dict[str, Any]:
    """Return a map's document in the reader's units; what a cell is at has the units of the axes."""
    at = [
        [number_in(value, axis["unit"]) for value, axis in zip(cell["at"], body["axes"], strict=True)]
        for cell in body["cells"]
    ]
    told: dict[str, Any] = dict(told_in(body))
    return told | {"cells": [{**cell, "at": place} for cell, place in zip(told["cells"], at, strict=True)]}


def _view(body: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the page shows of a map besides its document: figure, words, tables."""
    parts = panels(body)
    titles = {t["key"]: title_in(t["title"]) for t in body["techniques"]}
    return {
        "figure": map_svg(body),
        "words": map_words(body),
        "left_out": max(len(parts) - MOST_PANELS, 0),
        "letters": sorted((t for t in body["techniques"] if t["letter"]), key=lambda t: t["letter"]),
        "marks": [cell_mark(body, n) for n in range(len(body["cells"]))],
        "letter_of": [letter_of(body, n) for n in range(len(body["cells"]))],
        "titles": titles,
        "shown": shown,
    }


def fly(ask: Ask) -> Response:
    """Begin to fly a map in the background, or refuse it with what was typed still there."""
    typed = typed_in_form(ask, USUALLY)
    try:
        draws = count_in(typed.draws, "draws", DRAWS)
        asked = map_asked(typed.written, law_in(typed.law), typed.orders, draws, typed.with_search)
        check_map(ask.store, ask.slug, asked)
        refuse_second(ask, JOB, "a map")
    except (BadInputError, NotFoundError) as error:
        return _page(ask, typed, error, HTTPStatus.UNPROCESSABLE_ENTITY)
    more = {"orders": typed.orders, "draws": draws, "with_search": typed.with_search}
    return begin(ask, typed, "map", JOB, "Flying a map", FLY, **more)


def figure(ask: Ask) -> Response:
    """Hand the figure of a map out, as it is drawn on the page."""
    kept = technique_map(ask.store, ask.slug, ask.path("key"))
    headers = {"Content-Disposition": 'attachment; filename="map.svg"'}
    return Response(map_svg(_told(kept.body)).encode(), media_type="image/svg+xml", headers=headers)


def forget(ask: Ask) -> Response:
    """Take a map off the shelf; its revisions stay."""
    forget_map(ask.store, ask.slug, ask.path("key"))
    return ask.go(f"/studies/{ask.slug}/techniques/map")


AT = "/studies/{slug}/techniques/map"
ROUTES = [get(AT, show), get(f"{AT}/{{key}}/map.svg", figure), post(AT, fly), post(f"{AT}/{{key}}/forget", forget)]
