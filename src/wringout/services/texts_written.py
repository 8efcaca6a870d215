"""Writing a text to a file: it appears only when it is complete, and replaces nothing unasked."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from wringout.errors import BadInputError, StoreError


def write_text(path: Path, text: str, replace: bool = False) -> None:
    """Write a text as UTF-8.

    Raises:
        BadInputError: the file exists and ``replace`` is False.
        StoreError: it cannot be written.
    """
    if path.exists() and not replace:
        raise BadInputError("the file exists already", str(path), "choose another name, or ask to replace it")
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
        Path(name).replace(path)
    except OSError as error:
        reason = error.strerror or str(error)
        raise StoreError(f"'{path}' cannot be written ({reason})", advice="choose another folder") from None
