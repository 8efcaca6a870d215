"""Frames of a clip, decoded one after another by OpenCV, or the one at a moment."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wringout.errors import BadInputError
from wringout.instruments.opencv import opencv

Picture = NDArray[np.uint8]
MOST_READINGS = 20_000
SEEK_FROM_S, SEEK_BEFORE_S = 5.0, 1.0
"""Later frames are gone to at once, this much before them; earlier ones are read up to from the beginning [s]."""
USUAL_FPS = 30.0


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


def grey_of(picture: Picture) -> Picture:
    """Return a picture in shades of grey."""
    cv2 = opencv()
    grey: Picture = picture if picture.ndim == 2 else cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    return grey


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
