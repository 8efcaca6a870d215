"""The newest results of a study as they were kept, without loading what computed them."""

from __future__ import annotations

from wringout.services.opening import the_study
from wringout.services.study.inputs import inputs_hash
from wringout.store import Result, ResultKind, Store, latest_result


def newest_reduction(store: Store, slug: str | None) -> tuple[Result | None, bool]:
    """Return a study's newest reduction, None before one, and whether it belongs to what the study holds now.

    Raises:
        NotFoundError: there is no such study.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        found = latest_result(view, study.id, ResultKind.REDUCTION)
        return found, found is not None and found.inputs_hash == inputs_hash(view, study.id)
