"""Texts, times and JSON documents as the store keeps them: one spelling for each, so equal things hash equally."""

from __future__ import annotations

import hashlib
import json
import math
import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from typing import NoReturn

from wringout.errors import BadInputError

_PLAIN_VALUES = "use text, whole numbers, finite numbers, true, false, null, lists and objects with text keys"

JsonValue = None | bool | int | float | str | Sequence["JsonValue"] | Mapping[str, "JsonValue"]
Document = Mapping[str, JsonValue]
Clock = Callable[[], datetime]

MAX_DEPTH = 64
MAX_INTEGER = 2**63 - 1
MAX_TEXT = 2**20
"""Characters in one text."""
MAX_DOCUMENT_BYTES = 8 * 2**20
"""Bytes in one JSON document."""
_BROKEN = re.compile("[\\x00\\ud800-\\udfff]")
_SLUG = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_KEY = re.compile(r"[a-z0-9-]+")
SLUG_LENGTH = 60
KEY_LENGTH = 80
TITLE_LENGTH = 300
QUESTION_LENGTH = 100_000


def utc_text(moment: datetime) -> str:
    """Return an aware moment as ISO 8601 UTC text to the millisecond, for example ``2026-05-01T09:30:00.000Z``.

    Raises:
        ValueError: the moment carries no time zone.
    """
    if moment.tzinfo is None:
        raise ValueError("a time stamp needs a time zone")
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def check_time(text: str, where: str) -> str:
    """Return ``text`` if it is exactly a time as :func:`utc_text` writes it.

    Raises:
        BadInputError: it is not.
    """
    try:
        good = utc_text(datetime.fromisoformat(text)) == text
    except ValueError:
        good = False
    if not good:
        raise BadInputError(f"'{text[:40]}' is not a UTC time", where, "write it as '2026-05-01T09:30:00.000Z'")
    return text


def check_text(text: str, where: str, length: int = MAX_TEXT) -> str:
    """Return ``text`` if it can be kept exactly: Unicode without NUL or half surrogates, at most ``length`` characters.

    Raises:
        BadInputError: it cannot.
    """
    if len(text) > length:
        raise BadInputError(f"the text has {len(text):,} characters", where, f"keep it within {length:,}")
    if _BROKEN.search(text):
        raise BadInputError("the text holds a NUL or a broken character", where, "retype it or save it as UTF-8")
    return text


def check_line(text: str, where: str, length: int = TITLE_LENGTH) -> str:
    """Return ``text`` if it is one non-blank line of at most ``length`` characters.

    Raises:
        BadInputError: it is blank, has control characters or is too long.
    """
    check_text(text, where)
    if not text.strip():
        raise BadInputError("it is blank", where, "write a few words")
    if any(unicodedata.category(character) in {"Cc", "Zl", "Zp"} for character in text):
        raise BadInputError("it holds a line break or a control character", where, "write it on one line")
    if len(text) > length:
        raise BadInputError(f"it has {len(text):,} characters", where, f"keep it within {length} characters")
    return text


def check_slug(slug: str, where: str = "study name") -> str:
    """Return ``slug`` if it is small letters, digits and single hyphens, at most 60 characters.

    Raises:
        BadInputError: it is not.
    """
    if len(slug) > SLUG_LENGTH or not _SLUG.fullmatch(slug):
        raise BadInputError(
            f"'{slug[:80]}' cannot name a study",
            where,
            f"use small letters, digits and single hyphens, at most {SLUG_LENGTH} characters, such as 'gear-or-flaps'",
        )
    return slug


def check_key(key: str, where: str) -> str:
    """Return ``key`` if it is small letters, digits and hyphens, at most 80 characters.

    Raises:
        BadInputError: it is not.
    """
    if len(key) > KEY_LENGTH or not _KEY.fullmatch(key):
        raise BadInputError(
            f"'{key[:KEY_LENGTH]}' cannot be a key",
            where,
            f"use small letters, digits and hyphens, at most {KEY_LENGTH} characters, such as 'flight-2'",
        )
    return key


def slug_of(title: str) -> str:
    """Return a short name made from a title, for example ``gear-or-flaps-first``; ``study`` when nothing is left.

    >>> slug_of("Gear or flaps first?")
    'gear-or-flaps-first'
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    words = re.findall(r"[a-z0-9]+", plain)
    return "-".join(words)[: SLUG_LENGTH - 8].strip("-") or "study"


def _check_scalar(value: object) -> None:
    """Refuse a single value that cannot be JSON that reads back equal."""
    if value is None or isinstance(value, bool):
        return
    if isinstance(value, str):
        check_text(value, "")
    elif isinstance(value, int):
        if abs(value) > MAX_INTEGER:
            raise BadInputError("a whole number is too large", "", f"keep it within {MAX_INTEGER}")
    elif isinstance(value, float):
        if not math.isfinite(value):
            raise BadInputError(f"{value} is not a finite number", "", "write null where there is no number")
    else:
        raise BadInputError(f"a {type(value).__name__} cannot be kept", "", _PLAIN_VALUES)


def _inside(error: BadInputError, step: str) -> BadInputError:
    """Return an error with one more step in front of the field it names; the far end of a long path is left out."""
    path = step + error.where
    return BadInputError(error.what, path if len(path) <= 120 else f"{path[:117]}...", error.expected)


def _check_value(value: object, depth: int = 0) -> None:
    """Refuse a value, or anything in it, that cannot be JSON that reads back equal; the error names the field."""
    if depth > MAX_DEPTH:
        raise BadInputError(f"it is nested deeper than {MAX_DEPTH} levels", "", "flatten it")
    if isinstance(value, Mapping):
        for key, item in value.items():
            if not isinstance(key, str):
                raise BadInputError(f"the key {key!r} is not text", "", _PLAIN_VALUES)
            check_text(key, "")
            try:
                _check_value(item, depth + 1)
            except BadInputError as error:
                raise _inside(error, f".{key}") from None
    elif isinstance(value, (list, tuple)):
        for index, item in enumerate(value):
            if type(item) is float and math.isfinite(item):  # long lists of numbers are common
                continue
            try:
                _check_value(item, depth + 1)
            except BadInputError as error:
                raise _inside(error, f"[{index}]") from None
    else:
        _check_scalar(value)


def _check_json(value: object, where: str) -> None:
    """Check a whole document; ``where`` names it."""
    try:
        _check_value(value)
    except BadInputError as error:
        raise BadInputError(error.what, where + error.where, error.expected) from None


def json_text(value: JsonValue, where: str) -> str:
    """Return the one JSON spelling of ``value``: keys sorted, no spaces, finite numbers only.

    Raises:
        BadInputError: something in it is not JSON, naming the field, or it is larger than a document may be.
    """
    _check_json(value, where)
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False, default=dict)
    if len(text.encode()) > MAX_DOCUMENT_BYTES:
        raise BadInputError(f"it is larger than {MAX_DOCUMENT_BYTES / 1e6:.0f} MB as JSON", where, "keep it shorter")
    return text


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a finite number")


def _unique(pairs: list[tuple[str, JsonValue]]) -> dict[str, JsonValue]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice in one object")
    return found


def json_value(text: str, where: str) -> JsonValue:
    """Read JSON strictly: no doubled keys, no NaN, no overflow, no endless nesting.

    Raises:
        BadInputError: the text is not such JSON.
    """
    if len(text.encode()) > MAX_DOCUMENT_BYTES:
        raise BadInputError(f"it is larger than {MAX_DOCUMENT_BYTES / 1e6:.0f} MB", where, "keep it shorter")
    try:
        found: JsonValue = json.loads(text, parse_constant=_refuse_constant, object_pairs_hook=_unique)
    except RecursionError:
        raise BadInputError("the JSON is nested too deeply", where, f"at most {MAX_DEPTH} levels") from None
    except ValueError as error:
        raise BadInputError(f"this is not sound JSON ({error})", where, "correct it or export it again") from None
    _check_json(found, where)
    return found


def json_document(text: str, where: str) -> dict[str, JsonValue]:
    """Read a JSON object strictly, as :func:`json_value` does.

    Raises:
        BadInputError: the text is not a JSON object.
    """
    found = json_value(text, where)
    if not isinstance(found, dict):
        raise BadInputError("a JSON object was expected", where, "start it with '{'")
    return found


def hash_of_document(document: JsonValue) -> str:
    """Return the SHA-256 (hex) of a document's one JSON spelling; equal documents have equal hashes."""
    return hashlib.sha256(json_text(document, "document").encode()).hexdigest()


def check_sha256(text: str, where: str) -> str:
    """Return ``text`` if it is a SHA-256 in 64 small hexadecimal digits.

    Raises:
        BadInputError: it is not.
    """
    if not re.fullmatch(r"[0-9a-f]{64}", text):
        raise BadInputError(f"'{text[:80]}' is not a SHA-256", where, "64 hexadecimal digits in small letters")
    return text
