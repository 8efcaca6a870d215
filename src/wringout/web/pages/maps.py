"""Maps: which technique is favoured over two or more conditions, what would settle it, and the run to fly next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError, NotFoundError
from wringout.services.matchups.map_axes import KINDS, usual_ranges
from wringout.services.matchups.map_figures import MOST_PANELS, cell_mark, letter_of, map_svg, map_words, panels, shown
from wringout.services.matchups.maps import (
    DRAWS,
    USUAL_LAW,
    KeptMap,
    check_map,
    forget_map,
    technique_map,
    technique_maps,
)
from wringout.services.matchups.trials import Desk, desk
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.map_forms import (
    LAWS,
    address,
    count_in,
    kinds_of,
    law_in,
    refuse_second,
    written_in,
    written_in_address,
)
from wringout.web.map_work import map_asked
from wringout.web.routing import get, post

FLY = "wringout.web.map_work:fly_map_of"
JOB = "map"


@dataclass(frozen=True, slots=True)
class Typed:
    """What stands in the form: a text for each condition, the law, the orders that compete (none: all), the draws."""

    written: Mapping[str, str]
    law: str
    orders: tuple[str, ...]
    draws: str


def show(ask: Ask) -> Response:
    """Show the newest map, or the one that is asked for, and the form for another."""
    return _page(ask)


def _page(ask: Ask, typed: Typed | None = None, refused: str = "", status: int = HTTPStatus.OK) -> Response:
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
        kept=kept,
        view=None if kept is None else _view(kept.body),
        kinds=kinds_of(found),
        laws=LAWS,
        orders=[technique for technique in found.known if technique.complete] or found.known,
        typed=typed or _from_address(ask) or _usual(found, kept),
        refused=refused,
    )


def _chosen(ask: Ask, maps: tuple[KeptMap, ...]) -> KeptMap | None:
    if key := ask.query("map"):
        return technique_map(ask.store, ask.slug, key)
    return max(maps, key=lambda one: (one.at, one.key), default=None)


def _from_address(ask: Ask) -> Typed | None:
    """Return what the address carries of a form that was sent, so that a map that was stopped can be asked again."""
    if not ask.query("law"):
        return None
    orders = tuple(ask.request.query_params.getlist("order"))
    return Typed(written_in_address(ask), ask.query("law"), orders, ask.query("draws", str(DRAWS)))


def _usual(found: Desk, kept: KeptMap | None) -> Typed:
    if kept is not None:
        asked = kept.body["asked"]
        chosen = tuple(t["key"] for t in kept.body["techniques"]) if kept.body["chosen"] else ()
        written = {kind.slug: str(asked.get(str(condition), "")) for condition, kind in KINDS.items()}
        return Typed(written, str(kept.body["law"] or USUAL_LAW), chosen, str(kept.body["draws"]))
    return Typed(usual_ranges(found.plan.domain), str(USUAL_LAW), (), str(DRAWS))


def _view(body: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the page shows of a map besides its document: figure, words, tables."""
    parts = panels(body)
    titles = {t["key"]: t["title"] for t in body["techniques"]}
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
    written = written_in(ask)
    typed = Typed(written, ask.text("law", str(USUAL_LAW)), ask.texts("order"), ask.text("draws", str(DRAWS)).strip())
    try:
        draws = count_in(typed.draws, "draws", DRAWS)
        check_map(ask.store, ask.slug, map_asked(written, law_in(typed.law), typed.orders, draws))
        refuse_second(ask, JOB, "a map")
    except (BadInputError, NotFoundError) as error:
        return _page(ask, typed, str(error), HTTPStatus.UNPROCESSABLE_ENTITY)
    here = f"/studies/{ask.slug}/techniques/map"
    ask.jobs.start(
        ask.slug, JOB, "Flying a map", here, FLY,
        slug=ask.slug, written=written, law=typed.law, orders=typed.orders, draws=draws,
    )  # fmt: skip
    return ask.go(address(here, written, law=typed.law, draws=typed.draws, order=typed.orders))


def forget(ask: Ask) -> Response:
    """Take a map off the shelf; its revisions stay."""
    forget_map(ask.store, ask.slug, ask.path("key"))
    return ask.go(f"/studies/{ask.slug}/techniques/map")


AT = "/studies/{slug}/techniques/map"
ROUTES = [get(AT, show), post(AT, fly), post(f"{AT}/{{key}}/forget", forget)]
