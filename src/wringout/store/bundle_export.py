"""A study written as one open bundle.

A bundle holds everything a study stands on (airplane, recordings, runs), what was computed and every edit; it does not
hold briefs, which name the bundle by its hash. The hash of a bundle is the SHA-256 of its ``bundle.toml``, which lists
every other file with its own hash, so equal studies have equal hashes however the zip was packed.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from sqlalchemy import func, select

from wringout.errors import BadInputError, StoreError
from wringout.store import bundle_format as form
from wringout.store import flights, results, schema, studies, study_documents, taps, vault
from wringout.store.bundle_format import LIMITS, FileEntry
from wringout.store.bundle_zip import Member, member_of, write_zip
from wringout.store.records import (
    AirplaneVersion,
    Result,
    Study,
    StudyRecording,
)
from wringout.store.study_store import Store, View


@dataclass(frozen=True, slots=True)
class BundleContents:
    """What a bundle holds: the study it was made from, its hash, and every file with hash and size."""

    slug: str
    sha256: str
    files: tuple[FileEntry, ...]


def _airplane_path(version: int, latest: int) -> str:
    return form.AIRPLANE if version == latest else f"airplane-versions/{version:04d}.toml"


def _airplane_entry(airplane: AirplaneVersion, latest: int) -> form.AirplaneEntry:
    path = _airplane_path(airplane.version, latest)
    return form.AirplaneEntry(version=airplane.version, created_at=airplane.created_at, file=path)


def _recording_path(item: StudyRecording) -> str:
    return f"recordings/{item.recording.sha256}/{form.safe_name(item.name)}"


def _recording_entry(item: StudyRecording) -> dict[str, Any]:
    return {
        "sha256": item.recording.sha256,
        "name": item.name,
        "kind": item.recording.kind,
        "note": item.note,
        "mapping": item.mapping,
        "added_at": item.added_at,
        "file": _recording_path(item),
    }


def _result_members(number: int, result: Result) -> Iterator[Member]:
    stem = f"results/{number:04d}-{result.kind}"
    draws = None if result.draws is None else f"{stem}.npy"
    document: dict[str, Any] = {
        "kind": str(result.kind),
        "inputs_hash": result.inputs_hash,
        "seed": result.seed,
        "package_version": result.package_version,
        "settings": result.settings,
        "body": result.body,
        "draws": draws,
        "created_at": result.created_at,
    }
    yield member_of(f"{stem}.json", form.json_bytes(document, stem))
    if draws is not None and result.draws is not None:
        yield member_of(draws, result.draws)


def _kept_members(view: View, study: Study) -> Iterator[Member]:
    """Give the documents and taps of a study as files of JSON Lines; nothing when it has none."""
    for kind, key in study_documents.document_names(view, study.id):
        path = f"{form.DOCUMENTS}{kind}/{key}{form.LINES}"
        found = study_documents.document_revisions(view, study.id, kind, key)
        values = ({"revision": item.revision, "at": item.at, "body": item.body} for item in found)
        yield member_of(path, form.lines_bytes(values, path))
    kept = [tap for flight in taps.list_tap_flights(view, study.id) for tap in taps.list_taps(view, study.id, flight)]
    if kept:
        fields = ("flight", "device", "sequence", "at", "body")
        rows = ({name: getattr(tap, name) for name in fields} for tap in kept)
        yield member_of(form.TAPS, form.lines_bytes(rows, form.TAPS))


def _members(view: View, study: Study) -> tuple[form.Manifest, list[Member]]:
    """Gather a study's manifest and files, the files in the order of their names."""
    airplanes = studies.list_airplanes(view, study.id)
    recordings = flights.list_recordings(view, study.id)
    runs = [flights.run_document(run) | {"created_at": run.created_at} for run in flights.list_runs(view, study.id)]
    members = [
        member_of(form.RECORDINGS, form.json_bytes([_recording_entry(item) for item in recordings], form.RECORDINGS)),
        member_of(form.RUNS, form.json_bytes(runs, form.RUNS)),
        member_of(form.HISTORY, form.history_bytes(studies.list_history(view, study.id))),
    ]
    members.extend(member_of(_airplane_path(a.version, len(airplanes)), a.toml.encode()) for a in airplanes)
    members.extend(_recording_member(view.place.recordings, item) for item in recordings)
    for number, result in enumerate(results.list_results(view, study.id), 1):
        members.extend(_result_members(number, result))
    members.extend(_kept_members(view, study))
    members.sort(key=lambda member: member.path)
    manifest = form.Manifest(
        format="wringout bundle",
        version=form.FIRST_VERSION if not any(m.path.endswith(form.LINES) for m in members) else form.VERSION,
        study=form.StudyEntry(**studies.as_document(study), created_at=study.created_at),
        airplane=[_airplane_entry(airplane, len(airplanes)) for airplane in airplanes],
        files=[FileEntry(path=m.path, sha256=m.sha256, size_bytes=m.size_bytes) for m in members],
    )
    return manifest, members


def _recording_member(folder: Path, item: StudyRecording) -> Member:
    recording = item.recording
    return Member(
        _recording_path(item),
        recording.size_bytes,
        recording.sha256,
        lambda: vault.read_chunks(folder, recording.sha256),
    )


def bundle_contents(view: View, study: Study) -> BundleContents:
    """Return what the study's bundle would hold now, and its hash, without writing it."""
    study = studies.study_numbered(view, study.id)
    manifest, _ = _members(view, study)
    return _contents(study, manifest)


def _contents(study: Study, manifest: form.Manifest) -> BundleContents:
    return BundleContents(study.slug, hashlib.sha256(form.manifest_bytes(manifest)).hexdigest(), tuple(manifest.files))


def write_bundle(view: View, study: Study, stream: BinaryIO) -> BundleContents:
    """Write a study's bundle to a seekable stream.

    Raises:
        NotFoundError: a recording is missing from the vault.
        StoreError: a recording is damaged, or the study is too large for a bundle.
    """
    study = studies.study_numbered(view, study.id)
    manifest, members = _members(view, study)
    first = form.manifest_bytes(manifest)
    _check_size(view, study, first, members)
    write_zip(stream, [member_of(form.MANIFEST, first), *members])
    return _contents(study, manifest)


def _check_size(view: View, study: Study, first: bytes, members: list[Member]) -> None:
    """Refuse to write a bundle that would be refused when it is taken in."""
    limits = (
        (schema.run, "runs", LIMITS.runs),
        (schema.history, "edits", LIMITS.edits),
        (schema.study_document, "revisions of documents", LIMITS.revisions),
        (schema.tap, "taps", LIMITS.taps),
    )
    for table, words, limit in limits:
        count = view.connection.scalar(select(func.count()).where(table.c.study_id == study.id)) or 0
        if count > limit:
            raise StoreError(f"the study has {count:,} {words}, too many for one bundle", advice=f"at most {limit:,}")
    total = sum(member.size_bytes for member in members)
    large = next((member.path for member in members if member.size_bytes > form.limit_of(member.path, LIMITS)), None)
    if large is not None:
        raise StoreError(
            f"'{large}' is too large for a bundle",
            advice=f"at most {form.limit_of(large, LIMITS) / 1e6:,.0f} MB in that file",
        )
    if total > LIMITS.total_bytes or len(members) >= LIMITS.files or len(first) > LIMITS.manifest_bytes:
        raise StoreError(
            f"the study has {len(members):,} files of {total / 1e6:,.1f} MB, too much for one bundle",
            advice=f"at most {LIMITS.files:,} files and {LIMITS.total_bytes / 1e6:,.0f} MB",
        )


def export_bundle(store: Store, study: Study, destination: Path, replace: bool = False) -> BundleContents:
    """Write a study's bundle to a file, which appears only when it is complete and synced.

    Raises:
        BadInputError: the file exists and ``replace`` is False.
        StoreError: it cannot be written, or a recording is damaged or missing.
    """
    if destination.exists() and not replace:
        raise BadInputError(f"'{destination}' exists already", "bundle", "choose another name or allow replacing it")
    temporary: Path | None = None
    try:
        descriptor, name = tempfile.mkstemp(dir=destination.parent, prefix=".bundle-", suffix=".part")
        temporary = Path(name)
        with os.fdopen(descriptor, "wb") as file:
            with store.reading() as view:
                contents = write_bundle(view, study, file)
            file.flush()
            store.disk.sync_file(file.fileno())
        temporary.chmod(0o644)
        store.disk.rename(temporary, destination)
        store.disk.sync_folder(destination.parent)
        return contents
    except OSError as error:
        raise StoreError(
            f"the bundle could not be written to '{destination}' ({error.strerror or error})",
            advice="make room or choose another place",
        ) from error
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)
