"""What a map or a search was computed from, kept in its document, and whether that is still what the study holds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from wringout.services.findings.reduce import PACKAGE_VERSION
from wringout.services.matchups.compare import Contest
from wringout.services.matchups.map_axes import Written
from wringout.services.study.inputs import inputs_hash
from wringout.store import Study, View, hash_of_document


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


def is_current(view: View, study: Study, body: Mapping[str, Any]) -> bool:
    """Return whether a document belongs to what the study holds now: its inputs and its difference that matters."""
    same = body.get("difference") == dict(study.difference_that_matters)
    return same and body.get("study_inputs") == inputs_hash(view, study.id)
