"""The files of a video as they lie in their folder: listed, found by name; a sequence of pictures packed into one."""

from __future__ import annotations

import zipfile
from dataclasses import dataclass
from pathlib import Path

from wringout.errors import NotFoundError

KINDS = {
    ".mp4": "the strip chart on paper",
    ".webm": "the strip chart, transparent",
    ".zip": "the strip chart as transparent pictures",
    ".vtt": "the marks as captions",
    ".png": "a figure, 1920 by 1080, transparent",
    ".svg": "the same as SVG",
}


@dataclass(frozen=True, slots=True)
class VideoFile:
    """One file: its place, what it is, and its size."""

    path: Path
    what: str
    size_bytes: int

    @property
    def is_figure(self) -> bool:
        """Whether it is a figure and not a part of the film."""
        return self.path.suffix in {".png", ".svg"}


def video_files(folder: Path) -> tuple[VideoFile, ...]:
    """Return the files of a video, film first, each figure beside its other form; none where none were made."""
    kinds = list(KINDS)
    found = [path for path in folder.iterdir() if path.suffix in KINDS and path.is_file()] if folder.is_dir() else []
    found.sort(key=lambda path: (min(kinds.index(path.suffix), kinds.index(".png")), path.stem, path.suffix))
    return tuple(VideoFile(path, KINDS[path.suffix], path.stat().st_size) for path in found)


def video_file(folder: Path, name: str) -> VideoFile:
    """Return one file of a video.

    Raises:
        NotFoundError: there is no such file.
    """
    for one in video_files(folder):
        if one.path.name == name:
            return one
    raise NotFoundError(f"the video has no file '{name[:80]}'", advice="make it again")


def packed(pictures: Path) -> Path:
    """Pack a folder of pictures into one file beside it, which appears whole, and take the folder away."""
    target = pictures.with_suffix(".zip")
    part = target.with_suffix(".part")
    every = sorted(pictures.glob("*.png"))
    with zipfile.ZipFile(part, "w", zipfile.ZIP_STORED) as archive:
        for path in every:
            archive.write(path, path.name)
    part.replace(target)
    for path in every:
        path.unlink()
    pictures.rmdir()
    return target
