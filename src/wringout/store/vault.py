"""The vault: the bytes of recordings, each under the SHA-256 of its own content, never altered and never deleted.

Bytes go to a temporary name inside the vault, are synced to the disk and made read-only, then renamed into place and
the folder is synced too. Only then does :func:`keep` return; a crash before that leaves no recording, a crash after it
loses none. Every read checks the hash again.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from wringout.errors import BadInputError, NotFoundError, StoreError

CHUNK_BYTES = 1 << 20
LIMIT_BYTES = 512 * 1024 * 1024
INCOMING = "incoming"


@dataclass(frozen=True, slots=True)
class Kept:
    """Bytes in the vault. ``already_there`` says the same bytes had been kept before."""

    sha256: str
    size_bytes: int
    already_there: bool


def sync_file(descriptor: int) -> None:
    """Push a file's bytes to the disk itself, past the drive's own cache where the system allows it."""
    if sys.platform == "darwin":
        import fcntl  # exists on this system only

        fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
    else:
        os.fsync(descriptor)


def sync_folder(folder: Path) -> None:
    """Push a folder's list of names to the disk, where the system can do that."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _rename(source: Path, target: Path) -> None:
    source.replace(target)


@dataclass(frozen=True, slots=True)
class DiskSteps:
    """The steps that touch the disk, so that a test can make any of them fail."""

    write: Callable[[BinaryIO, bytes], int] = lambda file, data: file.write(data)
    sync_file: Callable[[int], None] = sync_file
    rename: Callable[[Path, Path], None] = _rename
    sync_folder: Callable[[Path], None] = sync_folder


DISK = DiskSteps()


def path_of(vault: Path, sha256: str) -> Path:
    """Return where the recording with this hash lies, whether it exists or not."""
    return vault / sha256[:2] / sha256


def _told(error: OSError, vault: Path) -> StoreError:
    return StoreError(
        f"the recording could not be kept in '{vault}' ({error.strerror or error})",
        advice="make room or choose a folder that can be written, then take it in again",
    )


def _stream_into(file: BinaryIO, stream: BinaryIO, name: str, limit_bytes: int, disk: DiskSteps) -> tuple[str, int]:
    """Copy the stream to the file a chunk at a time; return its hash and size."""
    digest, size = hashlib.sha256(), 0
    while chunk := stream.read(CHUNK_BYTES):
        size += len(chunk)
        if size > limit_bytes:
            raise BadInputError(
                f"it is larger than {limit_bytes / 1e6:,.0f} MB", name, "split the recording into shorter ones"
            )
        digest.update(chunk)
        disk.write(file, chunk)
    if size == 0:
        raise BadInputError("the file is empty", name, "choose a file that holds readings")
    return digest.hexdigest(), size


def _put_in_place(vault: Path, temporary: Path, sha256: str, disk: DiskSteps) -> bool:
    """Rename a synced temporary file to its final name; return whether the same bytes were there already."""
    target = path_of(vault, sha256)
    there = target.exists()
    sound = there and _hash_of(target) == sha256
    if not sound:
        if there:
            _set_damaged_aside(target, disk)
        target.parent.mkdir(exist_ok=True)
        disk.rename(temporary, target)
    disk.sync_folder(target.parent)
    disk.sync_folder(vault)
    return sound


def _set_damaged_aside(target: Path, disk: DiskSteps) -> None:
    """Keep a damaged file under another name, so that sound bytes can take its place."""
    number = 1
    while (aside := target.with_name(f"{target.name}.damaged-{number}")).exists():
        number += 1
    disk.rename(target, aside)


def keep(vault: Path, stream: BinaryIO, name: str, limit_bytes: int = LIMIT_BYTES, disk: DiskSteps = DISK) -> Kept:
    """Keep the bytes of a stream for good and return their hash; memory use does not grow with their number.

    Args:
        vault: the folder of recordings; made when missing.
        stream: the bytes, read once from where it stands to its end.
        name: what to call the recording in an error.
        limit_bytes: the largest recording taken.
        disk: the steps that touch the disk.

    Raises:
        BadInputError: the stream is empty or longer than the limit.
        StoreError: the disk is full, read-only or failing; nothing half-written stays under a recording's name.
    """
    temporary: Path | None = None
    try:
        incoming = vault / INCOMING
        if not incoming.is_dir():
            vault.mkdir(mode=0o700, parents=True, exist_ok=True)
            incoming.mkdir(mode=0o700, exist_ok=True)
            disk.sync_folder(vault.parent)
        descriptor, temporary_name = tempfile.mkstemp(dir=incoming, suffix=".part")
        temporary = Path(temporary_name)
        with os.fdopen(descriptor, "wb") as file:
            sha256, size = _stream_into(file, stream, name, limit_bytes, disk)
            file.flush()
            temporary.chmod(0o444)
            disk.sync_file(file.fileno())
        return Kept(sha256, size, _put_in_place(vault, temporary, sha256, disk))
    except OSError as error:
        raise _told(error, vault) from error
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)


def _hash_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _damaged(sha256: str) -> StoreError:
    return StoreError(
        f"the stored recording {sha256[:12]} is damaged: its bytes no longer match their hash",
        advice="take in the original file again to repair it, or restore it from a back-up",
    )


def _missing(sha256: str) -> NotFoundError:
    return NotFoundError(
        f"the stored recording {sha256[:12]} is missing from the vault",
        advice="take in the original file again, or restore the folder of recordings from a back-up",
    )


def read(vault: Path, sha256: str) -> bytes:
    """Return the bytes of a recording after checking them against its hash.

    Raises:
        NotFoundError: there is no such recording.
        StoreError: its bytes are damaged or cannot be read.
    """
    return b"".join(read_chunks(vault, sha256))


def read_chunks(vault: Path, sha256: str) -> Iterator[bytes]:
    """Yield the bytes of a recording a chunk at a time; the hash is checked when the last one has been read.

    Raises:
        NotFoundError: there is no such recording.
        StoreError: its bytes are damaged or cannot be read.
    """
    digest = hashlib.sha256()
    try:
        with path_of(vault, sha256).open("rb") as file:
            while chunk := file.read(CHUNK_BYTES):
                digest.update(chunk)
                yield chunk
    except FileNotFoundError:
        raise _missing(sha256) from None
    except OSError as error:
        raise StoreError(f"the stored recording {sha256[:12]} cannot be read ({error.strerror or error})") from error
    if digest.hexdigest() != sha256:
        raise _damaged(sha256)


def check(vault: Path, sha256: str) -> None:
    """Check that a recording is there and sound, without holding it in memory.

    Raises:
        NotFoundError: there is no such recording.
        StoreError: its bytes are damaged or cannot be read.
    """
    for _ in read_chunks(vault, sha256):
        pass


def sweep(vault: Path, before: datetime) -> int:
    """Remove what interrupted arrivals left behind before a moment; recordings are never touched.

    Args:
        vault: the folder of recordings.
        before: arrivals begun later may still be under way and stay.

    Returns:
        how many were removed.
    """
    removed = 0
    for path in (vault / INCOMING).glob("*.part"):
        with contextlib.suppress(OSError):
            if path.stat().st_mtime < before.timestamp():
                path.unlink()
                removed += 1
    return removed


def hashes(vault: Path) -> tuple[str, ...]:
    """Return the hashes of every recording in the vault, sorted."""
    if not vault.is_dir():
        return ()
    return tuple(sorted(path.name for path in vault.glob("??/*") if len(path.name) == 64))
