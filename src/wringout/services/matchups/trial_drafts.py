"""Techniques a person has arranged and kept on the desk, revision by revision."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from wringout.errors import NotFoundError
from wringout.services.matchups.trials import desk, technique_of
from wringout.services.opening import the_study
from wringout.store import (
    Document,
    Store,
    StudyDocument,
    get_document,
    list_documents,
    put_document,
    remove_document,
)

KIND = "technique-draft"


def drafts(store: Store, slug: str | None) -> tuple[StudyDocument, ...]:
    """Return the techniques a person has kept; raises NotFoundError where there is no such study."""
    with store.reading() as view:
        return list_documents(view, the_study(view, slug).id, KIND)


def keep_draft(
    store: Store, slug: str | None, key: str, title: str, steps: Sequence[Mapping[str, Any]], expected: int | None
) -> StudyDocument:
    """Keep a technique; ``expected`` is the revision it was made from (0: it must be new, None: whatever is there).

    Raises:
        ConflictError: another window kept it meanwhile.
        BadInputError: a step cannot be flown, or the name is no short name.
        NotFoundError: there is no such study.
    """
    technique_of(desk(store, slug), key, steps)
    with store.writing() as work:
        study = the_study(work, slug)
        body: Document = {"title": title, "steps": [dict(step) for step in steps]}
        return put_document(work, study.id, KIND, key, body, expected)


def forget_draft(store: Store, slug: str | None, key: str) -> None:
    """Take a kept technique off the desk; its history stays. Raises NotFoundError where there is none."""
    with store.writing() as work:
        study = the_study(work, slug)
        if get_document(work, study.id, KIND, key) is None:
            raise NotFoundError(f"no technique '{key}' is kept", advice="load the page again")
        remove_document(work, study.id, KIND, key)
