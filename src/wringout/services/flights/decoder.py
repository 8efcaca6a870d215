"""Frames of a clip, decoded by OpenCV in a process of its own: a clip may have been made to break the decoder.

What is asked comes as one line of JSON, answers go out as :class:`Answer` says. The process may hold only so much,
and ends when a frame takes too long; :mod:`wringout.services.flights.frames` makes a sentence of that.
"""

from __future__ import annotations

import contextlib
import json
import signal
import struct
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from enum import IntEnum
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from wringout.errors import BadInputError
from wringout.instruments.opencv import opencv

Picture = NDArray[np.uint8]
MOST_READINGS = 20_000
SEEK_FROM_S, SEEK_BEFORE_S = 5.0, 1.0
"""Later frames are gone to at once, this much before them; earlier ones are read up to from the beginning [s]."""
USUAL_FPS = 30.0
HEAD = struct.Struct("<Bdqqq")
"""Before every answer: what it is, its time [s], and the shape of the picture, or how many bytes of text follow."""
MOST_BYTES = 3 << 30
"""Address space the process may use: a frame of 16,384 by 16,384 pixels fits in."""
LONGEST_S = 60
"""Processor time after which a frame that has not come ends the process."""


class Answer(IntEnum):
    """What may be answered: the shape of the clip (JSON), a frame (its bytes), that this was all, an error (JSON)."""

    SHAPE = 1
    FRAME = 2
    END = 3
    ERROR = 4


@dataclass(frozen=True, slots=True)
class Shape:
    """How large the pictures of a clip are [pixels], how many a second, and how long it lasts [s], 0 if not known."""

    width: int
    height: int
    fps: float
    length_s: float


def shape_of(clip: Path, name: str = "") -> Shape:
    """Return how large and how long a clip is.

    Raises:
        BadInputError: there is no such clip, it is none, or OpenCV is missing.
    """
    cv2 = opencv()
    with _Opened(clip, name or clip.name) as video:
        fps = _fps(video)
        count = float(video.get(cv2.CAP_PROP_FRAME_COUNT))
        width, height = (int(video.get(key)) for key in (cv2.CAP_PROP_FRAME_WIDTH, cv2.CAP_PROP_FRAME_HEIGHT))
        return Shape(width, height, fps, count / fps if 0.0 < count < 1e9 else 0.0)


def frame_at(clip: Path, at_s: float, name: str = "") -> tuple[float, Picture]:
    """Return the frame shown at a moment, with its own time [s]: the first that begins then or later.

    Raises:
        BadInputError: there is no such clip or frame, or OpenCV is missing.
    """
    cv2, said = opencv(), name or clip.name
    if at_s >= SEEK_FROM_S:
        with _Opened(clip, said) as video:
            video.set(cv2.CAP_PROP_POS_MSEC, 1000.0 * (at_s - SEEK_BEFORE_S))
            if video.grab() and 0.0 < _told(video) <= at_s:
                for time_s, picture in _thinned(video, _fps(video), 1e9, at_s, said):
                    return time_s, picture
    for time_s, picture in frames(clip, 1e9, at_s, said):
        return time_s, picture
    raise BadInputError(f"there is no frame at {at_s:g} s", said, "name a time within the clip")


def frames(clip: Path, rate_hz: float, from_s: float = 0.0, name: str = "") -> Iterator[tuple[float, Picture]]:
    """Yield time [s] and picture of the frames of a clip from a time on, at most so many a second.

    Raises:
        BadInputError: there is no such clip, it is none or too long, or OpenCV is missing.
    """
    with _Opened(clip, name or clip.name) as video:
        yield from _thinned(video, _fps(video), rate_hz, from_s, name or clip.name)


class _Opened:
    """A clip open for reading; released at the end."""

    def __init__(self, clip: Path, name: str) -> None:
        cv2 = opencv()
        if not clip.is_file():
            raise BadInputError("there is no such file", str(clip), "check its name and place")
        self._video = cv2.VideoCapture(str(clip), cv2.CAP_FFMPEG)
        if not self._video.isOpened():
            self._video.release()
            raise BadInputError("this is no video that can be read", name, "name a clip such as .mp4, .mov or .avi")

    def __enter__(self) -> Any:
        return self._video

    def __exit__(self, *_: object) -> None:
        self._video.release()


def _fps(video: Any) -> float:
    fps = float(video.get(opencv().CAP_PROP_FPS))
    return fps if 0.1 < fps < 1000.0 else USUAL_FPS


def _told(video: Any) -> float:
    return float(video.get(opencv().CAP_PROP_POS_MSEC)) / 1000.0


def _thinned(video: Any, fps: float, rate_hz: float, from_s: float, name: str) -> Iterator[tuple[float, Picture]]:
    count, given, due = 0, 0, from_s
    while video.grab():
        told = _told(video)
        time_s = told if told > 0.0 or count == 0 else count / fps
        count += 1
        if time_s < due - 0.5 / fps:
            continue
        done, picture = video.retrieve()
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


def bounded() -> None:
    """Bound what this process may use, where the system can."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def in_time() -> None:
    """Begin to count anew for the next frame, where the system can; the decoder itself cannot be asked to stop."""
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_PROF, LONGEST_S)


def answer(asked: dict[str, Any], out: BinaryIO) -> None:
    """Write what is asked for: ``what`` is "shape", "frame" or "frames", of ``clip``, called ``name``."""
    clip, name = Path(asked["clip"]), asked["name"]
    try:
        if asked["what"] == "shape":
            _tell(out, Answer.SHAPE, asdict(shape_of(clip, name)))
        elif asked["what"] == "frame":
            _show(out, *frame_at(clip, asked["at_s"], name))
        else:
            for time_s, picture in frames(clip, asked["rate_hz"], asked["from_s"], name):
                _show(out, time_s, picture)
    except BadInputError as error:
        _tell(out, Answer.ERROR, {"what": error.what, "where": error.where, "advice": error.advice})
    except (opencv().error, MemoryError):
        told = {"what": "its pictures cannot be decoded", "where": name, "advice": "convert the clip, or cut it"}
        _tell(out, Answer.ERROR, told)
    out.write(HEAD.pack(Answer.END, 0.0, 0, 0, 0))


def _tell(out: BinaryIO, kind: Answer, words: dict[str, Any]) -> None:
    text = json.dumps(words).encode()
    out.write(HEAD.pack(kind, 0.0, len(text), 0, 0) + text)


def _show(out: BinaryIO, time_s: float, picture: Picture) -> None:
    height, width = picture.shape[:2]
    out.write(HEAD.pack(Answer.FRAME, time_s, height, width, 1 if picture.ndim == 2 else picture.shape[2]))
    out.write(np.ascontiguousarray(picture).data)
    in_time()


if __name__ == "__main__":
    bounded()
    in_time()
    with contextlib.suppress(BrokenPipeError):
        answer(json.loads(sys.stdin.readline()), sys.stdout.buffer)
        sys.stdout.buffer.flush()
