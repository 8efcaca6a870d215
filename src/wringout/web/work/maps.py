"""The long work on many conditions and many techniques, as functions that a worker process calls."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from wringout.services.findings.reduce import Progress
from wringout.services.matchups.map_axes import condition_named
from wringout.services.matchups.maps import MapAsked, fly_technique_map
from wringout.services.matchups.searches import SearchAsked
from wringout.services.opening import open_studies
from wringout.services.register.printed_beside import search_beside_printed
from wringout.techniques.stated.types import Law
from wringout.web.work.studies import clock


def map_asked(
    written: Mapping[str, str], law: str, orders: Sequence[str], draws: int, with_search: bool = False
) -> MapAsked:
    """Return what a form asks of a map."""
    conditions = {condition_named(slug): text for slug, text in written.items()}
    return MapAsked(conditions, Law(law), draws, orders=tuple(orders), with_search=with_search)


def search_asked(written: Mapping[str, str], law: str, stops: int, draws: int) -> SearchAsked:
    """Return what a form asks of a search."""
    return SearchAsked({condition_named(k): t for k, t in written.items()}, Law(law), stops, draws)


def fly_map_of(
    database: Path,
    progress: Progress,
    slug: str,
    written: Mapping[str, str],
    law: str,
    orders: Sequence[str],
    draws: int,
    with_search: bool,
) -> str:
    """Fly a map, keep it, and return its answer."""
    with open_studies(database, clock, create=False) as store:
        kept = fly_technique_map(store, slug, map_asked(written, law, orders, draws, with_search), progress)
        return str(kept.body["answer"][0])


def search_of(
    database: Path, progress: Progress, slug: str, written: Mapping[str, str], law: str, stops: int, draws: int
) -> str:
    """Search the best reachable technique, keep it, and return what was found."""
    with open_studies(database, clock, create=False) as store:
        kept = search_beside_printed(store, slug, search_asked(written, law, stops, draws), clock().date(), progress)
        return str(kept.body["answer"][0])
