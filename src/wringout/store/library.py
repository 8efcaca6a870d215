"""Entries that belong to no study, kept revision by revision: printed procedures, fleet findings, attachments."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import func, select

from wringout.store import revisions, schema
from wringout.store.documents import Document
from wringout.store.records import LibraryEntry
from wringout.store.revisions import Revision, Shelf
from wringout.store.study_store import View, Work


def _shelf(kind: str) -> Shelf:
    return revisions.shelf(schema.library_entry, kind)


def _entry(kind: str, found: Revision) -> LibraryEntry:
    return LibraryEntry(kind, found.key, found.revision, found.body, found.at)


def put_entry(work: Work, kind: str, key: str, body: Document, expected_revision: int | None = None) -> LibraryEntry:
    """Keep an entry as its next revision; a body equal to the newest one makes no new revision.

    Args:
        work: the transaction.
        kind: what it is, a short slug such as ``procedure``.
        key: which one, a short slug.
        body: the entry; JSON values only.
        expected_revision: the revision the edit was made from; None for whatever is there, 0 for "must not exist".

    Raises:
        BadInputError: kind, key or body cannot be kept.
        ConflictError: the newest revision is not the expected one.
    """
    return _entry(kind, revisions.put(work, _shelf(kind), key, body, expected_revision)[0])


def put_entries(work: Work, kind: str, bodies: Mapping[str, Document]) -> int:
    """Keep many entries at once and return how many were new or changed.

    Args:
        work: the transaction.
        kind: what they are.
        bodies: the entries by key.

    Raises:
        BadInputError: a key or body cannot be kept; nothing is then kept.
    """
    return revisions.put_many(work, _shelf(kind), bodies)


def remove_entry(work: Work, kind: str, key: str, expected_revision: int | None = None) -> LibraryEntry:
    """Remove an entry: a revision without a body, so that it can be brought back.

    Raises:
        NotFoundError: there is none.
        ConflictError: the newest revision is not the expected one.
    """
    return _entry(kind, revisions.remove(work, _shelf(kind), key, expected_revision))


def get_entry(view: View, kind: str, key: str) -> LibraryEntry | None:
    """Return the newest revision of an entry; None when there is none or it was removed."""
    found = revisions.newest(view, _shelf(kind), key)
    return None if found is None or found.body is None else _entry(kind, found)


def list_entries(view: View, kind: str) -> tuple[LibraryEntry, ...]:
    """Return the newest revision of every entry of a kind that was not removed, by key."""
    return tuple(_entry(kind, found) for found in revisions.standing(view, _shelf(kind)))


def entry_revisions(view: View, kind: str, key: str) -> tuple[LibraryEntry, ...]:
    """Return every revision of an entry, oldest first; a removal among them has no body."""
    return tuple(_entry(kind, found) for found in revisions.revisions(view, _shelf(kind), key))


def list_fields(view: View, kind: str, names: Sequence[str]) -> tuple[tuple[str, Mapping[str, Any]], ...]:
    """Return a few fields of every entry of a kind that was not removed, by key: a long list without whole bodies.

    Args:
        view: what is read from.
        kind: what they are.
        names: of fields at the top of the body, plain words; a field that is not there is None.
    """
    newest = revisions.newest_of_each(_shelf(kind)).subquery()
    fields = [func.json_extract(newest.c.body, f"$.{name}").label(name) for name in names]
    rows = view.connection.execute(select(newest.c.key, *fields).where(newest.c.body.is_not(None)))
    return tuple((row[0], dict(zip(names, row[1:], strict=True))) for row in rows)
