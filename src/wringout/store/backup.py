"""Everything a store holds in one file, written while it is in use, and taken back the same way.

A back-up is a zip, not compressed: ``wringout.sqlite3``, a copy of the database as of one moment, ``recordings/<hash>``
for every sound recording of the vault, and ``backup.json`` with the hash of each. Taking one back never removes a
recording, and copies the database it replaces beside it first.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import re
import shutil
import sqlite3
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, cast

from wringout.errors import BadInputError, StoreError
from wringout.store import vault
from wringout.store.bundle_format import LIMITS
from wringout.store.database import copy_database, explained, fsync_path, open_engine, schema_version
from wringout.store.documents import json_document, json_text
from wringout.store.place import Place, prepare
from wringout.store.study_store import Store, View

FORMAT = "wringout back-up"
DATABASE, LIST, RECORDINGS = "wringout.sqlite3", "backup.json", "recordings/"
LIST_BYTES = 64 * 2**20
_EPOCH = (1980, 1, 1, 0, 0, 0)


Told = Callable[[float, str], None]
"""Called with the share that is done, 0 to 1, and words."""


def _untold(share: float, words: str) -> None:
    del share, words


@dataclass(frozen=True, slots=True)
class BackUp:
    """A back-up that was written or taken back: how many recordings it holds, and sentences for the user."""

    recordings: int
    notices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Held:
    """What a back-up that was read to its end holds.

    Attributes:
        studies: the title of each study, in the order they were made.
        recordings: how many recordings it holds.
        size_bytes: of all its files, unpacked.
        edited_at: when a study in it was last edited, UTC; "" where none ever was.
    """

    studies: tuple[str, ...]
    recordings: int
    size_bytes: int
    edited_at: str


def _no_room(error: OSError, what: str) -> StoreError:
    return StoreError(
        f"{what} could not be written ({error.strerror or error})", advice="make room or choose another place"
    )


def _add(archive: zipfile.ZipFile, name: str, source: Path) -> str:
    """Add a file to a zip a chunk at a time and return the hash of its bytes."""
    digest = hashlib.sha256()
    with source.open("rb") as file, archive.open(zipfile.ZipInfo(name, _EPOCH), "w", force_zip64=True) as member:
        while chunk := file.read(vault.CHUNK_BYTES):
            digest.update(chunk)
            member.write(chunk)
    return digest.hexdigest()


def _write(store: Store, file: BinaryIO, copy: Path, told: Told) -> BackUp:
    """Write the database first: whatever it names is in the vault by then."""
    copy_database(store.place.database, copy)
    hashes: dict[str, str] = {}
    notices: list[str] = []
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
        hashes[DATABASE] = _add(archive, DATABASE, copy)
        kept = vault.hashes(store.place.recordings)
        for number, sha256 in enumerate(kept, 1):
            told(number / (len(kept) + 1), f"recording {number:,} of {len(kept):,}")
            try:
                vault.check(store.place.recordings, sha256)
            except StoreError as error:
                notices.append(f"Not in the back-up: {error}")
                continue
            name = RECORDINGS + sha256
            hashes[name] = _add(archive, name, vault.path_of(store.place.recordings, sha256))
        archive.writestr(zipfile.ZipInfo(LIST, _EPOCH), json_text({"format": FORMAT, "sha256": hashes}, LIST))
    return BackUp(len(hashes) - 1, tuple(notices))


def write_backup(store: Store, destination: Path, replace: bool = False, told: Told = _untold) -> BackUp:
    """Write everything a store holds to one file, which appears only when it is complete and synced.

    Others may read and write the store meanwhile.

    Args:
        store: what is written.
        destination: the file; its folder must be there.
        replace: allow replacing the file.
        told: is told how far it is.

    Raises:
        BadInputError: the file exists and ``replace`` is False.
        StoreError: it cannot be written, or the database is damaged.
    """
    if destination.exists() and not replace:
        raise BadInputError(f"'{destination}' exists already", "back-up", "choose another name or allow replacing it")
    try:
        with (
            tempfile.TemporaryDirectory(dir=destination.parent, prefix=".backup-") as folder,
            explained(store.place),
        ):
            temporary = Path(folder) / "backup.part"
            with temporary.open("wb") as file:
                done = _write(store, file, Path(folder) / DATABASE, told)
                file.flush()
                store.disk.sync_file(file.fileno())
            store.disk.rename(temporary, destination)
            store.disk.sync_folder(destination.parent)
        return done
    except OSError as error:
        raise _no_room(error, f"the back-up '{destination}'") from error


_RECORDING = re.compile(r"recordings/[0-9a-f]{64}")


def _listed(archive: zipfile.ZipFile) -> dict[str, str]:
    """Return the hash of every file of a back-up after checking names against the list."""
    if LIST not in archive.namelist() or archive.getinfo(LIST).file_size > LIST_BYTES:
        raise BadInputError(f"the file '{LIST}' is missing", "back-up", "choose a back-up that Wringout wrote")
    document = json_document(archive.read(LIST).decode(), LIST)
    hashes = document.get("sha256")
    if document.get("format") != FORMAT or not isinstance(hashes, dict):
        raise BadInputError(f"the format is not '{FORMAT}'", LIST, "choose a back-up that Wringout wrote")
    unpacked, packed = (sum(getattr(i, size) for i in archive.infolist()) for size in ("file_size", "compress_size"))
    if unpacked > max(LIMITS.total_ratio_from_bytes, packed * LIMITS.ratio):
        raise BadInputError(f"it would unpack to more than {LIMITS.ratio} times its size", "back-up", "copy it again")
    names = sorted(archive.namelist())
    if names != sorted([*hashes, LIST]) or DATABASE not in hashes:
        raise BadInputError("its files are not those in its list", "back-up", "copy it again")
    for name in hashes:
        if name != DATABASE and (not _RECORDING.fullmatch(name) or hashes[name] != name.removeprefix(RECORDINGS)):
            raise BadInputError(f"'{name[:120]}' is not a recording", "back-up", "copy it again")
    return {name: str(value) for name, value in hashes.items()}


_DAMAGED = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, ValueError, RuntimeError)
"""What reading a damaged zip raises."""


@contextlib.contextmanager
def _opened(stream: BinaryIO) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(stream) as archive:
            yield archive
    except _DAMAGED as error:
        raise BadInputError(f"it is damaged ({str(error)[:200]})", "back-up", "copy it again") from None


def _checked_database(archive: zipfile.ZipFile, expected: str, folder: Path) -> Path:
    """Unpack a back-up's database, check that it is sound and ours, and bring its schema up to date."""
    path = folder / DATABASE
    with archive.open(DATABASE) as member, path.open("wb") as file:
        shutil.copyfileobj(member, file)
    with path.open("rb") as file:
        if hashlib.file_digest(file, "sha256").hexdigest() != expected:
            raise BadInputError("its database was changed", "back-up", "copy it again")
    place = Place(path, folder / "none")
    schema_version(place)
    with explained(place), contextlib.closing(sqlite3.connect(path)) as connection:
        if connection.execute("PRAGMA integrity_check").fetchone()[0] != "ok":
            raise BadInputError("its database is damaged", "back-up", "choose another back-up")
    open_engine(place).dispose()
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
    return path


def name_backup(stream: BinaryIO, name: str) -> None:
    """Refuse what is no back-up, by its list alone; the bytes are not held against their hashes.

    Raises:
        BadInputError: it is no back-up, or its list does not fit.
    """
    try:
        with _opened(stream) as archive:
            _listed(archive)
    except BadInputError as error:
        raise error.at(name) from error


def held_now(view: View) -> Held:
    """Return what a store holds at this moment, as it would be said of a back-up; its size is not known."""
    vaulted = len(vault.hashes(view.place.recordings))
    return _held(cast("sqlite3.Connection", view.connection.connection.driver_connection), vaulted, 0)


def _held(connection: sqlite3.Connection, recordings: int, size: int) -> Held:
    titles = tuple(str(row[0]) for row in connection.execute("SELECT title FROM study ORDER BY id"))
    edited = connection.execute("SELECT max(at) FROM history").fetchone()[0]
    return Held(titles, recordings, size, str(edited or ""))


def examine_backup(stream: BinaryIO, name: str, folder: Path, whole: bool = True, told: Told = _untold) -> Held:
    """Say what a back-up holds, with every byte held against its hash; nothing is taken back.

    Args:
        stream: the back-up; must be seekable.
        name: what to call it in an error.
        folder: where its database may be unpacked for the moment.
        whole: read the recordings too; without them it takes a moment only.
        told: is told how far it is.

    Raises:
        BadInputError: it is no back-up, damaged or changed.
        StoreError: it was written by a newer version, or there is no room.
    """
    try:
        with (
            _opened(stream) as archive,
            tempfile.TemporaryDirectory(dir=folder, prefix=".examine-") as temporary,
        ):
            hashes = _listed(archive)
            path = _checked_database(archive, hashes[DATABASE], Path(temporary))
            members = sorted(set(hashes) - {DATABASE})
            for number, member in enumerate(members if whole else (), 1):
                told(number / (len(members) + 1), f"recording {number:,} of {len(members):,}")
                with archive.open(member) as file:
                    found = hashlib.file_digest(cast("io.BufferedIOBase", file), "sha256").hexdigest()
                if found != hashes[member]:
                    raise BadInputError(f"the recording {hashes[member][:12]} was changed", "back-up", "copy it again")
            size = sum(info.file_size for info in archive.infolist())
            with contextlib.closing(sqlite3.connect(path)) as connection:
                return _held(connection, len(members), size)
    except BadInputError as error:
        raise error.at(name) from error
    except OSError as error:
        raise _no_room(error, "what is in the back-up") from error


def _free(path: Path, word: str) -> Path:
    """Return a free name beside a database."""
    number = 1
    while (free := path.with_name(f"{path.stem}.{word}-{number}{path.suffix}")).exists():
        number += 1
    return free


def set_aside(place: Place) -> Path:
    """Rename a damaged database and what belongs to it, and return its new name; not one byte of it is changed.

    Raises:
        StoreError: it cannot be renamed.
    """
    aside = _free(place.database, "damaged")
    try:
        for ending in ("-wal", "-shm", ""):
            path = place.database.with_name(place.database.name + ending)
            if path.exists():
                path.rename(aside.with_name(aside.name + ending))
        vault.sync_folder(place.database.parent)
    except OSError as error:
        raise _no_room(error, f"'{aside}'") from error
    return aside


def is_sound(place: Place) -> bool:
    """Say whether a database can be read from end to end."""
    try:
        with (
            explained(place),
            contextlib.closing(sqlite3.connect(f"{place.database.as_uri()}?mode=ro", uri=True)) as it,
        ):
            return [row[0] for row in it.execute("PRAGMA integrity_check")] == ["ok"]
    except StoreError as error:
        if "is damaged" in str(error):
            return False
        raise


def _put_database(place: Place, path: Path) -> tuple[str, ...]:
    """Make a checked database the one of a place; what was there is kept beside it under another name."""
    prepare(place)
    notices: tuple[str, ...] = ()
    if place.database.exists() and not is_sound(place):
        notices = (f"The damaged database is kept as '{set_aside(place)}'.",)
    if not place.database.exists():
        fsync_path(path)
        path.replace(place.database)
        vault.sync_folder(place.database.parent)
        return notices
    schema_version(place)
    before = _free(place.database, "before-restore")
    copy_database(place.database, before)
    with (
        explained(place),
        contextlib.closing(sqlite3.connect(path)) as source,
        contextlib.closing(sqlite3.connect(place.database, timeout=10)) as there,
    ):
        source.backup(there)
        there.execute("PRAGMA journal_mode=WAL")
        there.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return (f"What was there before is kept as '{before}'.",)


def restore_backup(
    place: Place, stream: BinaryIO, name: str, replace: bool = False, disk: vault.DiskSteps = vault.DISK
) -> BackUp:
    """Take a back-up back: recordings are added to those there are, then the database takes the place of the one there.

    Args:
        place: where it goes.
        stream: the back-up; must be seekable.
        name: what to call it in an error.
        replace: allow taking the place of a database; a copy of that one is kept beside it.
        disk: the steps that touch the disk.

    Raises:
        BadInputError: it is no back-up, damaged or changed, or there is a database and ``replace`` is False.
        StoreError: disk or database refuse; the database is then as it was.
    """
    if place.database.exists() and not replace:
        raise BadInputError(f"there is a database at '{place.database}'", "restore", "allow replacing it")
    try:
        prepare(place)
        with (
            _opened(stream) as archive,
            tempfile.TemporaryDirectory(dir=place.database.parent, prefix=".restore-") as folder,
        ):
            hashes = _listed(archive)
            path = _checked_database(archive, hashes[DATABASE], Path(folder))
            for member in sorted(set(hashes) - {DATABASE}):
                with archive.open(member) as file:
                    kept = vault.keep(place.recordings, cast("BinaryIO", file), member, disk=disk)
                if kept.sha256 != hashes[member]:
                    raise BadInputError(f"the recording {hashes[member][:12]} was changed", "back-up", "copy it again")
            return BackUp(len(hashes) - 1, _put_database(place, path))
    except BadInputError as error:
        raise error.at(name) from error
    except OSError as error:
        raise _no_room(error, f"'{place.database}'") from error
