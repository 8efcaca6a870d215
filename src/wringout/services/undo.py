"""Undoing and redoing edits of a study. Either is a new edit in the history; nothing is ever taken out of it.

An edit is named by its number: its place in the study's history, counted from 1. It can be undone while what it made
is what is there now, and redone while what it had replaced is; otherwise a later edit would be lost, and that is said.
Recordings are never removed, so taking one in cannot be undone; a run that was added is set aside.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wringout.errors import BadInputError, ConflictError, NotFoundError
from wringout.services.flights.runs import refuse_shared_readings
from wringout.services.opening import the_study
from wringout.store import (
    Document,
    HistoryEntry,
    Run,
    RunState,
    Store,
    Work,
    document_revisions,
    edit_recording,
    edit_run,
    edit_study,
    get_recording,
    list_airplanes,
    list_history,
    list_runs,
    put_airplane,
    put_document,
    remove_document,
)
from wringout.store.flights import recording_document, run_document
from wringout.store.studies import as_document, study_numbered
from wringout.store.study_store import note_edit

UNDONE, REDONE = "edit undone", "edit redone"
SET_ASIDE = "adding it was undone"
"""The reason of a run set aside because adding it was undone."""


@dataclass(frozen=True, slots=True)
class Edit:
    """An edit that can be undone or, when it is undone now, redone. ``number`` counts from 1 in the history.

    ``words`` say what was done and to what, as a reader says it.
    """

    number: int
    at: str
    what: str
    subject: str
    undone: bool
    words: str


def _changed(subject: str) -> ConflictError:
    return ConflictError(
        f"{subject} was changed again since that edit", advice="undo the later edit first; nothing was changed"
    )


def _move_airplane(work: Work, study_id: int, there: Document | None, wanted: Document | None) -> None:
    texts = {item.version: item.toml for item in list_airplanes(work, study_id)}
    newest = texts[max(texts)]
    if there is None or wanted is None:
        raise BadInputError("the first version of an airplane cannot be undone", "undo", "put another version")
    if texts.get(_number(there, "version")) != newest:
        raise _changed("the airplane")
    put_airplane(work, study_id, texts[_number(wanted, "version")])


def _move_study(work: Work, study_id: int, there: Document | None, wanted: Document | None) -> None:
    study = study_numbered(work, study_id)
    if as_document(study) != there or wanted is None:
        raise _changed(f"the study '{study.slug}'")
    fields: dict[str, Any] = dict(wanted)
    edit_study(work, dataclasses.replace(study, **fields))


def _wanted_run(run: Run, there: Document | None, wanted: Document | None) -> Run:
    """Return a run as it shall be, after checking that it is as expected."""
    now = run_document(run)
    if there is None:  # adding it is redone
        if wanted is None or now != {**wanted, "state": str(RunState.SET_ASIDE), "reason": SET_ASIDE}:
            raise _changed(f"the run {run.key}")
        return dataclasses.replace(run, state=RunState.IN_USE, reason="")
    if now != there:
        raise _changed(f"the run {run.key}")
    if wanted is None:  # adding it is undone
        return dataclasses.replace(run, state=RunState.SET_ASIDE, reason=SET_ASIDE)
    fields: dict[str, Any] = {**wanted, "state": RunState(str(wanted["state"]))}
    return dataclasses.replace(run, **fields)


def _move_run(work: Work, study_id: int, there: Document | None, wanted: Document | None) -> None:
    key = str((there or wanted or {})["key"])
    run = next((item for item in list_runs(work, study_id) if item.key == key), None)
    if run is None:
        raise _changed(f"the run {key}")
    changed = _wanted_run(run, there, wanted)
    if changed.state is RunState.IN_USE:
        refuse_shared_readings(work, study_id, changed)
    edit_run(work, changed)


def _move_recording(work: Work, study_id: int, there: Document | None, wanted: Document | None) -> None:
    known = get_recording(work, study_id, str((there or wanted or {})["sha256"]))
    if recording_document(known) != there or wanted is None:
        raise _changed(f"the recording '{known.name}'")
    fields: dict[str, Any] = {name: wanted[name] for name in ("name", "note", "mapping")}
    edit_recording(work, dataclasses.replace(known, **fields))


def _move_document(work: Work, study_id: int, there: Document | None, wanted: Document | None) -> None:
    named = there or wanted or {}
    kind, key = str(named["kind"]), str(named["key"])
    bodies = {item.revision: item.body for item in document_revisions(work, study_id, kind, key)}
    if bodies[max(bodies)] != (None if there is None else bodies.get(_number(there, "revision"))):
        raise _changed(f"the {kind} '{key}'")
    body = None if wanted is None else bodies.get(_number(wanted, "revision"))
    if body is None:
        remove_document(work, study_id, kind, key)
    else:
        put_document(work, study_id, kind, key, body)


def _number(document: Document, field: str) -> int:
    value = document[field]
    if not isinstance(value, int):
        raise BadInputError(f"'{field}' is not a whole number", "history", "a whole number")
    return value


_MOVES: Mapping[str, Callable[[Work, int, Document | None, Document | None], None]] = {
    "airplane put": _move_airplane,
    "study edited": _move_study,
    "run added": _move_run,
    "run edited": _move_run,
    "recording edited": _move_recording,
    "document kept": _move_document,
    "document removed": _move_document,
}


def _subject(entry: HistoryEntry) -> str:
    values = entry.after or entry.before or {}
    return next((str(values[field]) for field in ("key", "name", "version", "slug") if field in values), "")


_DOCUMENTS: Mapping[str, str] = {
    "test-plan": "test plan",
    "technique-draft": "technique of your own",
    "technique-map": "map of techniques",
    "technique-search": "search of techniques",
    "plan-chance": "chance to decide",
    "agreement": "agreement of handbooks",
    "caption-candidates": "answers about captions",
    "run-proposals": "answers about proposed runs",
    "one-clock": "recordings on one clock",
    "capture-key": "key of a page of taps",
}
"""What a document of a study is called where it is read."""
_NAMED_BY_KEY = ("test-plan", "plan-chance", "technique-draft", "agreement", "capture-key")
_DONE: Mapping[str, str] = {
    "airplane put": "version of the airplane saved",
    "study edited": "study edited",
    "run added": "run added",
    "run edited": "run edited",
    "recording edited": "recording edited",
}


def edit_words(entry: HistoryEntry) -> str:
    """Return what an edit did and to what, as a reader says it, such as "test plan saved: flight-1"."""
    values = entry.after or entry.before or {}
    subject = _subject(entry)
    if entry.what in ("document kept", "document removed"):
        kind = str(values.get("kind", ""))
        named = f"{_DOCUMENTS.get(kind, kind.replace('-', ' '))} {'saved' if entry.after else 'taken off'}"
        return f"{named}: {subject}" if kind in _NAMED_BY_KEY and subject else named
    if entry.what in (UNDONE, REDONE):
        return f"edit {values.get('edit')} {'undone' if entry.what == UNDONE else 'redone'}"
    words = _DONE.get(entry.what, entry.what)
    return f"{words}: {subject}" if subject else words


def _walk(history: Sequence[HistoryEntry]) -> tuple[tuple[Edit, ...], tuple[int, ...]]:
    """Return every edit that can be undone or redone, oldest first, and the numbers of the undone, latest last."""
    effects: set[int] = set()
    undone: list[int] = []
    for number, entry in enumerate(history, 1):
        if entry.what in {UNDONE, REDONE} and entry.after is not None:
            effects |= set(range(_number(entry.after, "first_effect"), number))
            edit = _number(entry.after, "edit")
            undone = [other for other in undone if other != edit] + ([edit] if entry.what == UNDONE else [])
    edits = tuple(
        Edit(number, entry.at, entry.what, _subject(entry), number in undone, edit_words(entry))
        for number, entry in enumerate(history, 1)
        if number not in effects and entry.what in _MOVES and not (entry.what == "airplane put" and not entry.before)
    )
    return edits, tuple(undone)


def list_edits(store: Store, slug: str | None, limit: int = 20) -> tuple[Edit, ...]:
    """Return the newest edits of a study that can be undone or redone, newest first.

    Args:
        store: where it is kept.
        slug: the study's short name; None for the only one.
        limit: how many at most.

    Raises:
        NotFoundError: there is no such study.
    """
    with store.reading() as view:
        edits, _ = _walk(list_history(view, the_study(view, slug).id))
    return edits[::-1][:limit]


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a study's whole history. ``edit`` is what can be undone or redone of it, None where nothing can."""

    number: int
    at: str
    words: str
    edit: Edit | None


def whole_history(store: Store, slug: str | None) -> tuple[Entry, ...]:
    """Return every edit of a study, newest first, also those that cannot be undone.

    Raises:
        NotFoundError: there is no such study.
    """
    with store.reading() as view:
        history = list_history(view, the_study(view, slug).id)
    edits = {edit.number: edit for edit in _walk(history)[0]}
    entries = [Entry(n, entry.at, edit_words(entry), edits.get(n)) for n, entry in enumerate(history, 1)]
    return tuple(reversed(entries))


def undo(store: Store, slug: str | None, number: int | None = None) -> Edit:
    """Undo an edit: what it replaced is put back, as a new edit.

    Args:
        store: where it is kept.
        slug: the study's short name; None for the only one.
        number: which edit; None for the last one that is not undone.

    Raises:
        ConflictError: what it made was changed since; nothing is changed then.
        BadInputError: it is undone already, or what it replaced cannot be had again (a name is taken).
        NotFoundError: there is no such study, or nothing to undo.
    """
    return _turn(store, slug, number, back=True)


def redo(store: Store, slug: str | None, number: int | None = None) -> Edit:
    """Redo an edit that was undone, as a new edit.

    Args:
        store: where it is kept.
        slug: the study's short name; None for the only one.
        number: which edit; None for the one undone last.

    Raises:
        ConflictError: what it would replace was changed since; nothing is changed then.
        BadInputError: it is not undone.
        NotFoundError: there is no such study, or nothing to redo.
    """
    return _turn(store, slug, number, back=False)


def _chosen(history: Sequence[HistoryEntry], number: int | None, back: bool) -> Edit:
    """Return the edit that is meant."""
    edits, undone = _walk(history)
    word = "undo" if back else "redo"
    if number is None:
        standing = [edit.number for edit in edits if not edit.undone] if back else list(undone)
        if not standing:
            raise NotFoundError(f"there is nothing to {word}")
        number = standing[-1]
    edit = next((item for item in edits if item.number == number), None)
    if edit is None:
        raise NotFoundError(f"edit {number} cannot be {word}ne", advice="choose one from the list of edits that can")
    if edit.undone is back:
        raise BadInputError(f"edit {number} is {'undone already' if back else 'not undone'}", word, "choose another")
    return edit


def _turn(store: Store, slug: str | None, number: int | None, back: bool) -> Edit:
    with store.writing() as work:
        study_id = the_study(work, slug).id
        history = list_history(work, study_id)
        edit = _chosen(history, number, back)
        entry = history[edit.number - 1]
        there, wanted = (entry.after, entry.before) if back else (entry.before, entry.after)
        _MOVES[entry.what](work, study_id, there, wanted)
        after: Document = {
            "edit": edit.number,
            "what": edit.what,
            "key": edit.subject,
            "first_effect": len(history) + 1,
        }
        note_edit(work, study_id, UNDONE if back else REDONE, None, after)
    return dataclasses.replace(edit, undone=back)
