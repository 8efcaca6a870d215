"""Text that anybody may have typed, made fit to print: nothing is lost, nothing is obeyed."""

from __future__ import annotations

import unicodedata

_BIDI = {0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)}
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_KEPT = {0x00AD, 0x200C, 0x200D}  # soft hyphen and the joiners that some scripts are written with


def visible(text: str) -> str:
    """Return text on one line in which characters that would steer the printing are written out, as ``[U+202E]``.

    Line ends and tabs become blanks; controls, marks of direction and broken surrogates are written out.
    """
    if text.isprintable():
        return text
    out = []
    for character in text:
        code = ord(character)
        kind = unicodedata.category(character)
        if character in "\t\n\v\f\r\x85\u2028\u2029":
            out.append(" ")
        elif code in _BIDI or kind in ("Cc", "Cs", "Cn", "Co") or (kind == "Cf" and code not in _KEPT):
            out.append(f"[U+{code:04X}]")
        else:
            out.append(character)
    return "".join(out)


def as_cell(text: str) -> str:
    """Return text as a cell of a table that a spreadsheet opens: what could be a formula gets an apostrophe in front.

    >>> as_cell("=1+1"), from_cell(as_cell("=1+1"))
    ("'=1+1", '=1+1')
    """
    return f"'{text}" if text.lstrip("'").startswith(_FORMULA) else text


def from_cell(cell: str) -> str:
    """Return what :func:`as_cell` made a cell of."""
    return cell[1:] if cell.startswith("'") and cell.lstrip("'").startswith(_FORMULA) else cell
