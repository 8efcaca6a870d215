"""What is kept of a clip of an instrument, and what it says: what was asked, the readings, the answers to them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from wringout.errors import BadInputError
from wringout.instruments.marks import marks_of
from wringout.instruments.readings import CONFIDENT
from wringout.services.flights.instruments import RATE_HZ
from wringout.store import StudyDocument, StudyRecording
from wringout.store.documents import Document

YES, NO, TYPED = "yes", "no", "typed"
SAME = 0.25
"""A yes stands over a new reading as long as that is within this of what was said yes to, in its unit (judged)."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is asked of a clip.

    Attributes:
        marks: what is marked, in the shape of ``docs/instruments.md``.
        rate_hz: readings a second.
        least: readings below this confidence wait for a person.
        frame_s: time of the marked frame [s].
    """

    marks: Mapping[str, Any]
    rate_hz: float = RATE_HZ
    least: float = CONFIDENT
    frame_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of a clip.

    Attributes:
        key: names it: its time, in milliseconds of the clip.
        time_s: when, from the first frame [s].
        made_out: what was made out, NaN where nothing was.
        confidence: 0 to 1.
        sure: it counts unless somebody says no.
        answer: "yes", "no", "typed", or "".
        typed: with "typed", what somebody read there.
    """

    key: str
    time_s: float
    made_out: float
    confidence: float
    sure: bool
    answer: str = ""
    typed: float = math.nan

    @property
    def speed(self) -> float:
        """What counts, NaN where nothing does."""
        if self.answer == TYPED:
            return self.typed
        return self.made_out if self.answer == YES or (self.sure and not self.answer) else math.nan

    @property
    def waits(self) -> bool:
        """Whether something was made out that a person should look at."""
        return not self.sure and not self.answer and math.isfinite(self.made_out)


@dataclass(frozen=True, slots=True)
class Clip:
    """A clip with what is known of it.

    Attributes:
        item: the clip in the study.
        wish: what was asked of it last; None before anything was marked.
        revision: of the marks, 0 before the first.
        unit: of the readings.
        readings: what was read; empty before.
        current: it was read with the marks as they are.
    """

    item: StudyRecording
    wish: Wish | None
    revision: int
    unit: str
    readings: tuple[Reading, ...]
    current: bool

    @property
    def waiting(self) -> tuple[Reading, ...]:
        """Return the readings that wait for a yes or a no, in order of time."""
        return tuple(one for one in self.readings if one.waits)

    def nearest(self, at_s: float) -> Reading | None:
        """Return the reading nearest to a moment [s]; None without any."""
        return min(self.readings, key=lambda one: abs(one.time_s - at_s), default=None)

    def named(self, key: str) -> Reading:
        """Return a reading by its key.

        Raises:
            BadInputError: there is none.
        """
        for one in self.readings:
            if one.key == key:
                return one
        raise BadInputError(f"there is no reading {key[:40]!r}", self.item.name, "choose one from the list")


def clip_of(
    item: StudyRecording, marks: StudyDocument | None, read: StudyDocument | None, answers: StudyDocument | None
) -> Clip:
    """Return a clip with what its three documents say; one of another make counts as not there."""
    wish = None if marks is None or marks.body is None else _wish(marks.body)
    body: Mapping[str, Any] = {} if read is None or read.body is None else read.body
    told: Mapping[str, Any] = {} if answers is None or answers.body is None else answers.body
    try:
        readings = _readings(body, told.get("answers", {}))
    except (TypeError, ValueError, AttributeError):
        readings = ()
    current = not readings or (wish is not None and body.get("asked") == asked_of(wish))
    revision = 0 if marks is None else marks.revision
    return Clip(item, wish, revision, str(body.get("unit", "kt")), readings, current)


def _readings(body: Mapping[str, Any], told: Mapping[str, Any]) -> tuple[Reading, ...]:
    least = float(body.get("least", CONFIDENT))
    columns = zip(body.get("times_s", ()), body.get("speeds", ()), body.get("confidence", ()), strict=False)
    return tuple(_reading(float(t), speed, float(c), least, told) for t, speed, c in columns)


def _reading(time_s: float, speed: float | None, confidence: float, least: float, told: Mapping[str, Any]) -> Reading:
    made_out = math.nan if speed is None else float(speed)
    sure = math.isfinite(made_out) and confidence >= least
    one = Reading(f"{1000.0 * time_s:.0f}", time_s, made_out, confidence, sure)
    said = told.get(one.key)
    if not isinstance(said, Mapping) or said.get("answer") not in {YES, NO, TYPED}:
        return one
    answer, value = str(said["answer"]), said.get("speed")
    typed = float(value) if isinstance(value, int | float) else math.nan
    if answer == YES and not abs(typed - made_out) <= SAME:
        return one
    return replace(one, answer=answer, typed=typed if answer == TYPED else math.nan)


def _wish(body: Mapping[str, Any]) -> Wish | None:
    """Return what was asked; None where a document of another make does not say it."""
    try:
        marks_of({**body["marks"], "kind": body["marks"]["kind"]}, "marks")
        return Wish(body["marks"], float(body["rate_hz"]), float(body["least"]), float(body["frame_s"]))
    except (KeyError, TypeError, ValueError, BadInputError):
        return None


def asked_of(wish: Wish) -> Document:
    """Return what was asked, as it is kept."""
    return {"marks": wish.marks, "rate_hz": wish.rate_hz, "least": wish.least, "frame_s": wish.frame_s}


def answer_of(one: Reading) -> str:
    """Return the answer that a reading has, in a word or a number."""
    return f"{one.typed:g}" if one.answer == TYPED else one.answer
