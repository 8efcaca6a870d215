from __future__ import annotations

import io
import tracemalloc

import pytest

from wringout.errors import BadInputError
from wringout.recordings.hashing import CHUNK_BYTES, SIZE_LIMIT_BYTES, sha256_of

# NIST, Secure Hash Standard example values for SHA-256 (FIPS 180-4): the messages "abc" and one million times "a".
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
MILLION_A = "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"


class Endless(io.RawIOBase):
    """A file without an end, which counts what was read of it."""

    def __init__(self) -> None:
        self.read_bytes = 0

    def read(self, size: int = -1) -> bytes:
        assert size > 0, "reading without a bound would never end"
        self.read_bytes += size
        return b"0" * size


def test_published_hashes() -> None:
    assert sha256_of(io.BytesIO(b"abc")) == (ABC, 3)
    assert sha256_of(io.BytesIO(b"a" * 1_000_000)) == (MILLION_A, 1_000_000)


def test_chunks_do_not_matter() -> None:
    data = bytes(range(256)) * (3 * CHUNK_BYTES // 256) + b"tail"
    whole = sha256_of(io.BytesIO(data))
    assert whole[1] == len(data)
    assert sha256_of(io.BytesIO(data[:-1]))[0] != whole[0]


def test_a_file_without_end_is_refused_in_bounded_memory() -> None:
    stream = Endless()
    tracemalloc.start()
    try:
        with pytest.raises(BadInputError) as refusal:
            sha256_of(stream, name="endless.csv", limit_bytes=20 * CHUNK_BYTES)  # type: ignore[arg-type]
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert stream.read_bytes == 21 * CHUNK_BYTES
    assert peak < 5 * CHUNK_BYTES
    assert str(refusal.value) == (
        "endless.csv: the file is larger than 20 MB, the most that is taken in; "
        "export a shorter part of the flight, or fewer columns, and take in that file."
    )


def test_the_limit_itself_is_accepted() -> None:
    assert sha256_of(io.BytesIO(b"abcd"), limit_bytes=4)[1] == 4
    with pytest.raises(BadInputError, match="larger than 4 bytes"):
        sha256_of(io.BytesIO(b"abcde"), limit_bytes=4)
    assert SIZE_LIMIT_BYTES == 512 * 2**20
