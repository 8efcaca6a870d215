"""Frames into a movie by FFmpeg, where it is installed, or into a sequence of pictures."""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from matplotlib.image import imsave
from numpy.typing import NDArray

from wringout.advice import Way
from wringout.errors import StoreError

FFMPEG = "ffmpeg"
Picture = NDArray[np.uint8]
Tick = Callable[[int], None]
"""Told after each frame how many are done."""


@dataclass(frozen=True, slots=True)
class Reel:
    """Frames to be kept: width and height in pixels, frames a second, and the ground behind them in MP4 ("#rrggbb")."""

    width: int
    height: int
    fps: int
    ground: str


def ffmpeg() -> str | None:
    """Return the FFmpeg of this machine, None where there is none."""
    return shutil.which(FFMPEG)


def write_movies(program: str, frames: Iterator[Picture], reel: Reel, stem: Path, tick: Tick) -> tuple[Path, ...]:
    """Write ``stem.mp4`` (H.264, on the ground) and ``stem.webm`` (VP9, transparent), each whole or not at all.

    Frames are handed over one at a time, so that none is kept.

    Raises:
        StoreError: FFmpeg cannot write them; its own words are quoted.
    """
    made = tuple(stem.with_suffix(suffix) for suffix in (".mp4", ".webm"))
    with tempfile.TemporaryDirectory(prefix=".video.", dir=stem.parent) as folder:
        parts = [Path(folder) / path.name for path in made]
        with (Path(folder) / "said.txt").open("w+b") as said:
            process = subprocess.Popen(command(program, reel, parts), stdin=subprocess.PIPE, stderr=said)  # noqa: S603
            try:
                _hand_over(process, frames, tick)
            finally:
                code = process.wait()
            said.seek(0)
            words = said.read(20_000).decode("utf-8", "replace").strip().splitlines()
        if code or not all(one.is_file() for one in parts):
            told = words[-1][:300] if words else f"it ended with {code}"
            raise StoreError(f"FFmpeg could not write the film ({told})", advice=Way.PICTURES)
        for one, path in zip(parts, made, strict=True):
            one.replace(path)
    return made


def _hand_over(process: subprocess.Popen[bytes], frames: Iterator[Picture], tick: Tick) -> None:
    """Give every frame to FFmpeg; where it stopped reading, its exit code says why."""
    if process.stdin is None:
        raise ValueError("the process takes nothing in")
    try:
        for done, frame in enumerate(frames, 1):
            process.stdin.write(np.ascontiguousarray(frame).data)
            tick(done)
    except BrokenPipeError:
        pass
    except BaseException:
        process.kill()
        raise
    finally:
        with contextlib.suppress(BrokenPipeError):
            process.stdin.close()


def command(program: str, reel: Reel, made: list[Path]) -> list[str]:
    """Return the command that takes raw frames in and writes the MP4 and the WebM."""
    size = f"{reel.width}x{reel.height}"
    ground = f"color=c=0x{reel.ground.removeprefix('#')}:s={size}:r={reel.fps}"
    chain = f"[0:v]split[a][b];{ground}[g];[g][a]overlay=shortest=1,format=yuv420p[m]"
    taking = [program, "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", "rgba", "-s", size, "-r", str(reel.fps)]
    taking += ["-i", "pipe:0", "-filter_complex", chain]
    mp4 = ["-map", "[m]", "-c:v", "libx264", "-preset", "veryfast", "-crf", "18", "-movflags", "+faststart"]
    webm = ["-map", "[b]", "-c:v", "libvpx-vp9", "-pix_fmt", "yuva420p", "-b:v", "0", "-crf", "28"]
    webm += ["-deadline", "realtime", "-cpu-used", "8", "-row-mt", "1"]
    return [*taking, *mp4, str(made[0]), *webm, str(made[1])]


def write_pictures(frames: Iterator[Picture], folder: Path, tick: Tick) -> int:
    """Write each frame as ``00001.png`` and so on into a folder, in place of what an earlier film left there."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("[0-9]*.png"):
        old.unlink()
    count = 0
    for count, frame in enumerate(frames, 1):
        imsave(folder / f"{count:05d}.png", frame, pil_kwargs={"compress_level": 1})
        tick(count)
    return count
