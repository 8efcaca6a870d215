"""Numbers as they are spoken in a cockpit: "one hundred ten", "eighty-two", "one one zero", "one oh eight", "126".

Spoken digits are those of radiotelephony and of everyday speech (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

_UNITS = {
    "zero": 0, "oh": 0, "one": 1, "two": 2, "three": 3, "tree": 3, "four": 4, "fower": 4, "five": 5, "fife": 5,
    "six": 6, "seven": 7, "eight": 8, "ait": 8, "nine": 9, "niner": 9,
}  # fmt: skip
_TEENS = {
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
_TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80,
    "ninety": 90,
}  # fmt: skip
_LARGE = {"hundred": 100, "thousand": 1000}
_POINT = frozenset({"point", "decimal"})
_NUMBER_WORDS = {**_UNITS, **_TEENS, **_TENS, **_LARGE}
_TOKEN = re.compile(r"\d{1,3}(?:,\d{3})+(?![\d,])|\d+(?:\.\d+)?|[a-z]+(?:'[a-z]+)?|[,.;:?!–—]")


@dataclass(frozen=True, slots=True)
class Token:
    """A word, a number or a stop of a line. ``value`` is None for words and stops.

    Attributes:
        text: as written, lower case; of a number, as digits ("108", "119.4", "0900").
        value: the number.
        at: position of its first character in the line.
        spelled: how many words it was made of.
    """

    text: str
    value: float | None
    at: int
    spelled: int = 1

    @property
    def is_stop(self) -> bool:
        """Whether this is a comma, a full stop or the like."""
        return not self.text[:1].isalnum()


def tokens_of(line: str) -> tuple[Token, ...]:
    """Return the tokens of a line, numbers in words put together.

    >>> [token.text for token in tokens_of("One oh eight, gear's coming down")]
    ['108', ',', 'gear', 'is', 'coming', 'down']
    """
    raw: list[Token] = []
    for match in _TOKEN.finditer(line.casefold().replace("’", "'").replace("-", " ")):
        text = match.group()
        if text.endswith("'s"):
            raw += [Token(text[:-2], None, match.start()), Token("is", None, match.end() - 1)]
        else:
            raw.append(Token(text, None, match.start()))
    out: list[Token] = []
    i = 0
    while i < len(raw):
        j = _run_end(raw, i)
        if j == i:
            out.append(raw[i])
            i += 1
            continue
        out.append(_number(raw[i:j]))
        i = j
    return tuple(out)


def _is_number(text: str) -> bool:
    return text[:1].isdigit() or text in _NUMBER_WORDS


def _run_end(raw: Sequence[Token], i: int) -> int:
    """Return where the number that begins at ``i`` ends; ``i`` where none begins."""
    if not _is_number(raw[i].text) or raw[i].text in {"oh", "thousand"}:
        return i
    j = i + 1
    while j < len(raw):
        text, before = raw[j].text, raw[j - 1].text
        following = raw[j + 1].text if j + 1 < len(raw) else ""
        digits_apart = text[:1].isdigit() and before[:1].isdigit()
        if (
            (_is_number(text) and not digits_apart)
            or (text in _POINT and _is_number(following))
            or (text == "and" and before == "hundred" and (following in _NUMBER_WORDS and following not in _LARGE))
        ):
            j += 1
        else:
            break
    return j


def _number(run: Sequence[Token]) -> Token:
    words = [token.text for token in run if token.text != "and"]
    if len(words) == 1 and words[0][:1].isdigit():
        text = words[0].replace(",", "")
        return Token(text, float(text), run[0].at)
    text = _cardinal(words) if any(word in _LARGE for word in words) else _digits(words)
    return Token(text, float(text), run[0].at, len(run))


def _digits(words: Sequence[str]) -> str:
    """Return words put one behind the other: "one twenty" is 120, "two niner niner two" is 2992."""
    out = ""
    tens_open = False
    for word in words:
        if word in _POINT:
            out += "" if "." in out else "."
            tens_open = False
        elif word in _UNITS and tens_open and _UNITS[word]:
            out = out[:-1] + str(_UNITS[word])
            tens_open = False
        else:
            number = word.replace(",", "") if word[:1].isdigit() else str(_NUMBER_WORDS[word])
            out += number if "." not in out else number.replace(".", "")
            tens_open = word in _TENS
    return out.rstrip(".") or "0"


def _cardinal(words: Sequence[str]) -> str:
    """Return the value of words with hundreds or thousands: "two thousand seven hundred" is 2700."""
    total, group = 0.0, ""
    pending: list[str] = []
    value = 0.0
    for word in words:
        if word == "thousand":
            total += 1000.0 * (value + float(_digits(pending or (["one"] if not value else ["zero"]))))
            value, pending = 0.0, []
        elif word == "hundred":
            value += 100.0 * float(_digits(pending or ["one"]))
            pending = []
        else:
            pending.append(word)
    rest = float(_digits(pending)) if pending else 0.0
    group = f"{total + value + rest:.6f}".rstrip("0").rstrip(".")
    return group or "0"
