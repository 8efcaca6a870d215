"""Taking recordings in: the bytes into the vault first, then whatever can be read from them."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from wringout.errors import BadInputError, NotFoundError
from wringout.recordings.columns import mapping as columns
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Notice, Recording, Severity
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.flights.mappings import Answer, as_document, confirm_columns, from_document, read_mapping
from wringout.services.flights.media import has_sound
from wringout.services.flights.runs import BuiltRun, add_run_to, find_recording, method_of, read_study_recording
from wringout.services.flights.speed_units import unit_doubt
from wringout.services.opening import the_study
from wringout.store import (
    RunState,
    Store,
    StudyRecording,
    View,
    edit_recording,
    latest_airplane,
    list_recordings,
    list_runs,
    name_kind,
    read_recording_bytes,
    take_in,
    vault,
)

SOURCE_WORDS = ("captions hash", "clip hash")
"""Header words that name the recording another was made from."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """A recording that is kept, and what could be made of it.

    Attributes:
        item: the recording in the study.
        already_kept: the same bytes were in the vault before.
        already_in_study: and in this study.
        recording: as read; None when it cannot be read.
        problem: the sentence that says why it cannot be read, or "".
        run: the run that was made at once, or None.
        no_run: the sentence that says why no run was made, "" where one was.
        run_refused: no run was made because a word or a reading of it cannot be used as it stands.
        earlier_runs: with ``run``, the runs in use of other recordings of the same name, which this one may replace.
    """

    item: StudyRecording
    already_kept: bool
    already_in_study: bool
    recording: Recording | None
    problem: str
    run: BuiltRun | None
    no_run: str
    run_refused: bool
    earlier_runs: tuple[str, ...]

    @property
    def questions(self) -> tuple[Notice, ...]:
        """What the user must answer before the values of a column are used."""
        notices = self.recording.notices if self.recording else ()
        return tuple(notice for notice in notices if notice.severity is Severity.QUESTION)


@dataclass(frozen=True, slots=True)
class ReadRecording:
    """A recording of a study as listed: read anew, with the keys of its runs."""

    item: StudyRecording
    recording: Recording | None
    problem: str
    runs: tuple[str, ...]


def take_in_recording(
    store: Store,
    slug: str | None,
    stream: BinaryIO,
    name: str,
    note: str = "",
    mapping: columns.Mapping | None = None,
    answers: Sequence[Answer] = (),
    setup: Mapping[str, str] | None = None,
    key: str | None = None,
    make_run: bool = True,
) -> Arrival:
    """Take a recording into a study.

    The bytes are kept first, whatever they are. Then they are read; if that fails the bytes stay and the sentence is
    given. If the words in its header (with ``setup``) say all that a method needs, its run is made at once.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        stream: the bytes, read once to their end.
        name: the file's name.
        note: anything worth keeping with it.
        mapping: what the columns are; None keeps the mapping it has.
        answers: answers to a reader's questions, see :func:`wringout.services.flights.mappings.confirm_columns`.
        setup: set-up words for the run, before those in the header.
        key: the run's short name; chosen when not given.
        make_run: False takes the recording in without making a run.

    Raises:
        BadInputError: the file is empty or too large; or a mapping or an answer cannot be used (it is kept then).
        NotFoundError: there is no such study.
        StoreError: disk or database refuse.
    """
    with store.reading() as view:
        study = the_study(view, slug)
    taken = take_in(store, study.id, stream, name, note)
    item = taken.recording
    if mapping is not None or answers:
        item = use_mapping(store, study.slug, item.recording.sha256, mapping, answers)
    recording, problem = _read(store, item)
    run, no_run, refused = None, problem, False
    if recording is not None:
        with store.writing() as work:
            name_kind(work, item.recording.sha256, recording.kind)
        run, no_run, refused = _run_at_once(store, study.id, study.slug, item, recording, setup or {}, key, make_run)
    earlier = () if run is None else _earlier_runs(store, study.id, item)
    return Arrival(item, taken.already_kept, taken.already_in_study, recording, problem, run, no_run, refused, earlier)


def _earlier_runs(store: Store, study_id: int, item: StudyRecording) -> tuple[str, ...]:
    """Return the runs in use of other recordings that came under the same name."""
    with store.reading() as view:
        same = {other.recording.sha256 for other in list_recordings(view, study_id) if other.name == item.name}
        runs = list_runs(view, study_id)
    same.discard(item.recording.sha256)
    return tuple(run.key for run in runs if run.recording_sha256 in same and run.state is RunState.IN_USE)


def _read(store: Store, item: StudyRecording) -> tuple[Recording | None, str]:
    if has_sound(item.name):
        return None, f"{item.name}: it is a clip or a sound by its name, and is kept as it is."
    with store.reading() as view:
        try:
            return _doubted(view, item, read_study_recording(view, item)), ""
        except BadInputError as error:
            return None, str(error)


def _doubted(view: View, item: StudyRecording, recording: Recording) -> Recording:
    """Return a recording with the doubt that the study's airplane raises about its speeds, if there is one."""
    if item.mapping or latest_airplane(view, item.study_id) is None:
        return recording
    try:
        doubt = unit_doubt(recording, study_airplane(view, item.study_id).document)
    except BadInputError:  # the airplane's file says on its own page what is wrong with it
        return recording
    return recording if doubt is None else dataclasses.replace(recording, notices=(*recording.notices, doubt))


def _run_at_once(
    store: Store,
    study_id: int,
    slug: str,
    item: StudyRecording,
    recording: Recording,
    setup: Mapping[str, str],
    key: str | None,
    make_run: bool,
) -> tuple[BuiltRun | None, str, bool]:
    """Make a run where the words suffice; else say in a sentence why not, and whether something must be put right."""
    if not make_run:
        return None, "No run was made, as asked.", False
    with store.reading() as view:
        had = [run.key for run in list_runs(view, study_id) if run.recording_sha256 == item.recording.sha256]
        airplane = latest_airplane(view, study_id)
    if had:
        unused = " It keeps its set-up words; those given now are not used." if setup else ""
        return None, f"It has {'the run' if len(had) == 1 else 'the runs'} {', '.join(had)} already.{unused}", False
    if airplane is None:
        return None, "No run was made: the study has no airplane yet; put one in, then add the run.", False
    try:
        if method_of(recording, setup) is None:
            return None, 'No run was made: no line such as "# method: level deceleration" says what was flown.', False
        return add_run_to(store, slug, item.recording.sha256, None, None, setup, key), "", False
    except (BadInputError, NotFoundError) as error:
        return None, f"No run was made: {error}", True


def use_mapping(
    store: Store, slug: str | None, wanted: str, mapping: columns.Mapping | None, answers: Sequence[Answer] = ()
) -> StudyRecording:
    """Choose what the columns of a recording are, and answer its reader's questions; its bytes do not change.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        wanted: the recording's name, or the beginning of its hash.
        mapping: the mapping to use; None keeps the one it has.
        answers: see :func:`wringout.services.flights.mappings.confirm_columns`.

    Raises:
        BadInputError: the recording cannot be read with it, or an answer names no column; nothing is changed then.
        NotFoundError: there is no such study or recording.
    """
    with store.reading() as view:
        item = find_recording(view, the_study(view, slug).id, wanted)
        data = read_recording_bytes(view, item.recording.sha256)
    chosen = mapping if mapping is not None else from_document(item.mapping, item.name)
    if answers:
        chosen = confirm_columns(chosen, answers, data, item.name)
    if chosen is None:
        return item
    read_recording(data, item.name, chosen)
    with store.writing() as work:
        return edit_recording(work, dataclasses.replace(item, mapping=as_document(chosen)))


def study_recordings(store: Store, slug: str | None) -> tuple[ReadRecording, ...]:
    """Return every recording of a study, read anew, with the keys of its runs.

    Raises:
        NotFoundError: there is no such study.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        items = list_recordings(view, study.id)
        runs = list_runs(view, study.id)
    found = []
    for item in items:
        recording, problem = _read(store, item)
        keys = tuple(run.key for run in runs if run.recording_sha256 == item.recording.sha256)
        found.append(ReadRecording(item, recording, problem, keys))
    return tuple(found)


def recording_file(store: Store, slug: str | None, wanted: str) -> tuple[StudyRecording, Path]:
    """Return a recording of a study and where its bytes lie, checked against their hash.

    Raises:
        NotFoundError: there is no such study or recording, or its bytes are missing.
        StoreError: its bytes are damaged or cannot be read.
    """
    with store.reading() as view:
        item = find_recording(view, the_study(view, slug).id, wanted)
    vault.check(store.place.recordings, item.recording.sha256)
    return item, vault.path_of(store.place.recordings, item.recording.sha256)


def made_from(store: Store, slug: str | None, sha256: str) -> tuple[ReadRecording, ...]:
    """Return the recordings of a study whose header says that they were made from another one, oldest first.

    Raises:
        NotFoundError: there is no such study.
    """
    every = study_recordings(store, slug)
    return tuple(
        one for one in every if one.recording and sha256 in (one.recording.header.get(word) for word in SOURCE_WORDS)
    )


def study_recording(store: Store, slug: str | None, wanted: str) -> ReadRecording:
    """Return one recording of a study by its name or the beginning of its hash.

    Raises:
        NotFoundError: there is no such study or recording.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        item = find_recording(view, study.id, wanted)
        keys = tuple(run.key for run in list_runs(view, study.id) if run.recording_sha256 == item.recording.sha256)
    recording, problem = _read(store, item)
    return ReadRecording(item, recording, problem, keys)


__all__ = [
    "Arrival",
    "ReadRecording",
    "made_from",
    "read_mapping",
    "recording_file",
    "study_recording",
    "study_recordings",
    "take_in_recording",
    "use_mapping",
]
