"""Recordings of one flight chosen, their clocks looked at, and brought together by what was found or by hand.

What is brought together is a recording of its own; which recordings it came from and how their clocks were taken to
lie is a document of the study. Undoing removes that document and sets aside the runs made of the recording; the
recording itself stays.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeGuard

from wringout.errors import BadInputError
from wringout.recordings.spoken.captions import KIND as CAPTIONS
from wringout.recordings.together.alignment import DRIFT_SD, MARK_SD_S, ClockFit, align
from wringout.recordings.together.merging import aligned_table
from wringout.recordings.types import Recording
from wringout.services.flights.clocks import with_movement
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.services.flights.runs import find_recording, put_run_back, read_study_recording, set_run_aside
from wringout.services.opening import the_study
from wringout.store import (
    RunState,
    Store,
    StudyRecording,
    get_document,
    list_documents,
    list_runs,
    put_document,
    remove_document,
)
from wringout.store.documents import Document

KIND = "one-clock"
BY_HAND = "hand"
UNDONE = "its clocks were taken apart again"
"""The reason of a run that is set aside with the clocks."""
MOST_OTHERS = 12
LONGEST_OFFSET_S = 48 * 3600.0
_OFFSET = re.compile(
    r"([+\-\N{MINUS SIGN}]?\d+(?:[.,]\d+)?)\s*s?\s*(?:(?:±|\+-|\+/-)\s*(\d+(?:[.,]\d+)?))?\s*s?", re.ASCII
)


@dataclass(frozen=True, slots=True)
class Beside:
    """Another recording beside the first one.

    Attributes:
        item: the recording in the study. recording: as read.
        found: how its clock was found to lie; None where nothing says so.
        why_not: the sentence that says why nothing was found, or "".
        typed: the offset as typed, "" to take what was found.
        by_hand: what was typed, as a fit; None without.
    """

    item: StudyRecording
    recording: Recording
    found: ClockFit | None
    why_not: str
    typed: str
    by_hand: ClockFit | None

    @property
    def fit(self) -> ClockFit | None:
        """What counts: what was typed, else what was found."""
        return self.by_hand or self.found


@dataclass(frozen=True, slots=True)
class SideBySide:
    """The first recording, whose clock counts, and the others beside it."""

    item: StudyRecording
    recording: Recording
    others: tuple[Beside, ...]


@dataclass(frozen=True, slots=True)
class OnOneClock:
    """Recordings that were brought onto one clock; ``revision`` is that of the document that says so."""

    key: str
    revision: int
    body: Mapping[str, Any]


def typed_offset(text: str, where: str) -> ClockFit:
    """Return an offset as it is typed: by how much later another recording begins [s], with one standard deviation.

    Without a doubt it is taken to be as good as a tapped mark.

    Raises:
        BadInputError: it is no such offset; ``where`` names the field.
    """
    found = _OFFSET.fullmatch(text.strip())
    if found is None:
        raise BadInputError(f"{text[:40]!r} is no offset", where, 'write seconds, such as "12.5 ± 0.5 s"')
    offset = float(found[1].replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    sd = MARK_SD_S if found[2] is None else float(found[2].replace(",", "."))
    if abs(offset) > LONGEST_OFFSET_S or not 0.0 < sd <= LONGEST_OFFSET_S:
        raise BadInputError(f"{text[:40]!r} is out of range", where, "write less than two days, with a doubt above 0")
    return ClockFit(offset, 0.0, 0.0, sd, DRIFT_SD, BY_HAND, 0)


def look_at_clocks(
    store: Store, slug: str | None, first: str, others: Sequence[str], typed: Sequence[str] = ()
) -> SideBySide:
    """Return how the clocks of other recordings lie beside that of the first, by what was found and by what was typed.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        first: the recording whose clock counts.
        others: the other recordings of the flight.
        typed: an offset for each of them, "" to take what is found.

    Raises:
        BadInputError: one cannot be read, has no times, is named twice, or an offset is none.
        NotFoundError: there is no such study or recording.
    """
    if not others:
        raise BadInputError("no other recording was chosen", "clocks", "choose at least one beside the first")
    if len(others) > MOST_OTHERS:
        raise BadInputError(f"{len(others)} others are too many", "clocks", f"choose at most {MOST_OTHERS}")
    with store.reading() as view:
        study = the_study(view, slug)
        items = [find_recording(view, study.id, name) for name in (first, *others)]
        read = [read_study_recording(view, item) for item in items]
    hashes = [item.recording.sha256 for item in items]
    for item in items:
        if hashes.count(item.recording.sha256) > 1:
            raise BadInputError("it was chosen twice", item.name, "choose each recording once")
    for one in read:
        if not can_be_aligned(one):
            what = "it has no times" if one.time_s is None else "it holds nothing that is measured or marked"
            raise BadInputError(what, one.name, "choose loggers' tables, tracks, taps or called readings")
    texts = [*typed, *[""] * len(others)]
    moved = with_movement(read[0])
    found = tuple(_beside(moved, *row) for row in zip(items[1:], read[1:], texts, strict=False))
    return SideBySide(items[0], read[0], found)


def can_be_aligned(one: Recording) -> bool:
    """Say whether a recording has a clock that others can be held against."""
    return one.time_s is not None and one.kind != CAPTIONS and bool(one.channels or one.marks)


def _beside(first: Recording, item: StudyRecording, recording: Recording, text: str) -> Beside:
    found, why_not = None, ""
    try:
        found = align(first, with_movement(recording))
    except BadInputError as error:
        why_not = str(error)
    by_hand = typed_offset(text, f"offset of {item.name}") if text.strip() else None
    return Beside(item, recording, found, why_not, text, by_hand)


def keep_on_one_clock(
    store: Store, slug: str | None, first: str, others: Sequence[str], typed: Sequence[str] = (), name: str = ""
) -> Arrival:
    """Take in recordings of one flight as one, on the clock of the first, and keep how they lie; all stay as they are.

    Raises:
        BadInputError: as :func:`look_at_clocks`, or nothing says how one lies, or its clock jumped.
        NotFoundError: there is no such study or recording.
    """
    found = look_at_clocks(store, slug, first, others, typed)
    pairs = []
    for one in found.others:
        if one.fit is None:
            raise BadInputError("nothing says how its clock lies", one.item.name, "type by how much later it begins")
        pairs.append((one.recording, one.fit))
    text = aligned_table(found.recording, pairs)
    stems = [item.name.rpartition(".")[0] or item.name for item in (found.item, *(one.item for one in found.others))]
    note = f"{', '.join(one.item.name for one in found.others)} on the clock of {found.item.name}"
    arrival = take_in_recording(store, slug, io.BytesIO(text.encode()), name or f"{'+'.join(stems)[:180]}.csv", note)
    with store.writing() as work:
        study = the_study(work, slug)
        sha256 = arrival.item.recording.sha256
        put_document(work, study.id, KIND, sha256[:40], _document(found, arrival))
        aside = [
            run.key for run in list_runs(work, study.id) if run.recording_sha256 == sha256 and run.reason == UNDONE
        ]
    for key in aside:
        put_run_back(store, slug, key)
    return arrival


def _document(found: SideBySide, arrival: Arrival) -> Document:
    return {
        "made": {"name": arrival.item.name, "sha256": arrival.item.recording.sha256},
        "first": {"name": found.item.name, "sha256": found.item.recording.sha256},
        "others": [
            {
                "name": one.item.name,
                "sha256": one.item.recording.sha256,
                "begins_s": round(float(one.fit.time_of(0.0)), 3),
                "begins_sd_s": round(one.fit.sd_at(0.0), 3),
                "drift_ppm": round(1e6 * one.fit.rate, 2),
                "by": one.fit.by,
                "typed": one.typed,
            }
            for one in found.others
            if one.fit is not None
        ],
    }


def kept_on_one_clock(store: Store, slug: str | None) -> tuple[OnOneClock, ...]:
    """Return what was brought onto one clock in a study, newest last.

    Raises:
        NotFoundError: there is no such study.
    """
    with store.reading() as view:
        kept = list_documents(view, the_study(view, slug).id, KIND)
    ordered = sorted(kept, key=lambda one: one.at)
    return tuple(OnOneClock(one.key, one.revision, one.body) for one in ordered if _is_whole(one.body))


def _is_whole(body: Document | None) -> TypeGuard[Document]:
    """Say whether a document, perhaps of another make, says what is shown of it."""
    known: Any = body
    try:
        named = [known["made"], known["first"], *known["others"]]
        numbers = [float(one[name]) for one in known["others"] for name in ("begins_s", "begins_sd_s")]
        return all(isinstance(one["name"], str) for one in named) and len(numbers) > 0
    except (KeyError, TypeError, ValueError):
        return False


def undo_one_clock(store: Store, slug: str | None, key: str, expected_revision: int | None = None) -> OnOneClock:
    """Forget that recordings were brought onto one clock, and set aside the runs made of them together.

    Raises:
        ConflictError: they were brought together anew since.
        NotFoundError: there is no such study, or nothing of this key.
    """
    with store.writing() as work:
        study = the_study(work, slug)
        known = get_document(work, study.id, KIND, key)
        remove_document(work, study.id, KIND, key, expected_revision)
        runs = [
            run.key
            for run in list_runs(work, study.id)
            if run.recording_sha256[:40] == key and run.state is RunState.IN_USE
        ]
    for run in runs:
        set_run_aside(store, slug, run, UNDONE)
    return OnOneClock(key, 0, {} if known is None or known.body is None else known.body)
