"""What could point to a person taken out of what is passed on, and a list of what was taken out.

Names of airplanes, pilots and studies become names that say nothing ("pilot-3f2a..."), always the same for the same
library, so that a later export of the same member still fits. Days become months. In texts, registrations, mail
addresses and positions are replaced. Free notes are left out: no program can tell a name in them.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

_REGISTRATION = re.compile(
    r"(?<![\w-])(?:N\d{1,5}[A-Z]{0,2}|(?:[A-Z]|[A-Z]{2}|[A-Z]\d|\d[A-Z])-[A-Z]{3,4}|C-[FGI][A-Z]{3})(?![\w-])"
)
_MAIL = re.compile(r"\b[\w.+-]+@[\w-]+\.[\w.-]+\b")
_DEGREES = re.compile(r"(?<![\w.])([-+]?\d{1,3})\.\d{2,}\s*(?:°\s*)?([NSEW])(?![\w.])")
_PAIR = re.compile(r"(?<![\w.])([-+]?\d{1,2})\.\d{3,}\s*[,;/]\s*([-+]?\d{1,3})\.\d{3,}(?![\w.])")
_PHONE = re.compile(r"(?<!\w)\+\d[\d ()/-]{7,}\d")


@dataclass(slots=True)
class Cleaner:
    """Takes personal data out of what passes through it, and counts what it took out.

    Attributes:
        secret: of this library; without it a name cannot be guessed from its replacement by trying names.
        keep: kinds left as they are: any of "airplanes", "pilots", "studies", "days", "notes".
        removed: what was taken out, by kind.
    """

    secret: bytes
    keep: frozenset[str] = frozenset()
    removed: Counter[str] = field(default_factory=Counter)

    def stand_in(self, kind: str, name: str) -> str:
        """Return a name that says nothing, the same for the same name."""
        if not name or f"{kind}s".replace("studys", "studies") in self.keep:
            return name
        if re.fullmatch(rf"{kind}-[0-9a-f]{{10}}", name):  # came from another member, stripped already
            return name
        self.removed[f"{kind} names"] += 1
        digest = hmac.new(self.secret, f"{kind}\0{name.strip().casefold()}".encode(), hashlib.sha256)
        return f"{kind}-{digest.hexdigest()[:10]}"

    def day(self, text: str) -> str:
        """Return a date without its day."""
        if "days" in self.keep or len(text) < len("2026-01-01"):
            return text
        self.removed["days of dates"] += 1
        return text[: len("2026-01")]

    def note(self, text: str) -> str:
        """Return a free note, which is left out unless notes are kept."""
        if not text or "notes" in self.keep:
            return self.text(text)
        self.removed["free notes"] += 1
        return ""

    def text(self, text: str) -> str:
        """Return a text without registrations, mail addresses, telephone numbers, and with positions coarsened."""
        for pattern, kind, instead in _PATTERNS:
            text, count = pattern.subn(instead, text)
            if count:
                self.removed[kind] += count
        return text

    def report(self) -> list[dict[str, Any]]:
        """Return what was taken out: kind, how many, and what stands in its place."""
        return [
            {"what": what, "count": count, "instead": _INSTEAD.get(what, "left out")}
            for what, count in sorted(self.removed.items())
        ]


def _whole_degree(found: re.Match[str]) -> str:
    return f"{found[1]}°{found[2]}"


def _whole_degrees(found: re.Match[str]) -> str:
    return f"{found[1]}°, {found[2]}°"


_PATTERNS: tuple[tuple[re.Pattern[str], str, str | Callable[[re.Match[str]], str]], ...] = (
    (_MAIL, "mail addresses", "[mail address]"),
    (_PHONE, "telephone numbers", "[telephone]"),
    (_REGISTRATION, "registrations", "[registration]"),
    (_DEGREES, "positions", _whole_degree),
    (_PAIR, "positions", _whole_degrees),
)
_INSTEAD: Mapping[str, str] = {
    "airplane names": "a name that says nothing, the same in every export of this library",
    "pilot names": "a name that says nothing, the same in every export of this library",
    "study names": "a name that says nothing, the same in every export of this library",
    "days of dates": "the month",
    "registrations": "[registration]",
    "mail addresses": "[mail address]",
    "telephone numbers": "[telephone]",
    "positions": "whole degrees, about 60 NM",
}


def hints(text: str) -> Mapping[str, int]:
    """Return how much in a text could point to a person: registrations, addresses, numbers, positions, by kind."""
    cleaner = Cleaner(b"")
    cleaner.text(text)
    return dict(cleaner.removed)


KEEPABLE = ("airplanes", "pilots", "studies", "days", "notes")
"""What a member may choose to pass on as it is."""
