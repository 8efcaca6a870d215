"""The zip around a bundle: written so that equal contents give equal bytes, read as if an enemy had made it."""

from __future__ import annotations

import contextlib
import hashlib
import io
import stat
import struct
import unicodedata
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import BinaryIO

from wringout.errors import BadInputError
from wringout.store.bundle_format import LIMITS, MANIFEST, BundleLimits, FileEntry, check_member
from wringout.store.vault import CHUNK_BYTES

_LEVEL = 6
_EPOCH = (1980, 1, 1, 0, 0, 0)
_UNIX = 3
_END_BYTES = 22
_ENCRYPTED = 0x1


@dataclass(frozen=True, slots=True)
class Member:
    """A file to be written: its name, size and a way to get its bytes, which are asked for more than once."""

    path: str
    size_bytes: int
    sha256: str
    chunks: Callable[[], Iterable[bytes]]


def member_of(path: str, data: bytes) -> Member:
    """Return a member whose bytes are at hand."""
    return Member(path, len(data), hashlib.sha256(data).hexdigest(), lambda: (data,))


def _packs_too_well(member: Member) -> bool:
    """Say whether packing would make a file look like a bomb to a reader; such a file is stored unpacked."""
    if member.size_bytes <= LIMITS.ratio_from_bytes:
        return False
    packer = zlib.compressobj(_LEVEL, zlib.DEFLATED, -15)
    packed = sum(len(packer.compress(chunk)) for chunk in member.chunks()) + len(packer.flush())
    return member.size_bytes > packed * LIMITS.ratio // 2


def write_zip(stream: BinaryIO, members: Iterable[Member]) -> None:
    """Write a zip whose bytes depend on nothing but its members: fixed time stamps, given order."""
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=_LEVEL) as archive:
        for member in members:
            info = zipfile.ZipInfo(member.path, _EPOCH)
            info.create_system = _UNIX
            info.external_attr = (stat.S_IFREG | 0o644) << 16
            info.compress_type = zipfile.ZIP_STORED if _packs_too_well(member) else zipfile.ZIP_DEFLATED
            info.file_size = member.size_bytes
            with archive.open(info, "w") as file:
                for chunk in member.chunks():
                    file.write(chunk)


def _unreadable(error: Exception) -> BadInputError:
    return BadInputError(f"the zip is damaged ({str(error)[:200]})", "bundle", "copy or download it again")


@contextlib.contextmanager
def _sound() -> Iterator[None]:
    """Let faults in the zip out as one sentence."""
    try:
        yield
    except (zipfile.BadZipFile, zlib.error, EOFError, struct.error) as error:
        raise _unreadable(error) from None
    except (NotImplementedError, RuntimeError, UnicodeDecodeError, ValueError) as error:
        raise _unreadable(error) from None


def _check_ending(stream: BinaryIO, limits: BundleLimits) -> None:
    """Look at the end of the zip before anything is unpacked: its directory must be there and of bearable size."""
    size = stream.seek(0, io.SEEK_END)
    if size > limits.total_bytes + limits.directory_bytes:
        raise BadInputError(
            f"it is larger than {limits.total_bytes / 1e6:,.0f} MB", "bundle", "export fewer recordings"
        )
    stream.seek(max(0, size - _END_BYTES - 20))
    ending = stream.read()
    record = ending[-_END_BYTES:]
    if len(record) < _END_BYTES or record[:4] != b"PK\x05\x06" or ending[:4] == b"PK\x06\x07":
        raise BadInputError("it is not a whole zip file", "bundle", "choose a bundle that Wringout exported")
    files, directory_bytes = struct.unpack("<HI", record[10:16])
    if files > limits.files or directory_bytes > limits.directory_bytes:
        raise BadInputError(f"it holds more than {limits.files:,} files", "bundle", "leave recordings out")
    stream.seek(0)


def _check_info(info: zipfile.ZipInfo, limits: BundleLimits) -> None:
    """Refuse a file that is not a plain, plainly packed file of an honest size."""
    name = check_member(info.filename)
    kind = stat.S_IFMT(info.external_attr >> 16)
    if info.orig_filename != info.filename or kind not in {0, stat.S_IFREG}:
        raise BadInputError(f"'{name}' is not a plain file", "bundle", "links and special files are not taken")
    if info.flag_bits & _ENCRYPTED:
        raise BadInputError(f"'{name}' is encrypted", "bundle", "pack it without a password")
    if info.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
        raise BadInputError(f"'{name}' is packed in an unusual way", "bundle", "pack it as an ordinary zip")
    if info.file_size > limits.ratio_from_bytes and info.file_size > info.compress_size * limits.ratio:
        raise BadInputError(
            f"'{name}' would unpack to more than {limits.ratio} times its size",
            "bundle",
            "do not unpack it",
        )


def _check_total(unpacked_bytes: int, packed_bytes: int, limits: BundleLimits) -> None:
    """Refuse a bundle that would unpack to more than there is reason to."""
    if unpacked_bytes > limits.total_bytes:
        raise BadInputError(
            f"it would unpack to more than {limits.total_bytes / 1e6:,.0f} MB", "bundle", "leave recordings out"
        )
    if unpacked_bytes > max(limits.total_ratio_from_bytes, packed_bytes * limits.ratio):
        raise BadInputError(f"it would unpack to more than {limits.ratio} times its size", "bundle", "do not unpack it")


@dataclass(frozen=True, slots=True)
class Archive:
    """The files of a bundle, checked by name and size and ready to be read."""

    file: zipfile.ZipFile
    infos: Mapping[str, zipfile.ZipInfo]

    def chunks(self, path: str, limit_bytes: int) -> Iterator[bytes]:
        """Yield a file's bytes a chunk at a time.

        Raises:
            BadInputError: it is missing, larger than the limit, or damaged.
        """
        info = self.infos.get(path)
        if info is None:
            raise BadInputError(f"the file '{path}' is missing", "bundle", "export the bundle again")
        if info.file_size > limit_bytes:
            raise BadInputError(f"'{path}' is larger than {limit_bytes / 1e6:,.0f} MB", "bundle", "export it again")
        with _sound(), self.file.open(info) as file:
            while chunk := file.read(CHUNK_BYTES):
                yield chunk

    def bytes_of(self, entry: FileEntry, limit_bytes: int) -> bytes:
        """Return a file's bytes, checked against its entry.

        Raises:
            BadInputError: it is missing, too large, damaged, or not the file the manifest names.
        """
        data = b"".join(self.chunks(entry.path, limit_bytes))
        _compare(entry, hashlib.sha256(data).hexdigest(), len(data))
        return data

    def check(self, entry: FileEntry, limit_bytes: int) -> None:
        """Check a file against its entry without holding it in memory.

        Raises:
            BadInputError: as :meth:`bytes_of`.
        """
        digest, size = hashlib.sha256(), 0
        for chunk in self.chunks(entry.path, limit_bytes):
            digest.update(chunk)
            size += len(chunk)
        _compare(entry, digest.hexdigest(), size)


def _compare(entry: FileEntry, sha256: str, size_bytes: int) -> None:
    if (entry.sha256, entry.size_bytes) != (sha256, size_bytes):
        raise BadInputError(
            f"the file '{entry.path}' was changed: its hash is not the one in {MANIFEST}",
            "bundle",
            "get the bundle again from where it was published",
        )


@contextlib.contextmanager
def open_zip(stream: BinaryIO, limits: BundleLimits) -> Iterator[Archive]:
    """Open a seekable zip after checking every name and size in it; nothing is unpacked yet.

    Raises:
        BadInputError: it is not a zip, too large, or a file in it is a trap: a name that leaves the folder, a link,
            a name twice, a bomb, encryption.
    """
    _check_ending(stream, limits)
    with _sound():
        archive = zipfile.ZipFile(stream)
    with archive:
        infos: dict[str, zipfile.ZipInfo] = {}
        folded: set[str] = set()
        for info in archive.infolist():
            if info.filename.endswith("/") and info.file_size == 0:
                check_member(info.filename.rstrip("/"))
                continue
            _check_info(info, limits)
            key = unicodedata.normalize("NFC", info.filename).casefold()
            if key in folded:
                raise BadInputError(f"the file '{info.filename}' stands in it twice", "bundle", "export it again")
            folded.add(key)
            infos[info.filename] = info
        _check_total(sum(info.file_size for info in infos.values()), stream.seek(0, io.SEEK_END), limits)
        yield Archive(archive, infos)


class MemberStream(io.RawIOBase):
    """A file of a bundle as a stream that is read once from beginning to end."""

    def __init__(self, chunks: Iterator[bytes]) -> None:
        """Take the chunks to read from."""
        self._chunks = chunks
        self._rest = b""

    def readable(self) -> bool:
        """Say that it can be read."""
        return True

    def readinto(self, buffer: object) -> int:
        """Fill a buffer with the next bytes."""
        view = memoryview(buffer)  # type: ignore[arg-type]
        if not self._rest:
            self._rest = next(self._chunks, b"")
        part = self._rest[: len(view)]
        view[: len(part)] = part
        self._rest = self._rest[len(part) :]
        return len(part)
