from __future__ import annotations

import dataclasses
import errno
import io
import os
import subprocess
import sys
import tracemalloc
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.store.samples import CALLED, names_in
from wringout.errors import BadInputError, NotFoundError, StoreError
from wringout.store import vault
from wringout.store.vault import DISK, DiskSteps, keep, path_of, read

# NIST FIPS 180-4, example computation of SHA-256 for the message "abc".
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_bytes_lie_under_the_standards_hash(tmp_path: Path) -> None:
    kept = keep(tmp_path, io.BytesIO(b"abc"), "abc.csv")
    assert kept == vault.Kept(ABC, 3, already_there=False)
    assert names_in(tmp_path) == [f"ba/{ABC}"]
    assert read(tmp_path, ABC) == b"abc"
    assert vault.hashes(tmp_path) == (ABC,)


def test_a_kept_recording_is_read_only(tmp_path: Path) -> None:
    keep(tmp_path, io.BytesIO(b"abc"), "abc.csv")
    assert path_of(tmp_path, ABC).stat().st_mode & 0o777 == 0o444


def test_the_same_bytes_twice_are_noticed(tmp_path: Path) -> None:
    keep(tmp_path, io.BytesIO(b"abc"), "abc.csv")
    before = path_of(tmp_path, ABC).stat()
    assert keep(tmp_path, io.BytesIO(b"abc"), "other.csv").already_there
    after = path_of(tmp_path, ABC).stat()
    assert (before.st_ino, before.st_mtime_ns) == (after.st_ino, after.st_mtime_ns)
    assert names_in(tmp_path) == [f"ba/{ABC}"]


def test_an_empty_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match=r"^run\.csv: the file is empty; choose a file that holds readings\.$"):
        keep(tmp_path, io.BytesIO(b""), "run.csv")
    assert names_in(tmp_path) == []


def test_a_file_above_the_limit_is_refused_and_leaves_nothing(tmp_path: Path) -> None:
    assert keep(tmp_path, io.BytesIO(b"x" * 2_000_000), "fits.csv", limit_bytes=2_000_000).size_bytes == 2_000_000
    with pytest.raises(BadInputError, match=r"^long\.csv: it is larger than 2 MB"):
        keep(tmp_path, io.BytesIO(b"y" * 2_000_001), "long.csv", limit_bytes=2_000_000)
    assert len(names_in(tmp_path)) == 1


class Endless(io.RawIOBase):
    """A file of many megabytes that is nowhere held in memory."""

    def __init__(self, size: int) -> None:
        self.left = size

    def read(self, size: int = -1) -> bytes:
        part = min(self.left, size)
        self.left -= part
        return b"1" * part


def test_memory_does_not_grow_with_the_recording(tmp_path: Path) -> None:
    size = 64 * 2**20
    tracemalloc.start()
    kept = keep(tmp_path, Endless(size), "long.csv")  # type: ignore[arg-type]
    vault.check(tmp_path, kept.sha256)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert kept.size_bytes == size
    assert peak < 8 * 2**20


def test_order_of_the_steps_on_the_disk(tmp_path: Path) -> None:
    steps: list[str] = []

    def rename(source: Path, target: Path) -> None:
        steps.append("rename")
        DISK.rename(source, target)

    disk = DiskSteps(
        write=lambda file, data: (steps.append("write"), DISK.write(file, data))[1],
        sync_file=lambda descriptor: (steps.append("sync file"), DISK.sync_file(descriptor))[1],
        rename=rename,
        sync_folder=lambda folder: (steps.append(f"sync {folder.name}"), DISK.sync_folder(folder))[1],
    )
    keep(tmp_path / "v", io.BytesIO(b"abc"), "abc.csv", disk=disk)
    assert steps == [f"sync {tmp_path.name}", "write", "sync file", "rename", "sync ba", "sync v"]


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO, errno.EROFS, errno.EDQUOT])
@pytest.mark.parametrize("step", ["write", "sync_file", "rename", "sync_folder"])
def test_a_failing_disk_is_told_and_leaves_nothing_half_written(tmp_path: Path, step: str, code: int) -> None:
    def fail(*_: object) -> None:
        raise OSError(code, os.strerror(code))

    (tmp_path / vault.INCOMING).mkdir()
    disk = dataclasses.replace(DISK, **{step: fail})
    with pytest.raises(StoreError, match="The recording could not be kept") as caught:
        keep(tmp_path, io.BytesIO(CALLED), "run.csv", disk=disk)
    assert os.strerror(code) in str(caught.value)
    for sha256 in vault.hashes(tmp_path):
        assert read(tmp_path, sha256) == CALLED  # renamed before the fault: whole
    assert not list((tmp_path / vault.INCOMING).iterdir())
    assert read(tmp_path, keep(tmp_path, io.BytesIO(CALLED), "run.csv").sha256) == CALLED  # and the next try works


CRASH = """
import dataclasses, os, sys
from pathlib import Path
from wringout.store import vault
def crash(*_):
    os._exit(9)
disk = dataclasses.replace(vault.DISK, **{sys.argv[2]: crash})
vault.keep(Path(sys.argv[1]), open(sys.argv[3], "rb"), "run.csv", disk=disk)
"""


@pytest.mark.parametrize(("step", "recordings"), [("sync_file", 0), ("rename", 0), ("sync_folder", 1)])
def test_a_crash_leaves_either_nothing_or_the_whole_recording(tmp_path: Path, step: str, recordings: int) -> None:
    source, folder = tmp_path / "run.csv", tmp_path / "v"
    source.write_bytes(CALLED)
    (folder / vault.INCOMING).mkdir(parents=True)
    done = subprocess.run([sys.executable, "-c", CRASH, folder, step, source], check=False)
    assert done.returncode == 9
    assert len(vault.hashes(folder)) == recordings
    assert all(read(folder, sha256) == CALLED for sha256 in vault.hashes(folder))
    again = keep(folder, io.BytesIO(CALLED), "run.csv")
    assert again.already_there is bool(recordings)
    assert read(folder, again.sha256) == CALLED


def test_leftovers_of_a_crash_are_swept_later_and_recordings_are_not(tmp_path: Path) -> None:
    keep(tmp_path, io.BytesIO(CALLED), "run.csv")
    left = tmp_path / vault.INCOMING / "x.part"
    left.write_bytes(b"half")
    os.utime(left, (1000.0, 1000.0))
    for path in tmp_path.glob("??/*"):
        os.utime(path, (1000.0, 1000.0))
    assert vault.sweep(tmp_path, datetime.fromtimestamp(999, UTC)) == 0
    assert vault.sweep(tmp_path, datetime.fromtimestamp(1001, UTC)) == 1
    assert len(vault.hashes(tmp_path)) == 1


@pytest.mark.parametrize("damage", [b"abd", b"", b"abcd"])
def test_a_damaged_recording_is_noticed_and_repaired_by_its_original(tmp_path: Path, damage: bytes) -> None:
    keep(tmp_path, io.BytesIO(b"abc"), "abc.csv")
    path = path_of(tmp_path, ABC)
    path.chmod(0o644)
    path.write_bytes(damage)
    for look in (read, vault.check):
        with pytest.raises(
            StoreError, match=r"ba7816bf8f01 is damaged: its bytes no longer match .* take in the original"
        ):
            look(tmp_path, ABC)
    assert not keep(tmp_path, io.BytesIO(b"abc"), "abc.csv").already_there
    assert read(tmp_path, ABC) == b"abc"
    assert path.with_name(f"{ABC}.damaged-1").read_bytes() == damage  # even the damaged bytes stay


def test_a_missing_recording_is_told(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="is missing from the vault"):
        read(tmp_path, ABC)


def test_many_at_once_keep_one_sound_copy(tmp_path: Path) -> None:
    data = [bytes([65 + number % 3]) * 300_000 for number in range(24)]
    with ThreadPoolExecutor(8) as pool:
        kept = list(pool.map(lambda part: keep(tmp_path, io.BytesIO(part), "x.csv"), data))
    assert len({item.sha256 for item in kept}) == 3
    for item, part in zip(kept, data, strict=True):
        assert read(tmp_path, item.sha256) == part
    assert len(names_in(tmp_path)) == 3
