"""A clip of an instrument in a study: what is marked on it, what was read, what a person says of what is not sure.

Marks, readings and answers are documents of the study, revision by revision; the clip stays in the vault as it is, and
the table that is kept of it is a recording that names the clip it came from.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from wringout.errors import BadInputError, ConflictError
from wringout.instruments.digits import cut_out
from wringout.instruments.marks import BoxMarks, DialMarks, marks_of
from wringout.instruments.needle import dial_window
from wringout.instruments.opencv import opencv
from wringout.instruments.readings import InstrumentReadings
from wringout.services.flights.clip_documents import NO, TYPED, YES, Clip, Wish, answer_of, asked_of, clip_of
from wringout.services.flights.frames import Shape, frame_at, shape_of
from wringout.services.flights.instruments import (
    Progress,
    check_settings,
    header_of,
    read_pictures,
)
from wringout.services.flights.media import laid_out
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.services.flights.runs import find_recording
from wringout.services.opening import the_study
from wringout.store import Store, StudyRecording, View, get_document, put_document
from wringout.store.documents import Document, JsonValue
from wringout.store.vault import path_of
from wringout.units import find_unit

MARKS, READINGS, ANSWERS = "clip-marks", "clip-readings", "clip-answers"
FASTEST_KNOWN = 2000.0
JPEG_QUALITY = 92
Marks = DialMarks | BoxMarks


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
    return clip_of(item, *(get_document(view, study_id, kind, _key(item)) for kind in (MARKS, READINGS, ANSWERS)))


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
        put_document(work, the_study(work, slug).id, MARKS, _key(clip.item), asked_of(wish), expected_revision)
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
        "asked": asked_of(clip.wish),
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
