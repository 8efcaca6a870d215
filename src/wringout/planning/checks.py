"""What holding a plan against its limits returns: checks, each with what is planned, the limit and the margin."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    """How a check came out; ``VIOLATED`` blocks the card, ``THIN`` and ``NOT_STATED`` warn."""

    HELD = "held"
    THIN = "thin margin"
    NOT_STATED = "not stated"
    VIOLATED = "violated"


@dataclass(frozen=True, slots=True)
class Check:
    """One planned value against one limit.

    ``subject`` names the limit ("VFE (full)"), ``planned`` and ``limit`` are numbers in ``unit`` as a pilot says them,
    None where there is none; ``upper`` tells a highest from a lowest limit; ``point`` is a point's key, "" for the
    whole flight.
    """

    point: str
    subject: str
    level: Level
    sentence: str
    planned: float | None = None
    limit: float | None = None
    unit: str = ""
    upper: bool = True

    @property
    def margin(self) -> float | None:
        """How far the planned value is inside the limit, in ``unit``; negative beyond it."""
        if self.planned is None or self.limit is None:
            return None
        return self.limit - self.planned if self.upper else self.planned - self.limit


def against(
    point: str,
    subject: str,
    planned: float,
    limit: float,
    unit: str,
    thin: float,
    words: str,
    cure: str,
    *,
    upper: bool = True,
    places: int = 0,
) -> Check:
    """Return a planned value held against a limit; margins below ``thin`` are thin, a value on the limit is inside.

    ``words`` begin the sentence ("entry at"), ``cure`` is what to change when it is violated.
    """
    margin = limit - planned if upper else planned - limit
    of = f" {unit}" if unit else ""
    said = f"{words} {planned:,.{places}f}{of} against {subject} {limit:,.{places}f}{of}"
    if margin < -1e-9 * max(abs(limit), 1.0):
        level, ending = Level.VIOLATED, f": {'above' if upper else 'below'} the limit; {cure}."
    elif margin < thin:
        level, ending = Level.THIN, f": only {margin:,.{places}f}{of} of margin."
    else:
        level, ending = Level.HELD, f": {margin:,.{places}f}{of} of margin."
    return Check(point, subject, level, f"{said[:1].upper()}{said[1:]}{ending}", planned, limit, unit, upper)


def missing(point: str, subject: str, sentence: str) -> Check:
    """Return the check of something that is not stated."""
    return Check(point, subject, Level.NOT_STATED, sentence)


def blocked(checks: Iterable[Check], point: str = "") -> bool:
    """Return whether a violated limit blocks a point's card; limits of the whole flight block every card."""
    return any(c.level is Level.VIOLATED and c.point in ("", point) for c in checks)
