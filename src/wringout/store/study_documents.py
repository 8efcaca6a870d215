"""Documents of a study, kept revision by revision: test plans, hazards, technique drafts, loading sheets and the like.

Every edit is in the study's history, by revision; the bodies stand in the revisions themselves.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sqlalchemy import select

from wringout.store import revisions, schema
from wringout.store.documents import Document, check_key
from wringout.store.records import StudyDocument
from wringout.store.revisions import Revision, Shelf
from wringout.store.studies import study_numbered
from wringout.store.study_store import View, Work, note_edit

KEPT, REMOVED = "document kept", "document removed"
"""What the history calls the two edits."""


def _shelf(study_id: int, kind: str) -> Shelf:
    return revisions.shelf(schema.study_document, kind, study_id=study_id)


def _document(study_id: int, kind: str, found: Revision) -> StudyDocument:
    return StudyDocument(study_id, kind, found.key, found.revision, found.body, found.at)


def _named(kind: str, found: Revision | None) -> dict[str, Any] | None:
    """Return how the history names a revision; None when the document was not there."""
    if found is None or found.body is None:
        return None
    return {"kind": kind, "key": found.key, "revision": found.revision}


def put_document(
    work: Work, study_id: int, kind: str, key: str, body: Document, expected_revision: int | None = None
) -> StudyDocument:
    """Keep a document of a study as its next revision; a body equal to the newest one makes no new revision.

    Args:
        work: the transaction.
        study_id: its study.
        kind: what it is, a short slug such as ``test-plan``.
        key: which one, a short slug.
        body: the document; JSON values only.
        expected_revision: the revision the edit was made from; None for whatever is there, 0 for "must not exist".

    Raises:
        BadInputError: kind, key or body cannot be kept.
        ConflictError: the newest revision is not the expected one.
        NotFoundError: there is no such study.
    """
    study_numbered(work, study_id)
    on = _shelf(study_id, kind)
    before = revisions.newest(work, on, key)
    made, new = revisions.put(work, on, key, body, expected_revision)
    if new:
        note_edit(work, study_id, KEPT, _named(kind, before), _named(kind, made))
    return _document(study_id, kind, made)


def remove_document(
    work: Work, study_id: int, kind: str, key: str, expected_revision: int | None = None
) -> StudyDocument:
    """Remove a document: a revision without a body, so that it can be brought back.

    Raises:
        NotFoundError: there is none.
        ConflictError: the newest revision is not the expected one.
    """
    on = _shelf(study_id, kind)
    before = revisions.newest(work, on, key)
    made = revisions.remove(work, on, key, expected_revision)
    note_edit(work, study_id, REMOVED, _named(kind, before), None)
    return _document(study_id, kind, made)


def get_document(view: View, study_id: int, kind: str, key: str) -> StudyDocument | None:
    """Return the newest revision of a document; None when there is none or it was removed."""
    found = revisions.newest(view, _shelf(study_id, kind), key)
    return None if found is None or found.body is None else _document(study_id, kind, found)


def list_documents(view: View, study_id: int, kind: str) -> tuple[StudyDocument, ...]:
    """Return the newest revision of every document of a kind that was not removed, by key."""
    return tuple(_document(study_id, kind, found) for found in revisions.standing(view, _shelf(study_id, kind)))


def document_revisions(view: View, study_id: int, kind: str, key: str) -> tuple[StudyDocument, ...]:
    """Return every revision of a document, oldest first; a removal among them has no body."""
    found = revisions.revisions(view, _shelf(study_id, kind), key)
    return tuple(_document(study_id, kind, item) for item in found)


def document_names(view: View, study_id: int) -> tuple[tuple[str, str], ...]:
    """Return kind and key of every document a study has or had, sorted."""
    columns = schema.study_document.c
    query = select(columns.kind, columns.key).where(columns.study_id == study_id).distinct()
    return tuple((row.kind, row.key) for row in view.connection.execute(query.order_by(columns.kind, columns.key)))


def restore_documents(work: Work, study_id: int, kind: str, made: Iterable[Revision]) -> None:
    """Insert revisions made elsewhere, with their own times, without noting them in the history; for bundles.

    Raises:
        BadInputError: a kind, key or body cannot be kept.
    """
    on = _shelf(study_id, kind)
    revisions.insert_rows(work, on, [item for item in made if check_key(item.key, f"key of a {kind}")])
