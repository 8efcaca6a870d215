"""A bundle taken back into the store, checked as if an enemy had made it."""

from __future__ import annotations

import dataclasses
import hashlib
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import BinaryIO, cast

from sqlalchemy import insert, select

from wringout.errors import BadInputError, NotFoundError
from wringout.store import bundle_format as form
from wringout.store import flights, results, schema, studies, study_documents, taps, vault
from wringout.store.bundle_export import bundle_contents
from wringout.store.bundle_format import LIMITS, BundleLimits, FileEntry
from wringout.store.bundle_zip import Archive, MemberStream, open_zip
from wringout.store.documents import check_line, check_slug, check_time, json_document
from wringout.store.records import (
    AirplaneVersion,
    HistoryEntry,
    KeptTap,
    Recording,
    Result,
    ResultKind,
    Run,
    RunState,
    Study,
    StudyRecording,
)
from wringout.store.revisions import Revision
from wringout.store.study_store import Store, View, Work


@dataclass(frozen=True, slots=True)
class ImportedBundle:
    """A bundle that is now in the store.

    ``already_there`` says the same bundle had been taken in before (or made here) and nothing was changed.
    ``notices`` are sentences for the user, for example that the study got another name.
    """

    study: Study
    sha256: str
    already_there: bool
    notices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Bundle:
    """A bundle whose every file has been held against the manifest."""

    archive: Archive
    limits: BundleLimits
    manifest: form.Manifest
    sha256: str
    files: dict[str, FileEntry]
    recordings: tuple[form.RecordingEntry, ...]

    def text(self, path: str, limit_bytes: int) -> str:
        if path not in self.files:
            raise BadInputError(f"the file '{path}' is missing from its list", form.MANIFEST, "export it again")
        data = self.archive.bytes_of(self.files[path], limit_bytes)
        try:
            return data.decode("utf-8")
        except UnicodeDecodeError as error:
            raise BadInputError(f"byte {error.start} is not UTF-8", path, "export the bundle again") from None

    def results(self) -> Iterator[tuple[str, form.ResultEntry]]:
        for path in sorted(self.files):
            if path.startswith("results/") and path.endswith(".json"):
                document = json_document(self.text(path, self.limits.document_bytes), path)
                yield path, form.checked(form.ResultEntry, document, path)


def _examine(archive: Archive, limits: BundleLimits) -> _Bundle:
    """Hold every file of a bundle against its manifest, and the documents against each other."""
    first = b"".join(archive.chunks(form.MANIFEST, limits.manifest_bytes))
    manifest = form.read_manifest(first)
    files = {entry.path: entry for entry in manifest.files}
    if len(files) != len(manifest.files):
        raise BadInputError("it lists a file twice", form.MANIFEST, "export the bundle again")
    for path in archive.infos:
        if path != form.MANIFEST and path not in files:
            raise BadInputError(f"the file '{path}' is not listed in {form.MANIFEST}", "bundle", "export it again")
    for entry in manifest.files:
        archive.check(entry, form.limit_of(entry.path, limits))
    bundle = _Bundle(archive, limits, manifest, hashlib.sha256(first).hexdigest(), files, ())
    text = bundle.text(form.RECORDINGS, limits.document_bytes)
    found = form.entries(form.RecordingEntry, text, form.RECORDINGS, limits.files)
    for item in found:
        file = files.get(item.file)
        if file is None or not item.file.startswith("recordings/") or file.sha256 != item.sha256:
            raise BadInputError(
                f"the recording '{item.name[:80]}' has no file of its hash", form.RECORDINGS, "export the bundle again"
            )
    bundle = dataclasses.replace(bundle, recordings=found)
    _refuse_strays(bundle)
    return bundle


def _refuse_strays(bundle: _Bundle) -> None:
    """Refuse a file that no document speaks of, so that nothing in a bundle is passed over in silence."""
    spoken_of = {form.RECORDINGS, form.RUNS, form.HISTORY}
    spoken_of |= {item.file for item in bundle.recordings} | {item.file for item in bundle.manifest.airplane}
    for path, entry in bundle.results():
        spoken_of |= {path} if entry.draws is None else {path, entry.draws}
    with_lines = bundle.manifest.version >= form.VERSION
    for path in bundle.files:
        if with_lines and (path == form.TAPS or form.document_name(path) is not None):
            continue
        if path not in spoken_of:
            raise BadInputError(f"nothing speaks of the file '{path}'", "bundle", "export the bundle again")


def _insert(work: Work, bundle: _Bundle, name: str) -> Study:
    """Insert everything a bundle says, except the bytes of its recordings."""
    entry = bundle.manifest.study
    fields = entry.model_dump(exclude={"created_at"})
    fields["slug"] = studies.free_slug(work, check_slug(entry.slug, f"{form.MANIFEST}, study.slug"))
    study = studies.insert_study(work, fields, entry.created_at)
    for airplane in bundle.manifest.airplane:
        text = bundle.text(airplane.file, bundle.limits.document_bytes)
        created_at = check_time(airplane.created_at, f"{form.MANIFEST}, airplane.created_at")
        studies.insert_airplane(work, AirplaneVersion(study.id, airplane.version, text, created_at))
    for item in bundle.recordings:
        _insert_recording(work, study, item, bundle.files[item.file].size_bytes)
    runs = bundle.text(form.RUNS, bundle.limits.document_bytes)
    for run in form.entries(form.RunEntry, runs, form.RUNS, bundle.limits.runs):
        _insert_run(work, study, run)
    for path, result in bundle.results():
        _insert_result(work, study, bundle, path, result)
    _insert_documents(work, study, bundle)
    _insert_taps(work, study, bundle)
    history = bundle.text(form.HISTORY, bundle.limits.history_bytes)
    studies.restore_history(work, _history(study, form.history_rows(history, bundle.limits.edits)))
    work.connection.execute(
        insert(schema.bundle_import).values(sha256=bundle.sha256, study_id=study.id, name=name, at=work.now)
    )
    return study


def _history(study: Study, rows: Iterable[Mapping[str, str]]) -> Iterator[HistoryEntry]:
    for number, row in enumerate(rows, 2):
        where = f"{form.HISTORY}, row {number}"
        before, after = (json_document(row[key], where) if row[key] else None for key in ("before", "after"))
        yield HistoryEntry(0, study.id, check_time(row["at"], where), row["what"], before, after)


def _insert_recording(work: Work, study: Study, item: form.RecordingEntry, size_bytes: int) -> None:
    added_at = check_time(item.added_at, f"{form.RECORDINGS}, added_at")
    if item.kind:
        check_line(item.kind, f"{form.RECORDINGS}, kind", 80)
    name = flights.file_name(item.name)
    recording = flights.enter_recording(work, Recording(item.sha256, name, size_bytes, added_at, item.kind))
    if flights.find_in_study(work, study.id, item.sha256) is not None:
        raise BadInputError(f"the recording {item.sha256[:12]} stands in it twice", form.RECORDINGS, "export it again")
    flights.insert_in_study(work, StudyRecording(study.id, recording, name, item.note, item.mapping, added_at))


def _insert_run(work: Work, study: Study, item: form.RunEntry) -> None:
    created_at = check_time(item.created_at, f"{form.RUNS}, {item.key[:40]}, created_at")
    fields = item.model_dump() | {"state": RunState(item.state), "created_at": created_at}
    try:
        flights.insert_run(work, Run(id=0, study_id=study.id, **fields))
    except NotFoundError as error:
        raise BadInputError(error.what, form.RUNS, "export the bundle again") from None


def _insert_result(work: Work, study: Study, bundle: _Bundle, path: str, item: form.ResultEntry) -> None:
    draws = None
    if item.draws is not None:
        if item.draws not in bundle.files or not item.draws.endswith(".npy"):
            raise BadInputError(f"the draws '{item.draws[:80]}' are missing", path, "export the bundle again")
        draws = bundle.archive.bytes_of(bundle.files[item.draws], bundle.limits.draws_bytes)
    created_at = check_time(item.created_at, f"{path}, created_at")
    fields = item.model_dump() | {"kind": ResultKind(item.kind), "draws": draws, "created_at": created_at}
    results.insert_result(work, Result(id=0, study_id=study.id, **fields))


def _insert_documents(work: Work, study: Study, bundle: _Bundle) -> None:
    """Insert every revision of every document, which must count from 1."""
    left = bundle.limits.revisions
    for path in bundle.files:
        name = form.document_name(path)
        if name is None:
            continue
        found = tuple(form.lines(form.DocumentLine, bundle.text(path, bundle.limits.lines_bytes), path, left))
        if not found or [item.revision for item in found] != list(range(1, len(found) + 1)):
            raise BadInputError("the revisions do not count from 1", path, "export the bundle again")
        left -= len(found)
        made = [Revision(name[1], item.revision, item.body, check_time(item.at, f"{path}, at")) for item in found]
        study_documents.restore_documents(work, study.id, name[0], made)


def _insert_taps(work: Work, study: Study, bundle: _Bundle) -> None:
    if form.TAPS not in bundle.files:
        return
    found = form.lines(form.TapLine, bundle.text(form.TAPS, bundle.limits.lines_bytes), form.TAPS, bundle.limits.taps)
    made = (
        KeptTap(study.id, tap.flight, tap.device, tap.sequence, tap.body, check_time(tap.at, f"{form.TAPS}, at"))
        for tap in found
    )
    taps.restore_taps(work, study.id, made)


def _known(view: View, bundle: _Bundle) -> Study | None:
    """Return the study a bundle became when it was taken in before, or was made from and still equals."""
    row = view.connection.execute(
        select(schema.study.c.slug)
        .join(schema.bundle_import, schema.bundle_import.c.study_id == schema.study.c.id)
        .where(schema.bundle_import.c.sha256 == bundle.sha256)
    ).one_or_none()
    if row is not None:
        return studies.get_study(view, row.slug)
    if studies.is_taken(view, bundle.manifest.study.slug):
        study = studies.get_study(view, bundle.manifest.study.slug)
        if bundle_contents(view, study).sha256 == bundle.sha256:
            return study
    return None


def _keep_recordings(store: Store, bundle: _Bundle) -> None:
    """Put the bytes of a bundle's recordings into the vault."""
    for item in bundle.recordings:
        chunks = bundle.archive.chunks(item.file, bundle.limits.recording_bytes)
        stream = cast("BinaryIO", io.BufferedReader(MemberStream(chunks)))
        kept = vault.keep(store.place.recordings, stream, item.name, bundle.limits.recording_bytes, store.disk)
        if kept.sha256 != item.sha256:
            raise BadInputError(f"the recording '{item.name[:80]}' changed while it was read", "bundle", "try again")


def import_bundle(store: Store, stream: BinaryIO, name: str, limits: BundleLimits = LIMITS) -> ImportedBundle:
    """Take a bundle in: everything is checked and rehearsed first, then the recordings are kept, then one transaction.

    Args:
        store: the store it goes into.
        stream: the zip; must be seekable.
        name: what to call the bundle in an error.
        limits: how large it may be.

    Raises:
        BadInputError: the bundle is damaged, changed, too large, newer than this version, or a trap; the store is
            then as it was.
        StoreError: disk or database refuse; no part of the study is then in the store.
    """
    try:
        with open_zip(stream, limits) as archive:
            bundle = _examine(archive, limits)
            with store.reading() as view:
                known = _known(view, bundle)
            if known is not None:
                return _already(known, bundle)
            with store.rehearsing() as work:
                _insert(work, bundle, name)
            _keep_recordings(store, bundle)
            with store.writing() as work:
                known = _known(work, bundle)
                return _already(known, bundle) if known is not None else _fresh(_insert(work, bundle, name), bundle)
    except BadInputError as error:
        raise error.at(name) from error


def _already(study: Study, bundle: _Bundle) -> ImportedBundle:
    sentence = f"This bundle is here already, as the study '{study.slug}'; nothing was changed."
    return ImportedBundle(study, bundle.sha256, True, (sentence,))


def _fresh(study: Study, bundle: _Bundle) -> ImportedBundle:
    wanted = bundle.manifest.study.slug
    notices = (f"A study called '{wanted}' exists already, so this one is called '{study.slug}'.",)
    return ImportedBundle(study, bundle.sha256, False, () if study.slug == wanted else notices)
