"""Results that were computed for a study, and the briefs that were written from them."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import zlib
from typing import Any

from sqlalchemy import Row, insert, select

from wringout.errors import BadInputError, StoreError
from wringout.store import schema
from wringout.store.documents import (
    MAX_INTEGER,
    Document,
    check_line,
    check_sha256,
    check_text,
    json_document,
    json_text,
)
from wringout.store.records import Brief, Result, ResultKind
from wringout.store.study_store import View, Work

_COMPRESSION = 6
DRAWS_BYTES = 256 * 2**20
"""The most bytes of draws kept with one result."""


def insert_result(work: Work, result: Result) -> Result:
    """Insert a result as it is and return it with its id; for :func:`put_result` and bundles."""
    if not 0 <= result.seed <= MAX_INTEGER:
        raise BadInputError(f"the seed {result.seed} is out of range", "result, seed", f"0 to {MAX_INTEGER}")
    if result.draws is not None and len(result.draws) > DRAWS_BYTES:
        raise BadInputError(
            f"the draws have {len(result.draws) / 1e6:,.0f} MB", "result, draws", f"at most {DRAWS_BYTES / 1e6:,.0f} MB"
        )
    values = {
        "study_id": result.study_id,
        "kind": str(result.kind),
        "inputs_hash": check_sha256(result.inputs_hash, "result, inputs_hash"),
        "seed": result.seed,
        "package_version": check_line(result.package_version, "result, package_version", 80),
        "settings": json_text(result.settings, "result, settings"),
        "body": zlib.compress(json_text(result.body, "result, body").encode(), _COMPRESSION),
        "draws": result.draws,
        "created_at": result.created_at,
    }
    key = work.connection.execute(insert(schema.result).values(values)).inserted_primary_key
    return dataclasses.replace(result, id=0 if key is None else int(key[0]))


def put_result(
    work: Work,
    study_id: int,
    kind: ResultKind,
    inputs_hash: str,
    seed: int,
    package_version: str,
    settings: Document,
    body: Document,
    draws: bytes | None = None,
) -> Result:
    """Keep a result. The same result computed again is not kept twice; the one that is there is returned.

    Args:
        work: the transaction.
        study_id: its study.
        kind: what it is the result of.
        inputs_hash: SHA-256 of everything it was computed from (``documents.hash_of_document`` makes one).
        seed: of the random draws, 0 to 2**63 - 1.
        package_version: of this package.
        settings: what was chosen for the computation.
        body: the result; JSON values only, null where there is no number.
        draws: the bytes of a NumPy ``.npy`` file of posterior draws, or None.

    Raises:
        BadInputError: something in it cannot be kept (a NaN, an infinite number, a foreign type), naming the field.
    """
    result = Result(
        id=0,
        study_id=study_id,
        kind=kind,
        inputs_hash=inputs_hash,
        seed=seed,
        package_version=package_version,
        settings=settings,
        body=body,
        draws=draws,
        created_at=work.now,
    )
    table = schema.result
    query = select(table).where(
        table.c.study_id == study_id, table.c.kind == str(kind), table.c.inputs_hash == inputs_hash
    )
    for row in work.connection.execute(query.order_by(table.c.id.desc())):
        known = _result(row)
        if _same(known, result):
            return known
    return insert_result(work, result)


def _same(one: Result, other: Result) -> bool:
    """Say whether two results are equal in all but their id and time."""
    if (one.seed, one.package_version, one.draws) != (other.seed, other.package_version, other.draws):
        return False
    return all(
        json_text(a, "result") == json_text(b, "result")
        for a, b in ((one.settings, other.settings), (one.body, other.body))
    )


def _result(row: Row[Any]) -> Result:
    try:
        body = zlib.decompress(row.body).decode()
    except (zlib.error, UnicodeDecodeError) as error:
        raise StoreError(
            f"the stored result number {row.id} is damaged ({error})", advice="compute it again from its recordings"
        ) from error
    return Result(
        id=row.id,
        study_id=row.study_id,
        kind=ResultKind(row.kind),
        inputs_hash=row.inputs_hash,
        seed=row.seed,
        package_version=row.package_version,
        settings=json_document(row.settings, "database"),
        body=_sound(body),
        draws=row.draws,
        created_at=row.created_at,
    )


_SOUND: set[bytes] = set()
_MOST_SOUND = 1000


def _sound(text: str) -> Document:
    """Read the body of a result; one whose every value was checked before in this process is only read."""
    digest = hashlib.sha256(text.encode()).digest()
    if digest in _SOUND:
        known: Document = json.loads(text)
        return known
    found = json_document(text, "database")
    if len(_SOUND) >= _MOST_SOUND:
        _SOUND.clear()
    _SOUND.add(digest)
    return found


def latest_result(view: View, study_id: int, kind: ResultKind, inputs_hash: str | None = None) -> Result | None:
    """Return the newest result of a kind, or None; with ``inputs_hash`` only one computed from those inputs."""
    table = schema.result
    query = select(table).where(table.c.study_id == study_id, table.c.kind == str(kind))
    if inputs_hash is not None:
        query = query.where(table.c.inputs_hash == inputs_hash)
    row = view.connection.execute(query.order_by(table.c.id.desc()).limit(1)).one_or_none()
    return None if row is None else _result(row)


def latest_standing(view: View, study_id: int, kind: ResultKind) -> tuple[str, Document] | None:
    """Return when the newest result of a kind was computed and its settings, without its numbers; None where none is.

    Asked for on every page, where reading the numbers as well would take most of the time.
    """
    table = schema.result
    query = select(table.c.created_at, table.c.settings)
    query = query.where(table.c.study_id == study_id, table.c.kind == str(kind)).order_by(table.c.id.desc()).limit(1)
    row = view.connection.execute(query).one_or_none()
    return None if row is None else (str(row.created_at), json_document(row.settings, "database"))


def list_results(view: View, study_id: int) -> tuple[Result, ...]:
    """Return every result of a study, oldest first."""
    table = schema.result
    rows = view.connection.execute(select(table).where(table.c.study_id == study_id).order_by(table.c.id))
    return tuple(_result(row) for row in rows)


def put_brief(work: Work, study_id: int, path: str, sha256: str, bundle_sha256: str) -> Brief:
    """Note a brief that was written: where, the hash of its bytes and the hash of the bundle it names.

    Raises:
        BadInputError: a field cannot be kept.
    """
    values: dict[str, Any] = {
        "study_id": study_id,
        "path": check_text(path, "brief, path"),
        "sha256": check_sha256(sha256, "brief, sha256"),
        "bundle_sha256": check_sha256(bundle_sha256, "brief, bundle_sha256"),
        "created_at": work.now,
    }
    key = work.connection.execute(insert(schema.brief).values(values)).inserted_primary_key
    return Brief(id=0 if key is None else int(key[0]), **values)


def list_briefs(view: View, study_id: int) -> tuple[Brief, ...]:
    """Return every brief noted for a study, oldest first."""
    table = schema.brief
    rows = view.connection.execute(select(table).where(table.c.study_id == study_id).order_by(table.c.id))
    return tuple(Brief(row.id, row.study_id, row.path, row.sha256, row.bundle_sha256, row.created_at) for row in rows)
