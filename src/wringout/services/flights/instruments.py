"""Clips of instruments: decoded frame by frame, read by `wringout.instruments`, handed over as a logger's table."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wringout.errors import BadInputError
from wringout.instruments.digits import cut_out, read_number, steady, teach
from wringout.instruments.marks import BoxMarks, DialMarks, read_marks
from wringout.instruments.needle import dial_window, follow, shift_between, unwrap
from wringout.instruments.opencv import opencv
from wringout.instruments.readings import CONFIDENT, InstrumentReadings
from wringout.recordings.hashing import sha256_of
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.store import Store

GreyImage = NDArray[np.uint8]

RATE_HZ = 10.0
"""Readings a second, unless another number is asked for."""

MOST_READINGS = 20_000
LONGEST_MARKS_BYTES = 100_000


@dataclass(frozen=True, slots=True)
class ClipReadings:
    """What was read from a clip, and the table it is handed over as."""

    readings: InstrumentReadings
    table: str
    sha256: str


def write_frame(clip: Path, at_s: float, out: Path) -> tuple[int, int]:
    """Write one frame of a clip as a PNG, to mark on; return its width and height [pixels].

    Raises:
        BadInputError: there is no such clip or frame, the picture cannot be written, or OpenCV is missing.
    """
    for _, picture in _frames(clip, 1e9, at_s):
        done, coded = opencv().imencode(".png", picture)
        try:
            out.write_bytes(coded.tobytes() if done else b"")
        except OSError as error:
            raise BadInputError(
                f"the picture cannot be written ({error.strerror})", str(out), "name another place"
            ) from None
        return int(picture.shape[1]), int(picture.shape[0])
    raise BadInputError(f"there is no frame at {at_s:g} s", clip.name, "name a time within the clip")


def read_clip(
    clip: Path, marks_file: Path, rate_hz: float = RATE_HZ, least: float = CONFIDENT, frame_s: float = 0.0
) -> ClipReadings:
    """Read the instrument in a clip.

    Args:
        clip: the video file.
        marks_file: what the user marked (TOML), see ``docs/instruments.md``.
        rate_hz: readings a second, at most the clip's frames.
        least: readings below this confidence are left blank in the table.
        frame_s: time of the frame that was marked [s].

    Raises:
        BadInputError: clip or marks cannot be used, or OpenCV is missing.
    """
    if not 0.0 < rate_hz <= 240.0:
        raise BadInputError(f"{rate_hz:g} readings a second cannot be", "rate", "give 0.1 to 240")
    if not 0.0 <= least <= 1.0:
        raise BadInputError(f"{least:g} is no confidence", "least confidence", "give 0 to 1")
    opencv()
    marks = read_marks(_text(marks_file), marks_file.name)
    try:
        if isinstance(marks, DialMarks):
            readings = _read_dial(clip, marks, rate_hz, frame_s)
        else:
            readings = _read_digits(clip, marks, rate_hz)
    except BadInputError as error:
        own = error.where.startswith((clip.name, str(clip))) or not error.where
        raise error if own else error.at(marks_file.name) from None
    with clip.open("rb") as stream:
        sha256, _ = sha256_of(stream, name=clip.name)
    header = {
        "from clip": clip.name,
        "clip hash": sha256,
        "instrument": "round dial" if isinstance(marks, DialMarks) else "digital read-out",
    }
    return ClipReadings(readings, readings.as_table(header, least), sha256)


def take_in_clip(store: Store, slug: str | None, clip: Path, read: ClipReadings, name: str) -> Arrival:
    """Keep a clip in the vault and take in the table read from it as a recording of the study.

    Raises:
        BadInputError: clip or table are refused.
        NotFoundError: there is no such study.
    """
    with clip.open("rb") as stream:
        take_in_recording(store, slug, stream, clip.name, f"clip that {name} was read from", make_run=False)
    note = f"read from {clip.name}"
    return take_in_recording(store, slug, io.BytesIO(read.table.encode()), name, note, make_run=False)


def _read_dial(clip: Path, marks: DialMarks, rate_hz: float, frame_s: float) -> InstrumentReadings:
    marked = next((grey for _, grey in _grey(clip, 1e9, frame_s)), None)
    if marked is None:
        raise BadInputError(f"there is no frame at {frame_s:g} s", clip.name, "name the time of the marked frame")
    left, top, right, bottom = dial_window(marks, marked.shape)
    still = marked[top:bottom, left:right]
    times, polars = [], []
    for time_s, grey in _grey(clip, rate_hz):
        dx, dy = shift_between(still, grey[top:bottom, left:right])
        polars.append(unwrap(grey, (marks.centre[0] + dx, marks.centre[1] + dy), marks.inner, marks.outer))
        times.append(time_s)
    track = follow(polars, np.array(times), marks)
    return InstrumentReadings(marks.unit, np.array(times), marks.speed_at(track.angles_deg), track.confidence)


def _read_digits(clip: Path, marks: BoxMarks, rate_hz: float) -> InstrumentReadings:
    samples = []
    for time_s, number in marks.known:
        shown = next((cut_out(grey, marks.box) for _, grey in _grey(clip, 1e9, time_s)), None)
        if shown is None:
            raise BadInputError(f"there is no frame at {time_s:g} s", clip.name, "name a time within the clip")
        samples.append((shown, number))
    taught = teach(samples)
    rows = [(time_s, *read_number(cut_out(grey, marks.box), taught)) for time_s, grey in _grey(clip, rate_hz)]
    times, numbers, confidence = np.array(rows).T
    return InstrumentReadings(marks.unit, times, numbers, steady(times, numbers, confidence, marks.fastest))


def _text(path: Path) -> str:
    try:
        data = path.read_bytes()[: LONGEST_MARKS_BYTES + 1]
        if len(data) > LONGEST_MARKS_BYTES:
            raise BadInputError("the marks are too long", str(path), "mark one instrument")
        return data.decode("utf-8-sig")
    except OSError as error:
        raise BadInputError(f"the marks cannot be read ({error.strerror})", str(path), "check the name") from None
    except UnicodeDecodeError:
        raise BadInputError("the marks are no text", str(path), "write TOML in UTF-8") from None


def _grey(clip: Path, rate_hz: float, from_s: float = 0.0) -> Iterator[tuple[float, GreyImage]]:
    cv2 = opencv()
    for time_s, picture in _frames(clip, rate_hz, from_s):
        yield time_s, picture if picture.ndim == 2 else cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)


def _frames(clip: Path, rate_hz: float, from_s: float = 0.0) -> Iterator[tuple[float, GreyImage]]:
    """Yield time [s] and picture of the frames of a clip from a time on, at most so many a second."""
    cv2 = opencv()
    if not clip.is_file():
        raise BadInputError("there is no such file", str(clip), "check its name and place")
    video = cv2.VideoCapture(str(clip), cv2.CAP_FFMPEG)
    try:
        if not video.isOpened():
            raise BadInputError(
                "this is no video that can be read", clip.name, "name a clip such as .mp4, .mov or .avi"
            )
        fps = float(video.get(cv2.CAP_PROP_FPS))
        fps = fps if 0.1 < fps < 1000.0 else 30.0
        yield from _thinned(video, fps, rate_hz, from_s, clip.name)
    finally:
        video.release()


def _thinned(video: object, fps: float, rate_hz: float, from_s: float, name: str) -> Iterator[tuple[float, GreyImage]]:
    cv2 = opencv()
    count, given, due = 0, 0, from_s
    while video.grab():  # type: ignore[attr-defined]
        told = float(video.get(cv2.CAP_PROP_POS_MSEC)) / 1000.0  # type: ignore[attr-defined]
        time_s = told if told > 0.0 or count == 0 else count / fps
        count += 1
        if time_s < due - 0.5 / fps:
            continue
        done, picture = video.retrieve()  # type: ignore[attr-defined]
        if not done:
            continue
        given += 1
        if given > MOST_READINGS:
            raise BadInputError(
                f"the clip is longer than {MOST_READINGS:,} readings", name, "read fewer a second, or cut the clip"
            )
        due = max(due + 1.0 / rate_hz, time_s)
        yield time_s, picture
    if count == 0:
        raise BadInputError("the clip holds no frame", name, "name a clip with pictures in it")
