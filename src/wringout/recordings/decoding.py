"""From bytes to text, refusing what is not text."""

from __future__ import annotations

from wringout.errors import BadInputError

_SIGNATURES: tuple[tuple[bytes, str], ...] = (
    (b"PK\x03\x04", "a zip archive or a spreadsheet"),
    (b"PK\x05\x06", "an empty zip archive"),
    (b"\x1f\x8b", "a compressed file"),
    (b"7z\xbc\xaf\x27\x1c", "a compressed archive"),
    (b"\x89PNG", "an image"),
    (b"\xff\xd8\xff", "an image"),
    (b"GIF8", "an image"),
    (b"%PDF", "a PDF document"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet or document"),
    (b"SQLite format 3", "a database"),
    (b"{\\rtf", "a word-processor document"),
)
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
_CONTROL = frozenset(range(32)) - {9, 10, 12, 13, 26}  # tab, line ends, form feed and an old end-of-file sign are text


def decode(data: bytes, name: str) -> str:
    """Return the text of a file in UTF-8, with or without a byte order mark, or else in Latin-1.

    Raises:
        BadInputError: the bytes are those of an archive, an image, a document or any other binary file.
    """
    advice = "export the recording as CSV or plain text and take in that file"
    for signature, what in _SIGNATURES:
        if data.startswith(signature):
            raise BadInputError(f"this is {what}, not a table", name, advice)
    if data.startswith(_UTF16):
        raise BadInputError("this text is written in UTF-16", name, "save it as UTF-8 and take in that file")
    head = data[:65536]
    if b"\x00" in data or sum(byte in _CONTROL for byte in head) > 0.01 * len(head):
        raise BadInputError("this is a binary file, not text", name, advice)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")
