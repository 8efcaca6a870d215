"""Recordings taken into a study, and the runs cut from them."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import Any, BinaryIO

from sqlalchemy import Row, Select, insert, select, update

from wringout.errors import BadInputError, NotFoundError
from wringout.store import schema, vault
from wringout.store.conflicts import refuse_changed
from wringout.store.documents import (
    Document,
    check_line,
    check_sha256,
    check_text,
    json_document,
    json_text,
)
from wringout.store.records import Recording, Run, RunState, StudyRecording
from wringout.store.studies import study_numbered
from wringout.store.study_store import Store, View, Work, note_edit


@dataclass(frozen=True, slots=True)
class TakenIn:
    """A recording that is now safely stored.

    ``already_kept``: the same bytes had been taken in before, for any study. ``already_in_study``: for this study; its
    name and note then stay as they were.
    """

    recording: StudyRecording
    already_kept: bool
    already_in_study: bool


def file_name(name: str) -> str:
    """Return the last part of a path as a recording's name, on one line.

    Raises:
        BadInputError: nothing is left, or it cannot be kept.
    """
    return check_line(name.replace("\\", "/").rstrip("/").rpartition("/")[2], "name of the recording")


def take_in(
    store: Store,
    study_id: int,
    stream: BinaryIO,
    name: str,
    note: str = "",
    limit_bytes: int = vault.LIMIT_BYTES,
) -> TakenIn:
    """Take a recording into a study: its bytes into the vault first, synced, then its entry in the database.

    Raises:
        BadInputError: the file is empty, larger than the limit, or its name or note cannot be kept.
        NotFoundError: there is no such study.
        StoreError: disk or database refuse; nothing half-written stays.
    """
    name, note = file_name(name), check_text(note, "note")
    kept = vault.keep(store.place.recordings, stream, name, limit_bytes, store.disk)
    with store.writing() as work:
        study_numbered(work, study_id)
        recording = enter_recording(work, Recording(kept.sha256, name, kept.size_bytes, work.now, ""))
        found = find_in_study(work, study_id, kept.sha256)
        if found is not None:
            return TakenIn(found, kept.already_there, True)
        taken = insert_in_study(work, StudyRecording(study_id, recording, name, note, None, work.now))
        note_edit(work, study_id, "recording taken in", None, recording_document(taken))
        return TakenIn(taken, kept.already_there, False)


def enter_recording(work: Work, recording: Recording) -> Recording:
    """Enter kept bytes in the database; when they are known already, return them as they are known."""
    table = schema.recording
    row = work.connection.execute(select(table).where(table.c.sha256 == recording.sha256)).one_or_none()
    if row is None:
        work.connection.execute(insert(table).values(dataclasses.asdict(recording)))
        return recording
    known = _recording(row)
    return name_kind(work, known.sha256, recording.kind) if recording.kind and not known.kind else known


def name_kind(work: Work, sha256: str, kind: str) -> Recording:
    """Note what a reader made of a recording's bytes, for example ``called`` or ``table``.

    Raises:
        NotFoundError: there is no such recording.
    """
    table = schema.recording
    check_line(kind, "kind of recording", 80)
    work.connection.execute(update(table).where(table.c.sha256 == sha256).values(kind=kind))
    row = work.connection.execute(select(table).where(table.c.sha256 == sha256)).one_or_none()
    if row is None:
        raise NotFoundError(f"there is no recording {sha256[:12]}")
    return _recording(row)


def _recording(row: Row[Any]) -> Recording:
    return Recording(row.sha256, row.original_name, row.size_bytes, row.received_at, row.kind)


def recording_document(recording: StudyRecording) -> dict[str, Any]:
    """Return what a user can edit of a recording in a study, as it stands in the history."""
    return {
        "sha256": recording.recording.sha256,
        "name": recording.name,
        "note": recording.note,
        "mapping": recording.mapping,
    }


def insert_in_study(work: Work, recording: StudyRecording) -> StudyRecording:
    """Insert a recording in a study without noting it in the history; for :func:`take_in` and for bundles."""
    work.connection.execute(
        insert(schema.study_recording).values(
            study_id=recording.study_id,
            recording_sha256=recording.recording.sha256,
            name=check_line(recording.name, "name of the recording"),
            note=check_text(recording.note, "note"),
            mapping=_mapping_text(recording.mapping),
            added_at=recording.added_at,
        )
    )
    return recording


def _mapping_text(mapping: Document | None) -> str | None:
    return None if mapping is None else json_text(mapping, "mapping")


def _in_study(row: Row[Any]) -> StudyRecording:
    return StudyRecording(
        study_id=row.study_id,
        recording=_recording(row),
        name=row.name,
        note=row.note,
        mapping=None if row.mapping is None else json_document(row.mapping, "database"),
        added_at=row.added_at,
    )


def _joined(study_id: int) -> Select[Any]:
    table = schema.study_recording
    return (
        select(table, schema.recording)
        .join(schema.recording, schema.recording.c.sha256 == table.c.recording_sha256)
        .where(table.c.study_id == study_id)
    )


def find_in_study(view: View, study_id: int, sha256: str) -> StudyRecording | None:
    """Return a study's recording by its whole hash, or None."""
    query = _joined(study_id).where(schema.recording.c.sha256 == sha256)
    row = view.connection.execute(query).one_or_none()
    return None if row is None else _in_study(row)


def get_recording(view: View, study_id: int, sha256: str) -> StudyRecording:
    """Return a study's recording by its hash or by an unambiguous beginning of it.

    Raises:
        NotFoundError: the study has none, or more than one, whose hash begins so.
    """
    found = [item for item in list_recordings(view, study_id) if item.recording.sha256.startswith(sha256)]
    if len(found) == 1:
        return found[0]
    many = "more than one recording" if found else "no recording"
    raise NotFoundError(f"the study has {many} whose hash begins with '{sha256[:64]}'", advice="list the recordings")


def list_recordings(view: View, study_id: int) -> tuple[StudyRecording, ...]:
    """Return a study's recordings in the order they were added (by hash where that is the same)."""
    table = schema.study_recording
    query = _joined(study_id).order_by(table.c.added_at, table.c.recording_sha256)
    return tuple(_in_study(row) for row in view.connection.execute(query))


def read_recording_bytes(view: View, sha256: str) -> bytes:
    """Return the bytes of a recording, checked against their hash.

    Raises:
        NotFoundError: they are not in the vault.
        StoreError: they are damaged or cannot be read.
    """
    return vault.read(view.place.recordings, check_sha256(sha256, "recording"))


def edit_recording(work: Work, changed: StudyRecording, expected: StudyRecording | None = None) -> StudyRecording:
    """Store a changed name, note or column mapping of a recording in a study; its bytes never change.

    Args:
        work: the transaction.
        changed: the recording as it shall be.
        expected: the recording as it was when the edit was made from it; None for whatever is there.

    Raises:
        ConflictError: what is stored is not what was expected; the sentence names what was changed meanwhile.
        NotFoundError: the study has no such recording.
        BadInputError: a field cannot be kept.
    """
    table = schema.study_recording
    known = get_recording(work, changed.study_id, changed.recording.sha256)
    before, after = recording_document(known), recording_document(changed)
    if before == after:
        return known
    if expected is not None:
        refuse_changed(f"the recording '{known.name}'", recording_document(expected), before)
    values = {
        "name": check_line(changed.name, "name of the recording"),
        "note": check_text(changed.note, "note"),
        "mapping": _mapping_text(changed.mapping),
    }
    this = (table.c.study_id == changed.study_id) & (table.c.recording_sha256 == changed.recording.sha256)
    work.connection.execute(update(table).where(this).values(values))
    note_edit(work, changed.study_id, "recording edited", before, after)
    return dataclasses.replace(known, name=changed.name, note=changed.note, mapping=changed.mapping)


def run_document(run: Run) -> dict[str, Any]:
    """Return what a user can edit of a run, as it stands in the history and in bundles."""
    return {
        "key": run.key,
        "method": run.method,
        "recording_sha256": run.recording_sha256,
        "from_s": run.from_s,
        "to_s": run.to_s,
        "setup": run.setup,
        "state": str(run.state),
        "reason": run.reason,
    }


def _check_span(run: Run, where: str) -> None:
    """Refuse a stretch of time that is half given, not finite or the wrong way round."""
    if run.from_s is None and run.to_s is None:
        return
    if run.from_s is None or run.to_s is None or not (math.isfinite(run.from_s) and math.isfinite(run.to_s)):
        raise BadInputError("only one end of the run is given", where, "give from and to in seconds, or neither")
    if run.from_s >= run.to_s:
        raise BadInputError(
            f"the run ends at {run.to_s:g} s, not after it begins at {run.from_s:g} s", where, "from before to"
        )


def _run_columns(work: Work, run: Run) -> dict[str, Any]:
    """Check a run's editable fields and return them as the database keeps them."""
    key = check_line(run.key, "run, key", 40)
    where = f"run {key}"
    check_line(run.method, f"{where}, method", 80)
    _check_span(run, where)
    if run.state is RunState.SET_ASIDE and not run.reason.strip():
        raise BadInputError("a run set aside needs a reason", where, "say why it is not used")
    if run.state is RunState.IN_USE and run.reason:
        raise BadInputError("a run in use carries a reason for setting it aside", where, "clear the reason")
    if find_in_study(work, run.study_id, run.recording_sha256) is None:
        raise NotFoundError(
            f"{where} names the recording {run.recording_sha256[:12]}, which the study does not have",
            advice="take the recording in first",
        )
    return run_document(run) | {
        "setup": json_text(run.setup, f"{where}, setup"),
        "reason": check_text(run.reason, f"{where}, reason"),
    }


def insert_run(work: Work, run: Run) -> Run:
    """Insert a run without noting it in the history, and return it with its id; for :func:`add_run` and bundles."""
    if _find_run(work, run.study_id, run.key) is not None:
        raise BadInputError(f"the study has a run '{run.key}' already", "run, key", "choose another key")
    values = _run_columns(work, run) | {"study_id": run.study_id, "created_at": run.created_at}
    work.connection.execute(insert(schema.run).values(values))
    return get_run(work, run.study_id, run.key)


def add_run(
    work: Work,
    study_id: int,
    key: str,
    method: str,
    recording_sha256: str,
    span_s: tuple[float, float] | None,
    setup: Document,
) -> Run:
    """Add a run, in use.

    Args:
        work: the transaction.
        study_id: its study.
        key: its short name in the study, such as ``G1``.
        method: the key of the flight-test method.
        recording_sha256: a recording of the study.
        span_s: from and to, seconds on the recording's own clock; None for a table without times.
        setup: what the method needs to know about the run.

    Raises:
        BadInputError: the key is taken or a field cannot be kept.
        NotFoundError: the study does not have that recording.
    """
    from_s, to_s = (None, None) if span_s is None else (float(span_s[0]), float(span_s[1]))
    run = insert_run(
        work, Run(0, study_id, key, method, recording_sha256, from_s, to_s, setup, RunState.IN_USE, "", work.now)
    )
    note_edit(work, study_id, "run added", None, run_document(run))
    return run


def edit_run(work: Work, changed: Run, expected: Run | None = None) -> Run:
    """Store a run's changed fields (made with ``dataclasses.replace``); study, id and time of making stay.

    Args:
        work: the transaction.
        changed: the run as it shall be.
        expected: the run as it was when the edit was made from it; None for whatever is there.

    Raises:
        ConflictError: what is stored is not what was expected; the sentence names what was changed meanwhile.
        NotFoundError: there is no such run in its study, or its recording is not in the study.
        BadInputError: a field cannot be kept.
    """
    known = next((run for run in list_runs(work, changed.study_id) if run.id == changed.id), None)
    if known is None:
        raise NotFoundError(f"the study has no run number {changed.id}")
    before, after = run_document(known), run_document(changed)
    if before == after:
        return known
    if expected is not None:
        refuse_changed(f"the run {known.key}", run_document(expected), before)
    if changed.key != known.key and _find_run(work, changed.study_id, changed.key) is not None:
        raise BadInputError(f"the study has a run '{changed.key}' already", "run, key", "choose another key")
    values = _run_columns(work, changed)
    work.connection.execute(update(schema.run).where(schema.run.c.id == changed.id).values(values))
    note_edit(work, changed.study_id, "run edited", before, after)
    return get_run(work, changed.study_id, changed.key)


def _run(row: Row[Any]) -> Run:
    return Run(
        id=row.id,
        study_id=row.study_id,
        key=row.key,
        method=row.method,
        recording_sha256=row.recording_sha256,
        from_s=row.from_s,
        to_s=row.to_s,
        setup=json_document(row.setup, "database"),
        state=RunState(row.state),
        reason=row.reason,
        created_at=row.created_at,
    )


def list_runs(view: View, study_id: int) -> tuple[Run, ...]:
    """Return a study's runs in the order they were added."""
    table = schema.run
    rows = view.connection.execute(select(table).where(table.c.study_id == study_id).order_by(table.c.id))
    return tuple(_run(row) for row in rows)


def _find_run(view: View, study_id: int, key: str) -> Run | None:
    table = schema.run
    query = select(table).where(table.c.study_id == study_id, table.c.key == key)
    row = view.connection.execute(query).one_or_none()
    return None if row is None else _run(row)


def get_run(view: View, study_id: int, key: str) -> Run:
    """Return a study's run by its key.

    Raises:
        NotFoundError: there is none; the error names those there are.
    """
    found = _find_run(view, study_id, key)
    if found is not None:
        return found
    keys = [run.key for run in list_runs(view, study_id)]
    advice = f"there is {', '.join(keys[:20])}" if keys else "add one first"
    raise NotFoundError(f"the study has no run '{key[:40]}'", advice=advice)
