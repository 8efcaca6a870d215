"""The best reachable technique: searched over pauses and flap stops, explained, with printed orders beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError, NotFoundError
from wringout.services.matchups.kept import USUAL_LAW, Kept
from wringout.services.matchups.map_axes import KINDS
from wringout.services.matchups.map_figures import benefit_svg, benefit_words, flight_svg, flight_words
from wringout.services.matchups.searches import DRAWS, STOPS, check_search, technique_searches
from wringout.services.matchups.trials import desk
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
from wringout.web.units import chosen, told_in
from wringout.web.work.maps import search_asked

SEARCH = "wringout.web.work.maps:search_of"
JOB = "search"


USUALLY = Typed({kind.slug: "" for kind in KINDS.values()}, str(USUAL_LAW), str(DRAWS), str(STOPS))


def show(ask: Ask) -> Response:
    """Show what was found last, or for the pilot law that is asked for, and the form for another search."""
    return _page(ask)


def _page(ask: Ask, typed: Typed | None = None, refused: str = "", status: int = HTTPStatus.OK) -> Response:
    title = "The best reachable technique"
    try:
        found = desk(ask.store, ask.slug)
    except (BadInputError, NotFoundError) as error:
        return study_page(ask, "techniques", title, "searches.html", status, kept=None, missing=str(error))
    searches = technique_searches(ask.store, ask.slug)
    kept = _chosen(ask, searches)
    why = None if kept is None else kept.body["why"]
    return study_page(
        ask,
        "techniques",
        title,
        "searches.html",
        status,
        missing="",
        searches=searches,
        kept=None if kept is None else replace(kept, body=told_in(kept.body)),
        figure=None if why is None else (benefit_svg(why, chosen()), benefit_words(why, chosen())),
        flight=None if kept is None or "flight" not in kept.body else _flight(kept.body),
        explained="" if kept is None else _title(kept.body, kept.body["explained_against"]),
        kinds=kinds_of(found),
        laws=LAWS,
        typed=typed or typed_in_address(ask, USUALLY) or _usual(kept),
        refused=refused,
    )


def _chosen(ask: Ask, searches: tuple[Kept, ...]) -> Kept | None:
    wanted = [one for one in searches if one.key == ask.query("search")]
    return max(wanted or searches, key=lambda one: (one.at, one.key), default=None)


def _flight(body: Mapping[str, Any]) -> tuple[str, str]:
    lowest = float(body["thresholds"]["lowest_stall_ratio"])
    return flight_svg(body["flight"], lowest, units=chosen()), flight_words(body["flight"], lowest, chosen())


def _title(body: Mapping[str, Any], key: str | None) -> str:
    return next((str(one["title"]) for one in body["orders"] if one["key"] == key), "")


def _usual(kept: Kept | None) -> Typed:
    if kept is None:
        return USUALLY
    body = kept.body
    written = {kind.slug: str(body["asked"].get(str(condition), "")) for condition, kind in KINDS.items()}
    return Typed(written, str(body["law"] or USUAL_LAW), str(body["draws"]), str(body["stops"]))


def search(ask: Ask) -> Response:
    """Begin to search in the background, or refuse it with what was typed still there."""
    typed = typed_in_form(ask, USUALLY)
    try:
        stops, draws = count_in(typed.stops, "stops", STOPS), count_in(typed.draws, "draws", DRAWS)
        check_search(ask.store, ask.slug, search_asked(typed.written, law_in(typed.law), stops, draws))
        refuse_second(ask, JOB, "a search")
    except (BadInputError, NotFoundError) as error:
        return _page(ask, typed, str(error), HTTPStatus.UNPROCESSABLE_ENTITY)
    title = "Searching the best reachable technique"
    return begin(ask, typed, "search", JOB, title, SEARCH, stops=stops, draws=draws)


AT = "/studies/{slug}/techniques/search"
ROUTES = [get(AT, show), post(AT, search)]
