"""The hash a recording is stored under, taken from its bytes before anything parses them."""

from __future__ import annotations

import hashlib
from typing import BinaryIO

from wringout.errors import BadInputError

SIZE_LIMIT_BYTES = 512 * 1024 * 1024
"""Largest file taken in [bytes]. A day of 10 Hz logging with a hundred columns stays well below it."""

CHUNK_BYTES = 1024 * 1024
"""How much of a stream is held in memory at a time while hashing [bytes]."""


def sha256_of(stream: BinaryIO, *, name: str = "", limit_bytes: int = SIZE_LIMIT_BYTES) -> tuple[str, int]:
    """Hash a binary stream from where it stands to its end, holding one chunk in memory at a time.

    Args:
        stream: an open binary stream.
        name: the file's name, for the error.
        limit_bytes: the largest size accepted [bytes]; reading stops as soon as it is passed.

    Returns:
        The SHA-256 as 64 lower-case hexadecimal digits (FIPS 180-4), and the size [bytes].

    Raises:
        BadInputError: the stream holds more than `limit_bytes`.
    """
    digest = hashlib.sha256()
    size = 0
    while chunk := stream.read(CHUNK_BYTES):
        size += len(chunk)
        if size > limit_bytes:
            raise too_large(name, limit_bytes)
        digest.update(chunk)
    return digest.hexdigest(), size


def too_large(name: str, limit_bytes: int = SIZE_LIMIT_BYTES) -> BadInputError:
    """Return the error for a file that is larger than `limit_bytes` [bytes]."""
    return BadInputError(
        f"the file is larger than {_size_words(limit_bytes)}, the most that is taken in",
        name,
        "export a shorter part of the flight, or fewer columns, and take in that file",
    )


def _size_words(size_bytes: int) -> str:
    if size_bytes >= CHUNK_BYTES:
        return f"{size_bytes / CHUNK_BYTES:,.0f} MB"
    return f"{size_bytes:,} bytes"
