"""Clips of instruments: decoded frame by frame, read by `wringout.instruments`, handed over as a logger's table."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from wringout.errors import BadInputError
from wringout.instruments.digits import cut_out, read_number, steady, teach
from wringout.instruments.marks import BoxMarks, DialMarks, read_marks
from wringout.instruments.needle import dial_window, follow, shift_between, unwrap
from wringout.instruments.opencv import opencv
from wringout.instruments.readings import CONFIDENT, InstrumentReadings
from wringout.recordings.hashing import sha256_of
from wringout.services.flights.frames import Picture, frame_at, frames, grey_of, shape_of
from wringout.services.flights.recordings import Arrival, take_in_recording
from wringout.store import Store

Progress = Callable[[float], None]

RATE_HZ = 10.0
"""Readings a second, unless another number is asked for."""

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
    _, picture = frame_at(clip, at_s)
    done, coded = opencv().imencode(".png", picture)
    try:
        out.write_bytes(coded.tobytes() if done else b"")
    except OSError as error:
        raise BadInputError(
            f"the picture cannot be written ({error.strerror})", str(out), "name another place"
        ) from None
    return int(picture.shape[1]), int(picture.shape[0])


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
    check_settings(rate_hz, least)
    opencv()
    marks = read_marks(_text(marks_file), marks_file.name)
    try:
        readings = read_pictures(clip, marks, rate_hz, frame_s)
    except BadInputError as error:
        own = error.where.startswith((clip.name, str(clip))) or not error.where
        raise error if own else error.at(marks_file.name) from None
    with clip.open("rb") as stream:
        sha256, _ = sha256_of(stream, name=clip.name)
    return ClipReadings(readings, readings.as_table(header_of(clip.name, sha256, marks), least), sha256)


def check_settings(rate_hz: float, least: float) -> None:
    """Refuse a pace or a least confidence that cannot be.

    Raises:
        BadInputError: it cannot.
    """
    if not 0.0 < rate_hz <= 240.0:
        raise BadInputError(f"{rate_hz:g} readings a second cannot be", "rate", "give 0.1 to 240")
    if not 0.0 <= least <= 1.0:
        raise BadInputError(f"{least:g} is no confidence", "least confidence", "give 0 to 1")


def header_of(name: str, sha256: str, marks: DialMarks | BoxMarks) -> dict[str, str]:
    """Return the head of a table read from a clip."""
    kind = "round dial" if isinstance(marks, DialMarks) else "digital read-out"
    return {"from clip": name, "clip hash": sha256, "instrument": kind}


def read_pictures(
    clip: Path, marks: DialMarks | BoxMarks, rate_hz: float, frame_s: float, progress: Progress | None = None
) -> InstrumentReadings:
    """Return what the marked instrument shows, frame by frame.

    Args:
        clip: the video file.
        marks: what is marked on the frame at ``frame_s`` [s].
        rate_hz: readings a second, at most the clip's frames.
        frame_s: time of the marked frame [s].
        progress: called with the share of the clip that was read.

    Raises:
        BadInputError: the clip cannot be read, the marks do not lie in it, or OpenCV is missing.
    """
    if isinstance(marks, DialMarks):
        return _read_dial(clip, marks, rate_hz, frame_s, progress)
    return _read_digits(clip, marks, rate_hz, progress)


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


def _read_dial(
    clip: Path, marks: DialMarks, rate_hz: float, frame_s: float, progress: Progress | None
) -> InstrumentReadings:
    try:
        marked = grey_of(frame_at(clip, frame_s)[1])
    except BadInputError as error:
        raise BadInputError(error.what, error.where, "name the time of the marked frame") from None
    left, top, right, bottom = dial_window(marks, marked.shape)
    still = marked[top:bottom, left:right]
    times, polars = [], []
    for time_s, grey in _grey(clip, rate_hz, progress):
        dx, dy = shift_between(still, grey[top:bottom, left:right])
        polars.append(unwrap(grey, (marks.centre[0] + dx, marks.centre[1] + dy), marks.inner, marks.outer))
        times.append(time_s)
    track = follow(polars, np.array(times), marks)
    return InstrumentReadings(marks.unit, np.array(times), marks.speed_at(track.angles_deg), track.confidence)


def _read_digits(clip: Path, marks: BoxMarks, rate_hz: float, progress: Progress | None) -> InstrumentReadings:
    samples = [(cut_out(grey_of(frame_at(clip, time_s)[1]), marks.box), number) for time_s, number in marks.known]
    taught = teach(samples)
    rows = [(time_s, *read_number(cut_out(grey, marks.box), taught)) for time_s, grey in _grey(clip, rate_hz, progress)]
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


def _grey(clip: Path, rate_hz: float, progress: Progress | None) -> Iterator[tuple[float, Picture]]:
    length_s = shape_of(clip).length_s if progress is not None else 0.0
    for time_s, picture in frames(clip, rate_hz):
        if progress is not None and length_s > 0.0:
            progress(min(time_s / length_s, 1.0))
        yield time_s, grey_of(picture)
