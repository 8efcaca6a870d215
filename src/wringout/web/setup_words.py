"""Set-up words as they are typed into a page: one to a line, "key: value"."""

from __future__ import annotations

from wringout.errors import BadInputError


def setup_in(text: str) -> dict[str, str]:
    """Return set-up words by their keys in small letters.

    Raises:
        BadInputError: a line is none.
    """
    found = {}
    for number, line in enumerate(text.split("\n"), 1):
        bare = line.strip().lstrip("#").strip()
        if not bare:
            continue
        key, colon, value = bare.partition(":")
        if not colon or not value.strip():
            raise BadInputError(
                f"{bare[:60]!r} is no set-up word", f"set-up words, line {number}", 'write "weight: 3,000 lb"'
            )
        found[key.strip().lower()] = value.strip()
    return found
