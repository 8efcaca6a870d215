"""The kept results of a study computed again, so that what is published comes from its inputs and nothing else."""

from __future__ import annotations

from dataclasses import dataclass

from wringout.errors import NotFoundError, StoreError
from wringout.services.findings.reduce import Progress, Reduced, kept_reduction, no_progress, reduce_study
from wringout.services.matchups.compare import Compared, compare_techniques, is_current
from wringout.services.matchups.plans import checked_plan
from wringout.services.opening import the_study
from wringout.store import Result, ResultKind, Store, Study, View, latest_result


@dataclass(frozen=True, slots=True)
class Again:
    """A study with its newest results computed again; ``same``: whether they came out to the last digit."""

    study: Study
    reduced: Reduced
    compared: Compared | None
    same: bool


def computed_again(
    store: Store,
    slug: str | None,
    progress: Progress = no_progress,
    reduced: Reduced | None = None,
    compared: Compared | None = None,
) -> Again:
    """Compute the newest reduction and the newest matchup again; those just made in this process are taken as they are.

    Raises:
        NotFoundError: there is no such study, or its reduction or matchup is missing or out of date.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        kept = kept_reduction(view, study)
        flown = _kept_matchup(view, study)
    progress(0.0, "computing the kept results again")
    if reduced is None or reduced.result.id != kept.id:
        reduced = reduce_study(
            store, study.slug, draws_of(kept), kept.seed, part(progress, 0.0, 0.57), has_second_opinion(kept)
        )
    if flown is None:
        compared = None
    elif compared is None or compared.result.id != flown.id or reduced.result.id != kept.id:
        plan = checked_plan(flown.settings["plan"], "kept plan")  # type: ignore[arg-type]
        compared = compare_techniques(store, study.slug, plan, draws_of(flown), flown.seed, part(progress, 0.57, 1.0))
    same = reduced.result.id == kept.id and (compared is None or flown is None or compared.result.id == flown.id)
    return Again(study, reduced, compared, same)


def part(progress: Progress, low: float, high: float) -> Progress:
    """Return a progress that fills a part of another."""
    return lambda share, words: progress(low + (high - low) * share, words)


def draws_of(result: Result) -> int:
    """Return with how many draws a result was computed.

    Raises:
        StoreError: it does not say.
    """
    draws = result.settings["draws"]
    if not isinstance(draws, int):
        raise StoreError(f"the kept result number {result.id} does not say its draws", advice="compute it again")
    return draws


def has_second_opinion(result: Result) -> bool:
    """Return whether a reduction was made with a second opinion."""
    return result.settings.get("second_opinion") is True


def _kept_matchup(view: View, study: Study) -> Result | None:
    """Return the newest matchup, None where techniques were never compared."""
    found = latest_result(view, study.id, ResultKind.MATCHUP)
    if found is not None and not is_current(view, study, found):
        raise NotFoundError("the study has changed since its techniques were compared", advice="compare them again")
    return found
