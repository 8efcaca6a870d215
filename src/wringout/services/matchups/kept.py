"""Maps and searches as documents kept with a study: what they were computed from, and whether that still holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, cast

from wringout.errors import NotFoundError
from wringout.services.findings.reduce import PACKAGE_VERSION
from wringout.services.matchups.compare import Contest
from wringout.services.matchups.map_axes import Written
from wringout.services.opening import the_study
from wringout.services.study.inputs import inputs_hash
from wringout.store import (
    Document,
    Store,
    Study,
    StudyDocument,
    View,
    get_document,
    hash_of_document,
    list_documents,
    put_document,
)
from wringout.techniques.stated.types import Law

MAP_KIND, SEARCH_KIND = "technique-map", "technique-search"
SHORT_LAWS = {Law.HOLD_ATTITUDE: "attitude", Law.HOLD_SPEED: "speed", Law.LEVEL_THEN_CLIMB: "level"}
USUAL_LAW = Law.LEVEL_THEN_CLIMB


@dataclass(frozen=True, slots=True)
class Kept:
    """A map or a search as kept; ``current`` is whether it belongs to what the study holds now."""

    study: Study
    key: str
    revision: int
    at: str
    body: Mapping[str, Any] = field(repr=False)
    current: bool


def basis_of(contest: Contest, written: Written, **asked: Any) -> dict[str, Any]:
    """Return what something was computed from, with the hash of that and of all else that was asked."""
    basis: dict[str, Any] = {
        "study_inputs": contest.reduction.inputs_hash,
        "reduction_seed": contest.reduction.seed,
        "reduction_draws": contest.reduction.settings.get("draws"),
        "package_version": PACKAGE_VERSION,
        "difference": dict(contest.study.difference_that_matters),
        "plan": contest.plan.document.model_dump(mode="json"),
        "asked": {str(condition): text for condition, text in written.items() if text.strip()},
    }
    return {**basis, "inputs_hash": hash_of_document({**basis, **asked})}


def keep(store: Store, study: Study, kind: str, key: str, body: Mapping[str, Any]) -> Kept:
    """Keep what was just computed under a key, as its next revision, and return it as it is kept from now on."""
    with store.writing() as work:
        put_document(work, study.id, kind, key, cast(Document, dict(body)))
        return kept_under(work, study, kind, key, f"'{key}' was not kept", "try again")


def every_kept(store: Store, slug: str | None, kind: str) -> tuple[Kept, ...]:
    """Return what is kept of a kind; raises NotFoundError where there is no such study."""
    with store.reading() as view:
        study = the_study(view, slug)
        return tuple(_seen(view, study, one) for one in list_documents(view, study.id, kind))


def kept_under(view: View, study: Study, kind: str, key: str, missing: str, advice: str) -> Kept:
    """Return what is kept under a key; raises NotFoundError with ``missing`` and ``advice`` where nothing is."""
    found = get_document(view, study.id, kind, key)
    if found is None:
        raise NotFoundError(missing, advice=advice)
    return _seen(view, study, found)


def _seen(view: View, study: Study, found: StudyDocument) -> Kept:
    """Return a document, current if it belongs to what the study holds now: its inputs and what matters."""
    body = found.body or {}
    same = body.get("difference") == dict(study.difference_that_matters)
    current = same and body.get("study_inputs") == inputs_hash(view, study.id)
    return Kept(study, found.key, found.revision, found.at, body, current)
