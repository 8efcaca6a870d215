"""Documents kept revision by revision: nothing is overwritten, and two windows cannot lose each other's edits.

What the documents of a study and the entries of the library share. A *shelf* is a table with what all its rows of
interest have in common, such as the number of a study.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Row, Select, Table, and_, func, insert, select
from sqlalchemy.sql.elements import ColumnElement

from wringout.errors import BadInputError, ConflictError, NotFoundError
from wringout.store.documents import MAX_INTEGER, Document, check_key, json_document, json_text
from wringout.store.study_store import View, Work


@dataclass(frozen=True, slots=True)
class Shelf:
    """A table of revisions and the columns that are the same for all rows meant."""

    table: Table
    common: Mapping[str, Any]
    kind: str

    def all_of(self) -> ColumnElement[bool]:
        """Return the condition that a row stands on this shelf."""
        columns = self.table.c
        return and_(columns.kind == self.kind, *(columns[name] == value for name, value in self.common.items()))


@dataclass(frozen=True, slots=True)
class Revision:
    """One revision of a document. ``body`` is None for a removal."""

    key: str
    revision: int
    body: Document | None
    at: str


def shelf(table: Table, kind: str, **common: object) -> Shelf:
    """Return a shelf after checking the kind.

    Raises:
        BadInputError: the kind is not a short slug.
    """
    return Shelf(table, common, check_key(kind, "kind of document"))


def _revision(row: Row[Any]) -> Revision:
    return Revision(row.key, row.revision, None if row.body is None else json_document(row.body, "database"), row.at)


def newest_of_each(on: Shelf, *conditions: ColumnElement[bool]) -> Select[Any]:
    """Select the newest revision of every document on a shelf that meets the conditions, removed ones too."""
    columns = on.table.c
    last = select(columns.key, func.max(columns.revision).label("revision"))
    last_of_each = last.where(on.all_of(), *conditions).group_by(columns.key).subquery()
    same = and_(columns.key == last_of_each.c.key, columns.revision == last_of_each.c.revision)
    return select(on.table).join(last_of_each, same).where(on.all_of()).order_by(columns.key)


def newest(view: View, on: Shelf, key: str) -> Revision | None:
    """Return the newest revision of a document, also when that is its removal; None when there never was one."""
    columns = on.table.c
    query = select(on.table).where(on.all_of(), columns.key == key).order_by(columns.revision.desc()).limit(1)
    row = view.connection.execute(query).one_or_none()
    return None if row is None else _revision(row)


def standing(view: View, on: Shelf) -> tuple[Revision, ...]:
    """Return the newest revision of every document that was not removed, by key."""
    return tuple(_revision(row) for row in view.connection.execute(newest_of_each(on)) if row.body is not None)


def revisions(view: View, on: Shelf, key: str) -> tuple[Revision, ...]:
    """Return every revision of a document, oldest first."""
    columns = on.table.c
    query = select(on.table).where(on.all_of(), columns.key == key).order_by(columns.revision)
    return tuple(_revision(row) for row in view.connection.execute(query))


def check_expected(on: Shelf, key: str, known: Revision | None, expected: int | None) -> None:
    """Refuse an edit made from another revision than the newest.

    Args:
        on: the shelf.
        key: the document.
        known: its newest revision.
        expected: the revision the edit was made from; None for whatever is there; 0 for "must not exist".

    Raises:
        ConflictError: the newest is another one; the sentence says which, and when it was kept.
    """
    there = 0 if known is None or (known.body is None and expected == 0) else known.revision
    if expected is None or expected == there:
        return
    name = f"the {on.kind} '{key}'"
    if known is None:
        what = f"{name} is not there, though this edit was made from its revision {expected}"
    elif known.body is None:
        what = f"{name} was removed meanwhile, at {known.at}"
    elif expected == 0:
        what = f"{name} exists already, as revision {known.revision} of {known.at}"
    else:
        what = f"{name} was changed meanwhile: this edit was made from revision {expected}, the newest is"
        what += f" {known.revision} of {known.at}"
    raise ConflictError(what, advice="look at the newest one and make the edit again; nothing was changed")


def _texts(on: Shelf, bodies: Mapping[str, Document | None]) -> dict[str, str | None]:
    """Check keys and bodies and return the bodies as the database keeps them."""
    return {
        check_key(key, f"key of a {on.kind}"): None if body is None else json_text(body, f"{on.kind} {key}")
        for key, body in bodies.items()
    }


def put(work: Work, on: Shelf, key: str, body: Document, expected: int | None) -> tuple[Revision, bool]:
    """Keep a body as the next revision; the same as the newest makes no new one. Return it and whether it is new.

    Raises:
        BadInputError: key or body cannot be kept.
        ConflictError: the newest revision is not the expected one.
    """
    texts = _texts(on, {key: body})
    known = newest(work, on, key)
    check_expected(on, key, known, expected)
    if known is not None and known.body is not None and json_text(known.body, key) == texts[key]:
        return known, False
    made = Revision(key, 1 if known is None else known.revision + 1, body, work.now)
    insert_rows(work, on, [made])
    return made, True


def put_many(work: Work, on: Shelf, bodies: Mapping[str, Document]) -> int:
    """Keep many bodies, each as the next revision of its document, and return how many were new or changed.

    Raises:
        BadInputError: a key or body cannot be kept; nothing is then kept.
    """
    texts = _texts(on, bodies)
    known = {row.key: (row.revision, row.body) for row in work.connection.execute(newest_of_each(on))}
    rows = []
    for key, text in texts.items():
        revision, there = known.get(key, (0, None))
        if text != there:
            rows.append(_row(on, key, revision + 1, text, work.now))
    if rows:
        work.connection.execute(insert(on.table), rows)
    return len(rows)


def remove(work: Work, on: Shelf, key: str, expected: int | None) -> Revision:
    """Remove a document, which is a revision without a body; the ones before stay.

    Raises:
        NotFoundError: there is none.
        ConflictError: the newest revision is not the expected one.
    """
    known = newest(work, on, check_key(key, f"key of a {on.kind}"))
    if known is None or known.body is None:
        raise NotFoundError(f"there is no {on.kind} '{key}'", advice="look it up again")
    check_expected(on, key, known, expected)
    made = Revision(key, known.revision + 1, None, work.now)
    insert_rows(work, on, [made])
    return made


def _row(on: Shelf, key: str, revision: int, text: str | None, at: str) -> dict[str, Any]:
    return {**on.common, "kind": on.kind, "key": key, "revision": revision, "body": text, "at": at}


def insert_rows(work: Work, on: Shelf, made: Iterable[Revision]) -> None:
    """Insert revisions as they are; for the functions above and for bundles.

    Raises:
        BadInputError: a key, a revision or a body cannot be kept.
    """
    rows = []
    for item in made:
        if not 1 <= item.revision <= MAX_INTEGER:
            raise BadInputError(f"the revision {item.revision} is out of range", item.key, "revisions count from 1")
        rows.append(_row(on, item.key, item.revision, _texts(on, {item.key: item.body})[item.key], item.at))
    if rows:
        work.connection.execute(insert(on.table), rows)
