"""The best reachable technique of a study: searched over pauses and flap stops, kept with the study as a document."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from wringout.errors import BadInputError
from wringout.services.findings.reduce import Progress, check_seed, no_progress
from wringout.services.matchups.compare import Contest, last_plan, prepare
from wringout.services.matchups.compiled import COMPILING, Work, is_compiled
from wringout.services.matchups.found_best import search_under
from wringout.services.matchups.kept import SEARCH_KIND, SHORT_LAWS, USUAL_LAW, Kept, basis_of, every_kept, keep
from wringout.services.matchups.map_axes import Written, read_written
from wringout.services.matchups.maps import competing
from wringout.services.matchups.plan_details import hand_s
from wringout.services.matchups.plans import PlanDocument
from wringout.services.matchups.search_documents import PrintedOrder, search_document
from wringout.services.opening import the_study
from wringout.store import (
    Store,
    Study,
    View,
)
from wringout.techniques.judging.maps import MapStudy, map_study
from wringout.techniques.judging.search import search
from wringout.techniques.stated.orders import Detent
from wringout.techniques.stated.types import Law

DRAWS, SEED, STOPS = 400, 1, 2
MOST_STOPS = 4


@dataclass(frozen=True, slots=True)
class SearchAsked:
    """What is searched for.

    Attributes:
        written: conditions held at one value; what is left out is as the plan has it.
        law: how pitch is flown. stops: angles tried between two neighbouring flap settings.
        draws, seed: of airplanes and conditions; half of the draws choose, the others judge.
        plan: situation and domain; None for those of the last matchup.
    """

    written: Written = field(default_factory=dict)
    law: Law = USUAL_LAW
    stops: int = STOPS
    draws: int = DRAWS
    seed: int = SEED
    plan: PlanDocument | None = None


def search_technique(
    store: Store,
    slug: str | None,
    asked: SearchAsked,
    printed: Sequence[PrintedOrder] = (),
    notes: Sequence[str] = (),
    progress: Progress = no_progress,
) -> Kept:
    """Search the best reachable technique and keep what was found.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        asked: what is searched for.
        printed: orders printed for the airplane, to be held beside it. notes: why others are not, a sentence each.
        progress: see :data:`wringout.services.findings.reduce.Progress`; raising stops the work, nothing is kept then.

    Raises:
        BadInputError: what is asked cannot be read or flown, or nothing keeps the margins.
        NotFoundError: there is no such study, or its reduction is missing or out of date.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        contest, made = _prepared(view, study, asked)
    detents = [Detent(setting.name, setting.angle_rad) for setting in contest.beliefs.settings]
    progress(0.0, "trying orders" if is_compiled(Work.MAP) else COMPILING)
    found = search(
        made,
        detents,
        stops=asked.stops,
        progress=lambda done, most: progress(done / most, f"{done:,} techniques tried"),
        gear_moves=contest.beliefs.retractable,
        beside=[one.technique for one in printed],
        hand_s=hand_s(contest.plan.document.details, "plan"),
    )
    body = search_document(found, made, contest.plan, contest.beliefs, printed, asked.seed)
    body["printed"] = [*body["printed"], *notes]
    more = {"draws": asked.draws, "seed": asked.seed, "law": str(asked.law), "stops": asked.stops}
    body |= basis_of(contest, asked.written, **more, printed=[[one.source, one.technique.key] for one in printed])
    return keep(store, study, SEARCH_KIND, SHORT_LAWS[asked.law], body)


def check_search(store: Store, slug: str | None, asked: SearchAsked) -> None:
    """Refuse a search that cannot be made, without making it; errors as of :func:`search_technique`."""
    with store.reading() as view:
        _prepared(view, the_study(view, slug), asked)


def _prepared(view: View, study: Study, asked: SearchAsked) -> tuple[Contest, MapStudy]:
    check_seed(asked.seed)
    if not 0 <= asked.stops <= MOST_STOPS:
        raise BadInputError(f"{asked.stops} stops between two settings cannot be tried", "stops", f"0 to {MOST_STOPS}")
    contest = prepare(view, study, asked.plan if asked.plan is not None else last_plan(view, study), asked.draws)
    wanted = read_written(asked.written, contest.plan.situation)
    if wanted.axes:
        raise BadInputError(
            "a range is written where one value is wanted", f"search, {wanted.axes[0].condition}", "write one value"
        )
    made = map_study(
        contest.rows,
        contest.plan.under(asked.law),
        contest.plan.domain,
        competing(contest.techniques, ()),
        asked.law,
        contest.thresholds,
        asked.seed,
        fixed=wanted.held,
        limits=contest.plan.limits,
    )
    return contest, made


def technique_searches(store: Store, slug: str | None) -> tuple[Kept, ...]:
    """Return the searches of a study, one for each pilot law; raises NotFoundError where there is no such study."""
    return every_kept(store, slug, SEARCH_KIND)


def technique_search(store: Store, slug: str | None, law: Law) -> Kept:
    """Return the search of one pilot law; raises NotFoundError where there is none."""
    with store.reading() as view:
        return search_under(view, the_study(view, slug), law)
