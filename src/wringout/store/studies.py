"""Studies, the versions of their airplanes, and the history of every edit."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Mapping
from typing import Any, cast

from sqlalchemy import Row, bindparam, func, insert, select, update

from wringout.errors import BadInputError, ConflictError, NotFoundError
from wringout.store import schema
from wringout.store.conflicts import ADVICE, refuse_changed
from wringout.store.documents import (
    MAX_INTEGER,
    QUESTION_LENGTH,
    SLUG_LENGTH,
    Document,
    check_line,
    check_slug,
    check_text,
    json_document,
    json_text,
    slug_of,
)
from wringout.store.records import AirplaneVersion, HistoryEntry, Plain, Study
from wringout.store.study_store import View, Work, note_edit

PLAIN_FIELDS = 100
PLAIN_LENGTH = 1000

_BY_SLUG = select(schema.study).where(schema.study.c.slug == bindparam("slug"))
_BY_ID = select(schema.study).where(schema.study.c.id == bindparam("id"))


def check_plain(table: Mapping[str, Plain], where: str) -> dict[str, Plain]:
    """Return a flat table of at most 100 named short texts, numbers and yes-or-no values.

    Raises:
        BadInputError: a value is something else, a number is not finite, or there are too many.
    """
    if len(table) > PLAIN_FIELDS:
        raise BadInputError(f"it has {len(table)} fields", where, f"keep it within {PLAIN_FIELDS}")
    for key, value in table.items():
        check_line(key, f"{where}, name of a field", 80)
        if isinstance(value, str):
            check_text(value, f"{where}.{key}", PLAIN_LENGTH)
        elif not isinstance(value, (bool, int, float)):
            raise BadInputError(f"a {type(value).__name__} cannot stand here", f"{where}.{key}", "a text or a number")
        elif not math.isfinite(value) or (isinstance(value, int) and abs(value) > MAX_INTEGER):
            raise BadInputError(f"{value} is out of range", f"{where}.{key}", "a finite number")
    return dict(table)


def as_document(study: Study) -> dict[str, Any]:
    """Return what a user can edit of a study, as it stands in the history."""
    return {
        "slug": study.slug,
        "title": study.title,
        "question": study.question,
        "difference_that_matters": dict(sorted(study.difference_that_matters.items())),
        "invented": study.invented,
    }


def _study(row: Row[Any]) -> Study:
    return Study(
        id=row.id,
        slug=row.slug,
        title=row.title,
        question=row.question,
        difference_that_matters=cast("dict[str, Plain]", json_document(row.difference_that_matters, "database")),
        created_at=row.created_at,
        invented=bool(row.invented),
    )


def _columns(study: Mapping[str, Any]) -> dict[str, Any]:
    """Check a study's editable fields and return them as the database keeps them."""
    matters = check_plain(study["difference_that_matters"], "difference_that_matters")
    return {
        "slug": check_slug(study["slug"]),
        "title": check_line(study["title"], "title"),
        "question": check_text(study["question"], "question", QUESTION_LENGTH),
        "difference_that_matters": json_text(matters, "difference_that_matters"),
        "invented": int(study["invented"]),
    }


def is_taken(view: View, slug: str) -> bool:
    """Say whether a study of this name exists."""
    return view.connection.scalar(select(schema.study.c.id).where(schema.study.c.slug == slug)) is not None


def free_slug(view: View, wanted: str) -> str:
    """Return ``wanted``, or ``wanted-2``, ``wanted-3`` ... when studies of that name exist."""
    slug, number = wanted, 1
    while is_taken(view, slug):
        number += 1
        ending = f"-{number}"
        slug = wanted[: SLUG_LENGTH - len(ending)].rstrip("-") + ending
    return slug


def insert_study(work: Work, fields: Mapping[str, Any], created_at: str) -> Study:
    """Insert a study without noting it in the history; for :func:`add_study` and for bundles."""
    values = _columns(fields) | {"created_at": created_at}
    if is_taken(work, values["slug"]):
        raise BadInputError(f"a study called '{values['slug']}' exists already", "study name", "choose another name")
    work.connection.execute(insert(schema.study).values(values))
    return get_study(work, values["slug"])


def add_study(
    work: Work,
    title: str,
    question: str,
    difference_that_matters: Mapping[str, Plain],
    invented: bool = False,
    slug: str | None = None,
) -> Study:
    """Make a study; its short name is made from the title unless one is given.

    Raises:
        BadInputError: a field cannot be kept, or the given name is taken.
    """
    fields = {
        "slug": free_slug(work, slug_of(title)) if slug is None else slug,
        "title": title,
        "question": question,
        "difference_that_matters": difference_that_matters,
        "invented": invented,
    }
    study = insert_study(work, fields, work.now)
    note_edit(work, study.id, "study made", None, as_document(study))
    return study


def edit_study(work: Work, changed: Study, expected: Study | None = None) -> Study:
    """Store a study's changed fields (made with ``dataclasses.replace``); its id and time of making stay.

    Args:
        work: the transaction.
        changed: the study as it shall be.
        expected: the study as it was when the edit was made from it; None for whatever is there.

    Raises:
        ConflictError: what is stored is not what was expected; the sentence names what was changed meanwhile.
        NotFoundError: there is no study with its id.
        BadInputError: a field cannot be kept, or the new name is taken.
    """
    known = study_numbered(work, changed.id)
    before, after = as_document(known), as_document(changed)
    values = _columns(after)
    if before == after:
        return known
    if expected is not None:
        refuse_changed(f"the study '{known.slug}'", as_document(expected), before)
    if before["slug"] != after["slug"] and is_taken(work, values["slug"]):
        raise BadInputError(f"a study called '{values['slug']}' exists already", "study name", "choose another name")
    work.connection.execute(update(schema.study).where(schema.study.c.id == changed.id).values(values))
    note_edit(work, changed.id, "study edited", before, after)
    return study_numbered(work, changed.id)


def get_study(view: View, slug: str) -> Study:
    """Return the study of this short name.

    Raises:
        NotFoundError: there is none; the error names those there are.
    """
    row = view.connection.execute(_BY_SLUG, {"slug": slug}).one_or_none()
    if row is None:
        names = [study.slug for study in list_studies(view)]
        advice = f"there is {', '.join(names[:8])}" if names else "make one first"
        raise NotFoundError(f"there is no study called '{slug[:80]}'", advice=advice)
    return _study(row)


def study_numbered(view: View, study_id: int) -> Study:
    """Return the study with this id, which stays when its short name changes.

    Raises:
        NotFoundError: there is none.
    """
    row = view.connection.execute(_BY_ID, {"id": study_id}).one_or_none()
    if row is None:
        raise NotFoundError(f"there is no study number {study_id}")
    return _study(row)


def list_studies(view: View) -> tuple[Study, ...]:
    """Return all studies in the order they were made."""
    return tuple(_study(row) for row in view.connection.execute(select(schema.study).order_by(schema.study.c.id)))


def insert_airplane(work: Work, airplane: AirplaneVersion) -> AirplaneVersion:
    """Insert a version of an airplane without noting it in the history; for :func:`put_airplane` and for bundles."""
    check_text(airplane.toml, "airplane")
    work.connection.execute(insert(schema.airplane).values(dataclasses.asdict(airplane)))
    return airplane


def put_airplane(work: Work, study_id: int, toml: str, expected_version: int | None = None) -> AirplaneVersion:
    """Store an airplane's TOML text as the study's next version; the same text as the last one makes no new version.

    Args:
        work: the transaction.
        study_id: its study.
        toml: the text.
        expected_version: the version it was made from, 0 for none; None for whatever is there.

    Raises:
        ConflictError: the newest version is not the expected one.
        BadInputError: the text cannot be kept exactly.
    """
    latest = latest_airplane(work, study_id)
    if latest is not None and latest.toml == toml:
        return latest
    number = 1 if latest is None else latest.version + 1
    if expected_version is not None and expected_version != number - 1:
        newest = "there is none" if latest is None else f"the newest is {latest.version} of {latest.created_at}"
        what = f"the airplane was changed meanwhile: this edit was made from version {expected_version}, {newest}"
        raise ConflictError(what, advice=ADVICE)
    version = insert_airplane(work, AirplaneVersion(study_id, number, toml, work.now))
    before: Document | None = None if latest is None else {"version": latest.version}
    note_edit(work, study_id, "airplane put", before, {"version": number})
    return version


def list_airplanes(view: View, study_id: int) -> tuple[AirplaneVersion, ...]:
    """Return every version of a study's airplane, oldest first."""
    table = schema.airplane
    rows = view.connection.execute(select(table).where(table.c.study_id == study_id).order_by(table.c.version))
    return tuple(AirplaneVersion(row.study_id, row.version, row.toml, row.created_at) for row in rows)


def latest_airplane(view: View, study_id: int) -> AirplaneVersion | None:
    """Return the newest version of a study's airplane, or None."""
    table = schema.airplane
    newest = select(func.max(table.c.version)).where(table.c.study_id == study_id).scalar_subquery()
    row = view.connection.execute(
        select(table).where(table.c.study_id == study_id, table.c.version == newest)
    ).one_or_none()
    return None if row is None else AirplaneVersion(row.study_id, row.version, row.toml, row.created_at)


def list_history(view: View, study_id: int) -> tuple[HistoryEntry, ...]:
    """Return every edit of a study, oldest first."""
    table = schema.history
    rows = view.connection.execute(select(table).where(table.c.study_id == study_id).order_by(table.c.id))
    return tuple(
        HistoryEntry(
            id=row.id,
            study_id=row.study_id,
            at=row.at,
            what=row.what,
            before=None if row.before is None else json_document(row.before, "database"),
            after=None if row.after is None else json_document(row.after, "database"),
        )
        for row in rows
    )


def restore_history(work: Work, entries: Iterable[HistoryEntry]) -> None:
    """Append edits that were made elsewhere, in their order and with their own times; for bundles."""
    rows = [
        {
            "study_id": entry.study_id,
            "at": entry.at,
            "what": check_line(entry.what, "history", 200),
            "before": None if entry.before is None else json_text(entry.before, "history"),
            "after": None if entry.after is None else json_text(entry.after, "history"),
        }
        for entry in entries
    ]
    if rows:
        work.connection.execute(insert(schema.history), rows)


ChangeMark = tuple[int, str, int, str]


def change_mark(view: View, study_id: int) -> ChangeMark:
    """Return the newest edit and the newest result: while both stay, nothing computed from a study is out of date.

    Cheap enough to ask at every request; 0 and "" where there is none. The stamps tell apart what a back-up that was
    taken back numbers the same.
    """
    found: list[tuple[int, str]] = []
    for table, stamp in ((schema.history, schema.history.c.at), (schema.result, schema.result.c.created_at)):
        newest = select(table.c.id, stamp).where(table.c.study_id == study_id).order_by(table.c.id.desc()).limit(1)
        row = view.connection.execute(newest).first()
        found.append((0, "") if row is None else (int(row[0]), str(row[1])))
    return (*found[0], *found[1])
