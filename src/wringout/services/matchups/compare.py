"""Comparing techniques: every sensible order of cleaning up, flown on the posterior draws of the newest reduction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError, NotFoundError
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.findings.reduce import (
    PACKAGE_VERSION,
    Progress,
    airplane_rows,
    check_draws,
    check_seed,
    kept_reduction,
    no_progress,
)
from wringout.services.matchups.documents import matchup_document
from wringout.services.matchups.plans import Plan, PlanDocument, check_score, checked_plan, plan_of, techniques_of
from wringout.services.opening import the_study
from wringout.services.study.inputs import inputs_hash
from wringout.services.study.thresholds import thresholds_of
from wringout.store import (
    Result,
    ResultKind,
    Store,
    Study,
    View,
    hash_of_document,
    latest_result,
    put_result,
)
from wringout.techniques.flying.matchup import fly_matchups
from wringout.techniques.stated.types import GoAround, Matchup, Technique, Thresholds

DRAWS = 2000
SEED = 1
THREADS = 2


@dataclass(frozen=True, slots=True)
class Contest:
    """What a matchup is flown with: the airplane's draws, the plan, the techniques and what counts as a difference."""

    study: Study
    beliefs: Beliefs
    reduction: Result
    rows: NDArray[np.float64]
    plan: Plan
    techniques: tuple[Technique, ...]
    thresholds: Thresholds
    inputs_hash: str

    @property
    def learned(self) -> dict[str, str]:
        """What the runs of the reduction did to each parameter: measured, sharpened, or still the prior."""
        parameters: Any = self.reduction.body.get("parameters", [])
        return {str(one["key"]): str(one["verdict"]) for one in parameters}


@dataclass(frozen=True, slots=True)
class Compared:
    """A matchup that is kept. ``result.body`` is described in docs/json.md."""

    study: Study
    plan: Plan
    matchups: tuple[Matchup, ...]
    result: Result


def compare_techniques(
    store: Store,
    slug: str | None,
    plan: PlanDocument | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    progress: Progress = no_progress,
    threads: int = THREADS,
) -> Compared:
    """Fly every sensible order of cleaning up under each pilot law, and keep the scores and the verdict.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        plan: situation and domain; None for those of the last matchup, or the usual ones where there is none.
        draws: posterior draws to fly on, the first of those the reduction kept.
        seed: of the conditions, drawn once for all techniques.
        progress: see :data:`wringout.services.findings.reduce.Progress`.
        threads: worker threads; the numbers do not depend on it.

    Raises:
        BadInputError: the plan cannot be flown, or draws or seed are out of range.
        NotFoundError: there is no such study, or its reduction is missing or out of date.
    """
    check_seed(seed)
    with store.reading() as view:
        study = the_study(view, slug)
        contest = prepare(view, study, plan if plan is not None else last_plan(view, study), draws)
    matchups = fly(contest, seed, progress, threads)
    body = matchup_document(contest.plan, contest.thresholds, matchups, contest.learned)
    settings: dict[str, Any] = {
        "draws": draws,
        "study_inputs": contest.reduction.inputs_hash,
        "reduction_seed": contest.reduction.seed,
        "reduction_draws": contest.reduction.settings.get("draws"),
        "difference": dict(study.difference_that_matters),
        "plan": contest.plan.document.model_dump(mode="json"),
    }
    with store.writing() as work:
        result = put_result(
            work, study.id, ResultKind.MATCHUP, contest.inputs_hash, seed, PACKAGE_VERSION, settings, body
        )
    return Compared(study, contest.plan, matchups, result)


def check_plan(store: Store, slug: str | None, document: PlanDocument) -> None:
    """Refuse a plan that does not fit the study; whether it can be flown is known once it is flown.

    Raises:
        BadInputError: the plan does not fit the airplane, or the score that decides does not fit the procedure.
        NotFoundError: there is no such study, or it has no airplane.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        beliefs = study_airplane(view, study.id).beliefs
        techniques_of(plan_of(document, beliefs), beliefs)
        check_score(document, thresholds_of(study.difference_that_matters))


def prepare(view: View, study: Study, document: PlanDocument, draws: int, reduction: Result | None = None) -> Contest:
    """Return what a matchup is flown with; on the draws of the newest reduction unless another is given.

    Raises:
        BadInputError: the plan does not fit the airplane or the score, or more draws are wanted than were kept.
        NotFoundError: the reduction is missing or out of date.
    """
    beliefs = study_airplane(view, study.id).beliefs
    reduction = kept_reduction(view, study) if reduction is None else reduction
    rows = airplane_rows(reduction.draws or b"")
    check_draws(draws, 100)
    if draws > len(rows):
        raise BadInputError(
            f"{draws:,} draws are wanted, but the reduction kept {len(rows):,}", "draws", "reduce with more draws"
        )
    plan = plan_of(document, beliefs)
    techniques = techniques_of(plan, beliefs)
    thresholds = thresholds_of(study.difference_that_matters)
    check_score(document, thresholds)
    hashed = hash_of_document(
        {
            "study_inputs": reduction.inputs_hash,
            "reduction_seed": reduction.seed,
            "reduction_draws": reduction.settings.get("draws"),
            "package_version": reduction.package_version,
            "draws": draws,
            "difference": dict(study.difference_that_matters),
            "plan": document.model_dump(mode="json"),
        }
    )
    return Contest(study, beliefs, reduction, rows[:draws], plan, techniques, thresholds, hashed)


def fly(contest: Contest, seed: int, progress: Progress = no_progress, threads: int = THREADS) -> tuple[Matchup, ...]:
    """Fly a contest under every pilot law; a pure function of the contest and the seed.

    Raises:
        BadInputError: something in the plan cannot be flown.
    """
    plan = contest.plan
    groups = [plan.laws] if isinstance(plan.situation, GoAround) else [(law,) for law in plan.laws]
    found: list[Matchup] = []
    for number, laws in enumerate(groups):

        def told(flown: int, total: int, number: int = number) -> None:
            share = (number + flown / max(total, 1)) / len(groups)
            progress(share, f"{number * total + flown:,} of {len(groups) * total:,} trajectories")

        found += fly_matchups(
            contest.rows,
            plan.under(laws[0]),
            plan.domain,
            contest.techniques,
            laws,
            contest.thresholds,
            seed,
            told,
            threads,
            plan.limits,
        )
    return tuple(found)


def last_plan(view: View, study: Study) -> PlanDocument:
    """Return the plan of a study's newest matchup, or the usual one."""
    found = latest_result(view, study.id, ResultKind.MATCHUP)
    table = None if found is None else found.settings.get("plan")
    return checked_plan(table, "last plan") if isinstance(table, dict) else PlanDocument()


def planned(store: Store, slug: str | None) -> tuple[Study, PlanDocument]:
    """Return a study and the plan its next matchup will use unless another is given.

    Raises:
        NotFoundError: there is no such study.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        return study, last_plan(view, study)


def verdict(store: Store, slug: str | None) -> tuple[Study, Result, bool]:
    """Return the study, its newest matchup, and whether that still belongs to what the study holds now.

    Raises:
        NotFoundError: there is no such study, or techniques were never compared.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        found = latest_result(view, study.id, ResultKind.MATCHUP)
        if found is None:
            raise NotFoundError("the techniques have not been compared", advice="reduce the study, then compare")
        return study, found, is_current(view, study, found)


def is_current(view: View, study: Study, result: Result) -> bool:
    """Return whether a matchup belongs to what the study holds now: its inputs and its difference that matters."""
    same = dict(study.difference_that_matters) == result.settings.get("difference")
    return same and result.settings.get("study_inputs") == inputs_hash(view, study.id)
