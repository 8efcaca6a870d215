"""The one front door: bytes in, a recording out, or one sentence saying why not."""

from __future__ import annotations

import io

from wringout.errors import BadInputError
from wringout.recordings.called import read_called
from wringout.recordings.decoding import decode
from wringout.recordings.hashing import sha256_of
from wringout.recordings.mapping import Mapping
from wringout.recordings.types import Recording


def read_recording(data: bytes, name: str, mapping: Mapping | None = None) -> Recording:
    """Read a recording from the bytes of its file.

    Args:
        data: the whole file.
        name: its name, for sentences and for `Recording.name`.
        mapping: says what columns are; see `wringout.recordings.mapping`.

    Returns:
        The recording. Its notices say everything that was noticed; a notice of severity QUESTION stands for a column
        that is not used until its question is answered with a mapping.

    Raises:
        BadInputError: the file is empty, binary, too large, or nothing in it reads as a recording.
    """
    sha256, _ = sha256_of(io.BytesIO(data), name=name)
    text = decode(data, name)
    if not text.strip():
        raise BadInputError("the file is empty", name, "take in a file with readings or a logger's table")
    return read_called(text, name, sha256, mapping)
