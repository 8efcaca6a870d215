"""A clip of an instrument in a study: what is marked on it, what was read, what a person says of what is not sure.

Marks, readings and answers are documents of the study, revision by revision; the clip stays in the vault as it is, and
the table that is kept of it is a recording that names the clip it came from.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from wringout.errors import BadInputError, ConflictError
from wringout.instruments.digits import cut_out
from wringout.instruments.marks import BoxMarks, DialMarks, marks_of
from wringout.instruments.needle import dial_window
from wringout.instruments.opencv import opencv
from wringout.instruments.readings import CONFIDENT, InstrumentReadings
from wringout.services.flights.frames import Shape, frame_at, shape_of
from wringout.services.flights.instruments import (
    RATE_HZ,
    Progress,
    check_settings,
    header_of,
    read_pictures,
)
from wringout.services.flights.media import laid_out
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.services.flights.runs import find_recording
from wringout.services.opening import the_study
from wringout.store import Store, StudyDocument, StudyRecording, View, get_document, put_document
from wringout.store.documents import Document, JsonValue
from wringout.store.vault import path_of
from wringout.units import find_unit

MARKS, READINGS, ANSWERS = "clip-marks", "clip-readings", "clip-answers"
YES, NO, TYPED = "yes", "no", "typed"
SAME = 0.25
"""A yes stands over a new reading as long as that is within this of what was said yes to, in its unit (judged)."""
FASTEST_KNOWN = 2000.0
JPEG_QUALITY = 92
Marks = DialMarks | BoxMarks


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


def study_clip(store: Store, slug: str | None, recording: str) -> Clip:
    """Return a clip of a study with its marks, readings and answers.

    Raises:
        NotFoundError: there is no such study or recording.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        item = find_recording(view, study.id, recording)
        return _clip_in(view, study.id, item)


def _clip_in(view: View, study_id: int, item: StudyRecording) -> Clip:
    return _clip(item, *(get_document(view, study_id, kind, _key(item)) for kind in (MARKS, READINGS, ANSWERS)))


def _clip(
    item: StudyRecording, marks: StudyDocument | None, read: StudyDocument | None, answers: StudyDocument | None
) -> Clip:
    wish = None if marks is None or marks.body is None else _wish(marks.body)
    body: Mapping[str, Any] = {} if read is None or read.body is None else read.body
    told: Mapping[str, Any] = {} if answers is None or answers.body is None else answers.body
    least = float(body.get("least", CONFIDENT))
    columns = zip(body.get("times_s", ()), body.get("speeds", ()), body.get("confidence", ()), strict=False)
    readings = tuple(_reading(*row, least, told.get("answers", {})) for row in columns)
    current = wish is not None and body.get("asked") == _asked(wish)
    return Clip(
        item, wish, 0 if marks is None else marks.revision, str(body.get("unit", "kt")), readings, current or not body
    )


def _reading(time_s: float, speed: float | None, confidence: float, least: float, told: Mapping[str, Any]) -> Reading:
    made_out = math.nan if speed is None else float(speed)
    one = Reading(_reading_key(time_s), time_s, made_out, confidence, math.isfinite(made_out) and confidence >= least)
    said = told.get(one.key)
    if not isinstance(said, Mapping) or said.get("answer") not in {YES, NO, TYPED}:
        return one
    answer, value = str(said["answer"]), said.get("speed")
    typed = float(value) if isinstance(value, int | float) else math.nan
    if answer == YES and not abs(typed - made_out) <= SAME:
        return one
    return replace(one, answer=answer, typed=typed if answer == TYPED else math.nan)


def _reading_key(time_s: float) -> str:
    return f"{1000.0 * time_s:.0f}"


def _wish(body: Mapping[str, Any]) -> Wish | None:
    """Return what was asked; None where a document of another make does not say it."""
    try:
        marks_of(body["marks"], "marks")
        return Wish(body["marks"], float(body["rate_hz"]), float(body["least"]), float(body["frame_s"]))
    except (KeyError, TypeError, ValueError, BadInputError):
        return None


def _asked(wish: Wish) -> Document:
    return {"marks": wish.marks, "rate_hz": wish.rate_hz, "least": wish.least, "frame_s": wish.frame_s}


def clip_shape(store: Store, clip: Clip) -> Shape:
    """Return how large and how long a clip is.

    Raises:
        BadInputError: it is no clip that can be read, or OpenCV is missing.
    """
    return shape_of(path_of(store.place.recordings, clip.item.recording.sha256), clip.item.name)


def clip_picture(store: Store, slug: str | None, recording: str, at_s: float) -> bytes:
    """Return the frame of a clip at a moment as JPEG.

    Raises:
        BadInputError: there is no such frame, it is no clip, or OpenCV is missing.
        NotFoundError: there is no such study or recording.
    """
    with store.reading() as view:
        item = find_recording(view, the_study(view, slug).id, recording)
    cv2 = opencv()
    _, picture = frame_at(path_of(store.place.recordings, item.recording.sha256), at_s, item.name)
    done, coded = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    return bytes(coded.tobytes()) if done else b""


def keep_marks(
    store: Store, slug: str | None, recording: str, wish: Wish, expected_revision: int | None = None
) -> Clip:
    """Keep what is marked on a clip, after holding it against the picture.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        recording: the clip.
        wish: what is marked, and how it is to be read.
        expected_revision: the revision of the marks it was made from; None for whatever is there.

    Raises:
        BadInputError: a mark cannot be right, or does not lie in the picture.
        ConflictError: somebody else has marked it since.
        NotFoundError: there is no such study or recording.
    """
    clip = study_clip(store, slug, recording)
    check_settings(wish.rate_hz, wish.least)
    marks = marks_of(wish.marks, "marks")
    shape = clip_shape(store, clip)
    if not 0.0 <= wish.frame_s < 86_400.0:
        raise BadInputError(f"there is no frame at {wish.frame_s:g} s", "moment", "name a time within the clip")
    try:
        _lie_in(marks, shape)
    except BadInputError as error:
        raise error.at("marks") from None
    with store.writing() as work:
        put_document(work, the_study(work, slug).id, MARKS, _key(clip.item), _asked(wish), expected_revision)
    return study_clip(store, slug, recording)


def _lie_in(marks: Marks, shape: Shape) -> None:
    if isinstance(marks, DialMarks):
        dial_window(marks, (shape.height, shape.width))
    else:
        cut_out(np.zeros((shape.height, shape.width), dtype=np.uint8), marks.box)


def read_marked_clip(store: Store, slug: str | None, recording: str, progress: Progress | None = None) -> Clip:
    """Read a clip as it is marked, and keep what was read.

    Raises:
        BadInputError: nothing is marked on it, or it cannot be read with these marks.
        NotFoundError: there is no such study or recording.
    """
    clip = study_clip(store, slug, recording)
    if clip.wish is None:
        raise BadInputError("nothing is marked on it yet", clip.item.name, "mark the dial or the digits first")
    marks = marks_of(clip.wish.marks, "marks")
    with laid_out(store, clip.item) as path:
        found = read_pictures(path, marks, clip.wish.rate_hz, clip.wish.frame_s, progress)
    body: Document = {
        "clip": clip.item.name,
        "asked": _asked(clip.wish),
        "unit": found.unit,
        "least": clip.wish.least,
        "times_s": [round(float(t), 3) for t in found.times_s],
        "speeds": [round(float(v), 2) if np.isfinite(v) else None for v in found.speeds],
        "confidence": [round(float(c), 2) for c in found.confidence],
    }
    with store.writing() as work:
        put_document(work, the_study(work, slug).id, READINGS, _key(clip.item), body)
    return study_clip(store, slug, recording)


def typed_speed(text: str, unit: str) -> float:
    """Return a speed as it is typed, in the unit of the readings.

    Raises:
        BadInputError: it is no number, or no speed.
    """
    found = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(\D*)", text.strip())
    other = found and found[2].strip()
    if found is None or (other and find_unit(other) != find_unit(unit)):
        raise BadInputError(
            f"{text[:40]!r} is no speed in {unit}", "what it was", f'write a number, such as "104 {unit}"'
        )
    value = float(found[1].replace(",", "."))
    if value > FASTEST_KNOWN:
        raise BadInputError(f"{value:g} {unit} is no speed", "what it was", f"write less than {FASTEST_KNOWN:g}")
    return value


def answer_reading(
    store: Store, slug: str | None, recording: str, key: str, answer: str, typed: str = "", seen: str | None = None
) -> Clip:
    """Keep what a person says of one reading.

    Args:
        store: where the study is kept.
        slug: the study; None for the only one.
        recording: the clip.
        key: of the reading.
        answer: "yes", "no", "typed", or "" to take an answer back.
        typed: with "typed", the speed it was.
        seen: the answer that was there when this one was given; None for whatever is there.

    Raises:
        BadInputError: there is no such reading or answer, or what was typed is no speed.
        ConflictError: somebody else has answered this one since.
        NotFoundError: there is no such study or recording.
    """
    clip = study_clip(store, slug, recording)
    one = clip.named(key)
    where = f"{clip.item.name}, {one.time_s:.2f} s"
    said: dict[str, JsonValue] = {"answer": answer}
    if answer == TYPED:
        try:
            said["speed"] = typed_speed(typed, clip.unit)
        except BadInputError as error:
            raise error.at(where) from None
    elif answer == YES:
        if not math.isfinite(one.made_out):
            raise BadInputError("nothing was made out here", where, "write what it was")
        said["speed"] = one.made_out
    elif answer not in {NO, ""}:
        raise BadInputError(f"{answer[:40]!r} is no answer", where, 'say "yes" or "no"')
    with store.writing() as work:
        study = the_study(work, slug)
        now = _clip_in(work, study.id, clip.item).named(key)
        if seen is not None and answer_of(now) != seen:
            raise ConflictError(
                f"it was answered meanwhile, in another window: {answer_of(now) or 'no answer'}", where,
                "look at it as it is now and answer again; nothing was changed",
            )  # fmt: skip
        kept = get_document(work, study.id, ANSWERS, _key(clip.item))
        body: Mapping[str, Any] = {} if kept is None or kept.body is None else kept.body
        told = {**body.get("answers", {}), key: said}
        if not answer:
            del told[key]
        put_document(work, study.id, ANSWERS, _key(clip.item), {"clip": clip.item.name, "answers": told})
    return study_clip(store, slug, recording)


def answer_of(one: Reading) -> str:
    """Return the answer that a reading has, in a word or a number."""
    return f"{one.typed:g}" if one.answer == TYPED else one.answer


def keep_readings(store: Store, slug: str | None, recording: str, name: str = "") -> Arrival:
    """Take in what was read from a clip, with the answers, as a recording of the study.

    Raises:
        BadInputError: nothing was read yet, or nothing in it counts.
        NotFoundError: there is no such study or recording.
    """
    clip = study_clip(store, slug, recording)
    if not clip.current:
        raise BadInputError("its marks were changed since it was read", clip.item.name, "read it again")
    if clip.wish is None or not any(math.isfinite(one.speed) for one in clip.readings):
        raise BadInputError("no reading of it counts yet", clip.item.name, "read it, and say yes to what is right")
    columns = np.array([(one.time_s, one.made_out, one.confidence) for one in clip.readings]).T
    answers = {i: one.speed if math.isfinite(one.speed) else None for i, one in enumerate(clip.readings) if one.answer}
    header = header_of(clip.item.name, clip.item.recording.sha256, marks_of(clip.wish.marks, "marks"))
    table = InstrumentReadings(clip.unit, *columns).as_table(header, clip.wish.least, answers)
    note = f"read from {clip.item.name}"
    stem = clip.item.name.rpartition(".")[0] or clip.item.name
    data = io.BytesIO(table.encode())
    return take_in_recording(store, slug, data, name or f"{stem}-speeds.csv", note, make_run=False)


def _key(item: StudyRecording) -> str:
    return item.recording.sha256[:40]
