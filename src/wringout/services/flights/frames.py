"""Frames of a clip, one after another or the one at a moment, from the process that decodes them.

Decoding is FFmpeg's work inside OpenCV. Where a clip breaks it, that process ends and here a sentence is said.
"""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import numpy as np

from wringout.errors import BadInputError
from wringout.instruments.opencv import opencv
from wringout.services.flights.decoder import HEAD, Answer, Picture, Shape

__all__ = ["Picture", "Shape", "frame_at", "frames", "grey_of", "shape_of"]

COMMAND = (sys.executable, "-P", "-m", "wringout.services.flights.decoder")


def shape_of(clip: Path, name: str = "") -> Shape:
    """Return how large and how long a clip is.

    Raises:
        BadInputError: there is no such clip, it is none, it breaks the decoder, or OpenCV is missing.
    """
    for found in _answers({"what": "shape", "clip": str(clip), "name": name or clip.name}):
        if isinstance(found, Shape):
            return found
    raise _broke(name or clip.name)


def frame_at(clip: Path, at_s: float, name: str = "") -> tuple[float, Picture]:
    """Return the frame shown at a moment, with its own time [s]: the first that begins then or later.

    Raises:
        BadInputError: there is no such clip or frame, it breaks the decoder, or OpenCV is missing.
    """
    for found in _answers({"what": "frame", "clip": str(clip), "name": name or clip.name, "at_s": at_s}):
        if not isinstance(found, Shape):
            return found
    raise _broke(name or clip.name)


def grey_of(picture: Picture) -> Picture:
    """Return a picture in shades of grey."""
    cv2 = opencv()
    grey: Picture = picture if picture.ndim == 2 else cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    return grey


def frames(clip: Path, rate_hz: float, from_s: float = 0.0, name: str = "") -> Iterator[tuple[float, Picture]]:
    """Yield time [s] and picture of the frames of a clip from a time on, at most so many a second.

    Raises:
        BadInputError: there is no such clip, it is none or too long, it breaks the decoder, or OpenCV is missing.
    """
    asked = {"what": "frames", "clip": str(clip), "name": name or clip.name, "rate_hz": rate_hz, "from_s": from_s}
    for found in _answers(asked):
        if not isinstance(found, Shape):
            yield found


def _answers(asked: dict[str, Any]) -> Iterator[Shape | tuple[float, Picture]]:
    """Ask a process of its own and yield what it answers; it ends when nobody wants more."""
    opencv()
    with _begun(asked["name"]) as decoding:
        try:
            if decoding.stdin is None or decoding.stdout is None:
                raise RuntimeError("the decoder was begun without pipes")
            with contextlib.suppress(BrokenPipeError):
                decoding.stdin.write(json.dumps(asked).encode() + b"\n")
                decoding.stdin.close()
            yield from _read(decoding.stdout, asked["name"])
        finally:
            decoding.kill()


def _begun(name: str) -> subprocess.Popen[bytes]:
    pipe = subprocess.PIPE
    try:
        return subprocess.Popen(COMMAND, stdin=pipe, stdout=pipe, stderr=subprocess.DEVNULL)  # noqa: S603  our own
    except OSError as error:
        what = f"there is no room for the process that decodes it ({error.strerror or error})"
        raise BadInputError(what, name, "end other programs, then try again") from error


def _read(stream: IO[bytes], name: str) -> Iterator[Shape | tuple[float, Picture]]:
    while True:
        kind, time_s, *size = HEAD.unpack(_exactly(stream, HEAD.size, name))
        if kind == Answer.END:
            return
        if kind == Answer.FRAME:
            height, width, depth = size
            flat = np.frombuffer(_exactly(stream, height * width * depth, name), np.uint8)
            yield time_s, flat.reshape((height, width) if depth == 1 else (height, width, depth))
            continue
        words = json.loads(_exactly(stream, size[0], name))
        if kind == Answer.ERROR:
            raise BadInputError(words["what"], words["where"], words["advice"])
        yield Shape(**words)


def _exactly(stream: IO[bytes], count: int, name: str) -> bytes:
    found = stream.read(count)
    if len(found) < count:
        raise _broke(name)
    return found


def _broke(name: str) -> BadInputError:
    return BadInputError(
        "the decoder broke off over this clip", name, "convert it with another program, such as to an .mp4, or cut it"
    )
