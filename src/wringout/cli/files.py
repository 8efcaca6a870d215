"""Opening the files a command is given."""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO

from wringout.errors import BadInputError


def open_file(path: Path) -> BinaryIO:
    """Open a file for reading bytes.

    Raises:
        BadInputError: there is no such file, or it cannot be read.
    """
    try:
        if path.is_dir():
            raise BadInputError("this is a folder", str(path), "name a file in it")
        return path.open("rb")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        what = (
            "there is no such file" if isinstance(error, FileNotFoundError) else f"the file cannot be read ({reason})"
        )
        raise BadInputError(what, str(path), "check its name and place") from None


def read_whole(path: Path, most_bytes: int) -> bytes:
    """Return a small file's bytes; one byte more than ``most_bytes`` at most, so that its reader can refuse it.

    Raises:
        BadInputError: there is no such file, or it cannot be read.
    """
    with open_file(path) as stream:
        return stream.read(most_bytes + 1)
