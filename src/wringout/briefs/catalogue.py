"""Words through a gettext catalogue: English is what stands in the code, other languages are found by it."""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Final

from wringout import numerals
from wringout.briefs.document import Line, Words

_ENGLISH: Final = gettext.NullTranslations()
_SPOKEN: ContextVar[gettext.NullTranslations] = ContextVar("wringout_language", default=_ENGLISH)


@contextmanager
def spoken_in(language: gettext.NullTranslations) -> Iterator[None]:
    """Have everything said inside the ``with`` block come from this catalogue."""
    token = _SPOKEN.set(language)
    try:
        yield
    finally:
        _SPOKEN.reset(token)


def language() -> str:
    """Return the code of the language spoken now, such as "en"; a catalogue says its own in its head."""
    return _SPOKEN.get().info().get("language", "") or "en"


def tr(message: str, **parts: object) -> str:
    """Return a message in the language spoken now, with its named parts filled in.

    A part keeps its own words; only the message itself is looked up.

    Raises:
        KeyError: the message names a part that was not given.
    """
    found = _SPOKEN.get().gettext(message)
    return found.format(**parts) if parts else found


def ntr(one: str, many: str, n: int, **parts: object) -> str:
    """Return the message for ``n`` things in the language spoken now; ``{n}`` is the number, in words up to ten."""
    words = numerals.amount(n)
    return _SPOKEN.get().ngettext(one, many, n).format(n=tr(words) if words.isalpha() else words, **parts)


def marked(message: str) -> str:
    """Return a message as it is, for the catalogue to find; :func:`tr` or :func:`said` looks it up where it is told."""
    return message


TOLD: Final = "told by another room"
"""The context under which texts of other rooms stand in the catalogue."""
_FIGURE: Final = re.compile(r"[-+\N{MINUS SIGN}]?\d[\d,]*(?:\.\d+)?")


def foreign(text: str, names: Sequence[str] = ()) -> str:
    """Return a text that another room made in the language spoken now.

    It is looked up without its numbers, which stand as ``{1}``, ``{2}``, and without the names of flap settings, which
    stand as ``{a}``, ``{b}``; see :func:`skeleton`. What the catalogue does not hold stays as it is.
    """
    if not text or "{" in text:
        return text
    plain, parts = skeleton(text, names)
    found = _SPOKEN.get().pgettext(TOLD, plain)
    return _SLOT.sub(lambda slot: parts.get(slot.group(1), slot.group()), found)


def skeleton(text: str, names: Sequence[str] = ()) -> tuple[str, dict[str, str]]:
    """Return a text with its numbers and the names of flap settings taken out, and what was taken out of each place."""
    parts: dict[str, str] = {}

    def number(found: re.Match[str]) -> str:
        key = str(sum(one.isdigit() for one in parts) + 1)
        parts[key] = found.group()
        return f"{{{key}}}"

    def name(found: re.Match[str]) -> str:
        key = chr(ord("a") + sum(one.isalpha() for one in parts))
        parts[key] = found.group("name")
        return f"{found.group('before') or ''}{{{key}}}"

    if names:
        known = "|".join(map(re.escape, sorted(names, key=len, reverse=True)))
        before = r"(?P<before>\b(?:[Ff]laps|at|to|of) |, |^)"
        text = re.sub(rf"{before}(?P<name>{known})(?=$|[ ,;.:)])(?! (?:power|throttle))", name, text)
    return _FIGURE.sub(number, text), parts


_SLOT: Final = re.compile(r"\{(\w+)\}")
_PART: Final = re.compile(r"\{(\w+)\}")


def said(message: str, **parts: str | Words | Line) -> Line:
    """Return a message in the language spoken now as a line; a part may be text, or words that walk somewhere.

    Raises:
        KeyError: the message names a part that was not given.
    """
    found = _SPOKEN.get().gettext(message)
    out: list[Words] = []
    for i, piece in enumerate(_PART.split(found)):
        part = parts[piece] if i % 2 else piece
        words = (Words(part),) if isinstance(part, str) else (part,) if isinstance(part, Words) else part
        for one in words:
            if out and out[-1].voice == one.voice == "plain" and not out[-1].target and not one.target:
                out[-1] = Words(out[-1].text + one.text)
            elif one.text:
                out.append(one)
    return tuple(out)
