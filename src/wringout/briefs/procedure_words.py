"""How a procedure is spoken of: where a sentence happens, what it starts from, and what its clock counts from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from wringout.briefs.catalogue import marked, tr
from wringout.techniques.stated.types import Situation


@dataclass(frozen=True, slots=True)
class ProcedureWords:
    """Messages about one procedure.

    Attributes:
        during: the start of a sentence about it, without a comma.
        start: what it starts from, with ``{speed}``, to stand in a list of conditions.
        since: what its clock counts from, with ``{unit}``, as the name of an axis.
    """

    during: str
    start: str
    since: str


_START: Final = marked("a start at {speed}")
_BEGUN: Final = marked("time from the start, {unit}")
_DECIDED: Final = marked("time from the decision to go around, {unit}")
_LOST: Final = marked("time from the loss of power, {unit}")
_CLIMB: Final = marked("a climb after take-off at {speed}")
_APPROACH: Final = marked("an approach at {speed}")
_KNOWN: Final = {
    "Go-around from the approach": ProcedureWords(marked("In a go-around"), _APPROACH, _DECIDED),
    "Go-around from the flare": ProcedureWords(
        marked("In a go-around from the flare"), marked("a flare at {speed}"), _DECIDED
    ),
    "Go-around from a bounce": ProcedureWords(
        marked("In a go-around from a bounce"), marked("the top of a bounce at {speed}"), _DECIDED
    ),
    "Clean-up after take-off": ProcedureWords(marked("In the clean-up after take-off"), _CLIMB, _BEGUN),
    "Loss of power after take-off": ProcedureWords(marked("When power is lost after take-off"), _CLIMB, _LOST),
    "Loss of power on approach": ProcedureWords(marked("When power is lost on approach"), _APPROACH, _LOST),
    "Emergency descent": ProcedureWords(marked("In an emergency descent"), _START, _BEGUN),
    "Slow-down to approach speed": ProcedureWords(marked("In a slow-down to approach speed"), _START, _BEGUN),
}
GO_AROUNDS: Final = frozenset(title for title, words in _KNOWN.items() if words.since == _DECIDED)
"""Titles of the procedures that are go-arounds."""


def during(situation: Situation) -> str:
    """Return the start of a sentence about what is flown, such as "In an emergency descent"."""
    known = _KNOWN.get(situation.title)
    return tr(known.during) if known else tr("In “{title}”", title=situation.title)


def starting(situation: Situation, speed: str) -> str:
    """Return what it starts from, such as "an approach at 1.3 times the stall speed"."""
    known = _KNOWN.get(situation.title)
    return tr(known.start if known else _START, speed=speed)


def clock_label(situation: Situation, unit: str) -> str:
    """Return the name of a time axis, such as "time from the loss of power, s"."""
    known = _KNOWN.get(situation.title)
    return tr(known.since if known else _BEGUN, unit=unit)


def is_go_around(situation: Situation) -> bool:
    """Return whether it is a go-around, from wherever it starts."""
    return situation.title in GO_AROUNDS
