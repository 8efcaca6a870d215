"""The plain records the store hands out and takes in. Ids come from the database, times from the caller's clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from wringout.store.documents import Document

Plain = str | int | float | bool


class RunState(StrEnum):
    """Whether a run takes part in the reduction."""

    IN_USE = "in use"
    SET_ASIDE = "set aside"


class ResultKind(StrEnum):
    """What a result is the result of."""

    REDUCTION = "reduction"
    MATCHUP = "matchup"


@dataclass(frozen=True, slots=True)
class Study:
    """A question and everything gathered to answer it.

    ``difference_that_matters`` is a flat table stated before flying (for example ``{"energy_height_m": 3.0}``).
    ``invented`` marks a study whose airplane and numbers were made up.
    """

    id: int
    slug: str
    title: str
    question: str
    difference_that_matters: Mapping[str, Plain]
    created_at: str
    invented: bool


@dataclass(frozen=True, slots=True)
class AirplaneVersion:
    """One version of a study's airplane: its TOML text exactly as it was put in. Versions count from 1."""

    study_id: int
    version: int
    toml: str
    created_at: str


@dataclass(frozen=True, slots=True)
class Recording:
    """The bytes of a recording as the vault keeps them: hash, size, the first name they came under, when.

    ``kind`` is what a reader made of them ("" until read).
    """

    sha256: str
    original_name: str
    size_bytes: int
    received_at: str
    kind: str


@dataclass(frozen=True, slots=True)
class StudyRecording:
    """A recording in one study: the name it has there, a note, and the column mapping chosen for it, if any."""

    study_id: int
    recording: Recording
    name: str
    note: str
    mapping: Document | None
    added_at: str


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of a recording flown for one method.

    ``from_s`` and ``to_s`` are seconds on the recording's own clock; both None for a table without times. A run set
    aside carries the reason; a run in use carries none.
    """

    id: int
    study_id: int
    key: str
    method: str
    recording_sha256: str
    from_s: float | None
    to_s: float | None
    setup: Document
    state: RunState
    reason: str
    created_at: str


@dataclass(frozen=True, slots=True)
class Result:
    """What was computed from hashed inputs with a seed and settings by a version of this package.

    ``draws`` are the bytes of a NumPy ``.npy`` file, or None.
    """

    id: int
    study_id: int
    kind: ResultKind
    inputs_hash: str
    seed: int
    package_version: str
    settings: Document
    body: Document
    draws: bytes | None
    created_at: str


@dataclass(frozen=True, slots=True)
class Brief:
    """A brief that was written: where, the hash of its bytes, and the hash of the bundle it names."""

    id: int
    study_id: int
    path: str
    sha256: str
    bundle_sha256: str
    created_at: str


@dataclass(frozen=True, slots=True)
class StudyDocument:
    """One revision of a document of a study, such as a test plan or a loading sheet.

    ``kind`` and ``key`` name it in its study; revisions count from 1. A removal is a revision whose ``body`` is None.
    """

    study_id: int
    kind: str
    key: str
    revision: int
    body: Document | None
    at: str


@dataclass(frozen=True, slots=True)
class LibraryEntry:
    """One revision of an entry that belongs to no study, such as a printed procedure.

    ``kind`` and ``key`` name it; revisions count from 1. A removal is a revision whose ``body`` is None.
    """

    kind: str
    key: str
    revision: int
    body: Document | None
    at: str


@dataclass(frozen=True, slots=True)
class Tap:
    """What one touch on a capture device said. ``sequence`` counts the touches of that device, from 0 or 1 on."""

    sequence: int
    body: Document


@dataclass(frozen=True, slots=True)
class KeptTap:
    """A tap as the store keeps it: which flight of which study, which device, and when it arrived."""

    study_id: int
    flight: str
    device: str
    sequence: int
    body: Document
    at: str


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """One edit: when, what, and the values before and after (None where there was nothing)."""

    id: int
    study_id: int
    at: str
    what: str
    before: Document | None
    after: Document | None
