"""The question of a test plan as a contest of two techniques, and what is believed before the flight."""

from __future__ import annotations

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.errors import FitError
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw
from wringout.planning.chance import Believed, believed_before_flying
from wringout.planning.deciding import Contest, law_named, technique_named, usual_rivals
from wringout.planning.document import QuestionSection
from wringout.planning.teaching import State, before_flying
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.findings.reduce import Gathered, gather
from wringout.services.matchups.compare import last_plan
from wringout.services.matchups.plans import plan_of, techniques_of
from wringout.services.opening import the_study
from wringout.services.study.thresholds import thresholds_of
from wringout.store import Store, Study, View

BELIEVED_DRAWS = 1000


def rivals(store: Store, slug: str | None) -> list[tuple[str, str]]:
    """Return key and title of every order a test plan may decide between, first what stands for none ("").

    Raises:
        BadInputError: the matchup's plan does not fit the airplane.
        NotFoundError: there is no such study, or it has no airplane.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        beliefs = study_airplane(view, study.id).beliefs
        known = techniques_of(plan_of(last_plan(view, study), beliefs), beliefs)
    return [("", "what is argued about"), *((technique.key, technique.title) for technique in known)]


def contest_of(view: View, study: Study, beliefs: Beliefs, question: QuestionSection) -> Contest:
    """Return the contest a plan should decide: its two techniques, else the two people argue about.

    Raises:
        BadInputError: a technique or pilot law that is not known, or a matchup plan that does not fit the airplane.
    """
    plan = plan_of(last_plan(view, study), beliefs)
    known = techniques_of(plan, beliefs)
    first, second = usual_rivals(known)
    if question.first:
        first = technique_named(question.first, known, "first")
    if question.second:
        second = technique_named(question.second, known, "second")
    law = law_named(question.law)
    return Contest(
        first=first,
        second=second,
        law=law,
        situation=plan.under(law),
        domain=plan.domain,
        thresholds=thresholds_of(study.difference_that_matters),
        limits=plan.limits,
    )


def known_so_far(
    view: View, slug: str, beliefs: Beliefs, seed: int, question: QuestionSection | None = None
) -> tuple[Believed, State]:
    """Return what is known before the flight: the priors, or the posterior where runs are in use already.

    A question that knows "beliefs only" asks as if nothing had been flown.

    Raises:
        BadInputError: a run in use cannot be built.
        FitError: the fit of the runs in use fails.
    """
    gathered = None if question is not None and question.knowing == "beliefs only" else _flown(view, slug)
    if gathered is None:
        return believed_before_flying(beliefs, seed, BELIEVED_DRAWS), before_flying(beliefs)
    joint = fit(beliefs, gathered.runs)
    rows = draw(joint, BELIEVED_DRAWS, seed).rows
    p = len(beliefs.parameters)
    return Believed(beliefs, gathered.runs, np.asarray(rows)), State(joint.z[:p], joint.covariance[:p, :p])


def _flown(view: View, slug: str) -> Gathered | None:
    """Return the runs in use, None where there are none yet."""
    try:
        return gather(view, slug)
    except FitError:
        return None
