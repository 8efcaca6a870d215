"""Maps of a study: which technique is favoured over two or more conditions, kept with the study as a document.

A map is a pure function of the newest reduction, the plan, what counts as a difference, and what was asked; its
document holds the hash of all of it and no time, so the same question gives the same bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from wringout.errors import BadInputError, NotFoundError
from wringout.services.findings.reduce import Progress, check_seed, no_progress
from wringout.services.matchups.cluster import fly_map_on
from wringout.services.matchups.compare import THREADS, Contest, last_plan, prepare
from wringout.services.matchups.compiled import COMPILING, Work, is_compiled
from wringout.services.matchups.found_best import FoundBest, found_best
from wringout.services.matchups.kept import (
    MAP_KIND,
    SHORT_LAWS,
    USUAL_LAW,
    Kept,
    basis_of,
    every_kept,
    keep,
    kept_under,
)
from wringout.services.matchups.map_axes import KINDS, Written, read_written
from wringout.services.matchups.map_documents import map_document
from wringout.services.matchups.next_run import ranked
from wringout.services.matchups.plans import PlanDocument
from wringout.services.opening import the_study
from wringout.store import (
    Store,
    Study,
    View,
    get_document,
    remove_document,
)
from wringout.techniques.judging.maps import MapStudy, fly_map, map_study
from wringout.techniques.stated.types import Law, Technique

DRAWS, SEED = 500, 1
MOST_CELLS = 2_500
"""Cells of a map that is kept; a finer one would be a document of many megabytes."""
MOST_TRAJECTORIES = 40_000_000
"""Of one map: some minutes on two cores."""


@dataclass(frozen=True, slots=True)
class MapAsked:
    """What a map is asked for.

    Attributes:
        written: a range, or one value, for each condition; see :mod:`wringout.services.matchups.map_axes`.
        law: how pitch is flown. draws, seed: of airplanes and conditions.
        orders: keys of the orders that compete; empty for every one that ends clean.
        with_search: whether the best that the kept search found under the law competes beside them.
        plan: situation and domain; None for those of the last matchup.
    """

    written: Written
    law: Law = USUAL_LAW
    draws: int = DRAWS
    seed: int = SEED
    plan: PlanDocument | None = None
    orders: tuple[str, ...] = ()
    with_search: bool = False


def fly_technique_map(
    store: Store,
    slug: str | None,
    asked: MapAsked,
    progress: Progress = no_progress,
    threads: int = THREADS,
    cluster: str | None = None,
) -> Kept:
    """Fly a map and keep it with the study.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        asked: what is varied and held, and on how many draws.
        progress: see :data:`wringout.services.findings.reduce.Progress`; raising stops the work, nothing is kept then.
        threads: worker threads; the numbers do not depend on it.
        cluster: address of a Dask scheduler whose workers fly the cells; None for this machine.

    Raises:
        BadInputError: what is asked cannot be read or flown, or no scheduler answers.
        NotFoundError: there is no such study, or its reduction is missing or out of date.
        StoreError: the cluster gave up.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        contest, made, found_by_search = prepare_map(view, study, asked)

    def told(done: int, total: int) -> None:
        progress(0.98 * done / total, f"{done:,} of {total:,} cells")

    progress(0.0, f"{made.cells:,} cells" if is_compiled(Work.MAP) else COMPILING)
    found = fly_map(made, told, threads) if cluster is None else fly_map_on(made, cluster, told)
    progress(0.98, "what would settle it")
    body = map_document(found, contest.plan, ranked(found, contest.beliefs), asked.seed)
    more = {"draws": asked.draws, "seed": asked.seed, "law": str(asked.law), "orders": sorted(asked.orders)}
    if found_by_search is not None:
        best = found_by_search.technique
        more["found_best"] = [best.key, [[str(a.device), a.target, a.wait_s, str(a.gate)] for a in best.actions]]
        body["support"] = [*body["support"], found_by_search.sentence]
    body |= {
        "chosen": bool(asked.orders),
        "found_by_search": None if found_by_search is None else found_by_search.technique.key,
        **basis_of(contest, asked.written, **more),
    }
    return keep(store, study, MAP_KIND, _key(made, asked), body)


def check_map(store: Store, slug: str | None, asked: MapAsked) -> None:
    """Refuse a map that cannot be flown, without flying it; errors as of :func:`fly_technique_map`."""
    with store.reading() as view:
        prepare_map(view, the_study(view, slug), asked)


def prepare_map(view: View, study: Study, asked: MapAsked) -> tuple[Contest, MapStudy, FoundBest | None]:
    """Return what a map is flown with, and the best found by search if it competes; nothing is flown yet.

    Raises:
        BadInputError: what is asked cannot be read or flown, or the kept search does not fit.
        NotFoundError: the reduction is missing or out of date, or nothing was searched.
    """
    check_seed(asked.seed)
    plan = asked.plan if asked.plan is not None else last_plan(view, study)
    contest = prepare(view, study, plan, asked.draws)
    wanted = read_written(asked.written, contest.plan.situation)
    if len(wanted.axes) < 2:
        examples = " and ".join(f"{kind.slug} '{kind.example}'" for kind in list(KINDS.values())[:2])
        raise BadInputError("a map needs two conditions that vary", "map", f"write two ranges, such as {examples}")
    techniques = competing(contest.techniques, asked.orders)
    best = found_best(view, contest, asked.law) if asked.with_search else None
    if best is not None and best.technique not in techniques:
        techniques = (*techniques, best.technique)
    made = map_study(
        contest.rows,
        contest.plan.under(asked.law),
        contest.plan.domain,
        techniques,
        asked.law,
        contest.thresholds,
        asked.seed,
        wanted.axes,
        wanted.held,
        contest.plan.limits,
    )
    _check_size(made)
    return contest, made, best


def competing(techniques: Sequence[Technique], orders: Sequence[str]) -> tuple[Technique, ...]:
    """Return the techniques of some keys, in the order flown; without keys those that end clean, or all.

    Raises:
        BadInputError: a key that is none of them.
    """
    known = {technique.key: technique for technique in techniques}
    for key in orders:
        if key not in known:
            raise BadInputError(f"'{key[:80]}' is no order of this plan", "orders", f"one of {'; '.join(known)}")
    if orders:
        return tuple(technique for key, technique in known.items() if key in orders)
    return tuple(t for t in techniques if t.complete) or tuple(techniques)


def _check_size(made: MapStudy) -> None:
    if made.cells > MOST_CELLS:
        raise BadInputError(f"{made.cells:,} cells are too many", "map", f"at most {MOST_CELLS:,}; take fewer values")
    flights = made.cells * len(made.rows) * len(made.techniques)
    if flights > MOST_TRAJECTORIES:
        raise BadInputError(
            f"{flights:,} trajectories are too many",
            "map",
            f"at most {MOST_TRAJECTORIES:,}; take fewer draws or values",
        )


def _key(made: MapStudy, asked: MapAsked) -> str:
    """Return the name a map is kept under: one for each choice of axes, way of flying pitch and competing orders."""
    chosen = [hashlib.sha256(";".join(sorted(asked.orders)).encode()).hexdigest()[:6]] if asked.orders else []
    found = ["found"] if asked.with_search else []
    return "-".join([*(KINDS[axis.condition].short for axis in made.axes), SHORT_LAWS[made.law], *chosen, *found])


def technique_maps(store: Store, slug: str | None) -> tuple[Kept, ...]:
    """Return the maps of a study as they were last flown; raises NotFoundError where there is no such study."""
    return every_kept(store, slug, MAP_KIND)


def technique_map(store: Store, slug: str | None, key: str) -> Kept:
    """Return one map of a study; raises NotFoundError where there is none."""
    with store.reading() as view:
        study = the_study(view, slug)
        return kept_under(view, study, MAP_KIND, key, f"there is no map '{key[:60]}'", "fly it first")


def forget_map(store: Store, slug: str | None, key: str) -> None:
    """Take a map off the study's shelf; its revisions stay. Raises NotFoundError where there is none."""
    with store.writing() as work:
        study = the_study(work, slug)
        if get_document(work, study.id, MAP_KIND, key) is None:
            raise NotFoundError(f"there is no map '{key[:60]}'", advice="load the page again")
        remove_document(work, study.id, MAP_KIND, key)
