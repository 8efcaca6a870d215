"""For a video: the study's figures at 16 by 9, and a recording as a strip chart that runs with the footage."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

import numpy as np

from wringout.briefs.content import Units
from wringout.briefs.film.captions import webvtt
from wringout.briefs.film.content import Film, FilmMark, FilmStrip
from wringout.briefs.film.frames import frames
from wringout.briefs.film.palette import palette
from wringout.briefs.film.stills import png_of, stills
from wringout.errors import BadInputError, StoreError
from wringout.recordings.changes import marks_from_channels
from wringout.recordings.types import Mark
from wringout.services.findings.reduce import Progress, no_progress
from wringout.services.flights.strips import Strip, StripChannel, strip
from wringout.services.opening import the_study
from wringout.services.publishing.again import computed_again, part
from wringout.services.publishing.movies import Reel, ffmpeg, write_movies, write_pictures
from wringout.services.publishing.publish import brief_content
from wringout.store import Store

MOST_STRIPS, MOST_FRAMES = 5, 100_000
HEIGHTS = (720, 1080, 2160)
_DEVICES = {"gear": "gear", "flap": "flaps", "flap_fraction": "flaps", "power": "power"}
_PLACES = {"inHg": 1, "gal/h": 1, "L/h": 1, "": 2}
FOLDER = "video"


@dataclass(frozen=True, slots=True)
class VideoWish:
    """What is wanted for a video.

    Attributes:
        recording: its name in the study, "" for figures alone.
        begins_s: what the recording's clock shows when the footage begins, s; may lie before the first row.
        seconds: length of the footage, s; None to the end of the recording.
        fps: frames a second. height: of a frame in pixels, one of ``HEIGHTS``.
        dark: for dark footage. pictures: a sequence of pictures even where FFmpeg is there.
        figures: whether the figures are written.
    """

    recording: str = ""
    begins_s: float = 0.0
    seconds: float | None = None
    fps: int = 25
    height: int = 1080
    dark: bool = False
    pictures: bool = False
    figures: bool = True


@dataclass(frozen=True, slots=True)
class VideoFiles:
    """What was written of a study (its short name): figures, movies, captions, the folder of pictures, all frames."""

    study: str
    folder: Path
    figures: tuple[Path, ...] = ()
    movies: tuple[Path, ...] = ()
    captions: tuple[Path, ...] = ()
    pictures: Path | None = None
    frames: int = 0
    remarks: tuple[str, ...] = field(default=())


def write_video(
    store: Store,
    slug: str | None,
    folder: Path,
    wish: VideoWish,
    now: datetime,
    units: Units = "aviation",
    progress: Progress = no_progress,
) -> VideoFiles:
    """Write what a video needs into a folder (made if it is not there; files of an earlier one are replaced).

    Raises:
        BadInputError: the recording is a list without times, or a number is out of range.
        NotFoundError: there is no such study or recording, or no reduction to take figures from.
        StoreError: a file cannot be written.
    """
    check(wish)
    with store.reading() as view:
        study = the_study(view, slug).slug
    film = film_of(strip(store, slug, wish.recording, units == "metric"), wish) if wish.recording else None
    try:
        folder.mkdir(parents=True, exist_ok=True)
        figures: tuple[Path, ...] = ()
        if wish.figures:
            figures = _figures(store, study, folder, wish, now, units, part(progress, 0.0, 0.5))
        if film is None:
            return VideoFiles(study, folder, figures)
        done = _film(folder, film, wish, part(progress, 0.5 if wish.figures else 0.0, 1.0))
        return replace(done, study=study, figures=figures)
    except OSError as error:
        raise StoreError(
            f"the video could not be written to '{folder}' ({error.strerror or error})", advice="choose another folder"
        ) from error


def check(wish: VideoWish) -> None:
    """Refuse numbers that make no film.

    Raises:
        BadInputError: one is out of range.
    """
    if not wish.recording and not wish.figures:
        raise BadInputError("nothing is wanted", "video", "name a recording, or leave the figures on")
    if not 1 <= wish.fps <= 120:
        raise BadInputError(f"{wish.fps} frames a second", "fps", "1 to 120, as the footage has")
    if wish.height not in HEIGHTS:
        raise BadInputError(f"a height of {wish.height} pixels", "height", ", ".join(map(str, HEIGHTS)))
    if not math.isfinite(wish.begins_s) or abs(wish.begins_s) > 1e6:
        raise BadInputError("the beginning of the footage is no time on a recording", "begins", "seconds, or m:ss")
    if wish.seconds is not None and not 0.0 < wish.seconds * wish.fps <= MOST_FRAMES:
        most = MOST_FRAMES // wish.fps
        raise BadInputError(f"{wish.seconds:g} s of film", "seconds", f"more than 0 and at most {most:,}")


def film_of(shown: Strip, wish: VideoWish) -> Film:
    """Return a recording's strips as a film.

    Raises:
        BadInputError: the footage begins after the recording ends, or would be too long.
    """
    end = float(shown.time_s[-1])
    seconds = wish.seconds if wish.seconds is not None else end - wish.begins_s
    if not 0.0 < seconds * wish.fps <= MOST_FRAMES:
        raise BadInputError(
            f"from {wish.begins_s:g} s to the end of the recording at {end:g} s there are {seconds:g} s of film",
            shown.item.name,
            f"begin earlier, or name its length, at most {MOST_FRAMES // wish.fps:,} s",
        )
    told = [c for c in shown.channels if np.isfinite(c.values).any()][:MOST_STRIPS]
    strips = tuple(_film_strip(shown, channel) for channel in told)
    marks = _distinct((*shown.marks, *marks_from_channels(shown.recording)))
    title = re.sub(r"\.[A-Za-z0-9]{1,5}$", "", shown.item.name)
    return Film(title, strips, marks, wish.begins_s, seconds, wish.fps, wish.height, wish.dark)


def _film_strip(shown: Strip, channel: StripChannel) -> FilmStrip:
    device, places = _DEVICES.get(channel.quantity, ""), _PLACES.get(channel.unit, 0)
    return FilmStrip(channel.title, channel.unit, shown.time_s, channel.values, device, places)


def _distinct(marks: tuple[Mark, ...]) -> tuple[FilmMark, ...]:
    """Return marks in order of time; one seen in a channel is left out where the same was marked within 3 s."""
    kept: list[Mark] = []
    for mark in marks:
        if not any(abs(mark.time_s - one.time_s) < 3.0 and mark.event == one.event for one in kept):
            kept.append(mark)
    return tuple(FilmMark(one.time_s, one.label) for one in sorted(kept, key=lambda one: one.time_s))


def _figures(
    store: Store, slug: str, folder: Path, wish: VideoWish, now: datetime, units: Units, progress: Progress
) -> tuple[Path, ...]:
    again = computed_again(store, slug, part(progress, 0.0, 0.8))
    progress(0.8, "drawing the figures")
    with store.reading() as view:
        content = brief_content(view, again.study, again.reduced, again.compared, "", "", now, units)
    made: list[Path] = []
    for still in stills(content, wish.dark):
        for suffix, data in ((".svg", still.svg.encode("utf-8")), (".png", png_of(still))):
            path = folder / f"{still.name}{suffix}"
            path.write_bytes(data)
            made.append(path)
    return tuple(made)


def _film(folder: Path, film: Film, wish: VideoWish, progress: Progress) -> VideoFiles:
    stem = re.sub(r"[^A-Za-z0-9-]+", "-", film.title).strip("-").lower() or "recording"
    captions = folder / f"{stem}.vtt"
    captions.write_text(webvtt(film.marks, film.begins_s, film.seconds), encoding="utf-8")

    def tick(done: int) -> None:
        if done % film.fps == 0 or done == film.frames:
            progress(done / film.frames, f"frame {done:,} of {film.frames:,}")

    program = None if wish.pictures else ffmpeg()
    if program is None:
        pictures = folder / f"{stem}-frames"
        count = write_pictures(frames(film), pictures, tick)
        said = "" if wish.pictures else "FFmpeg is not installed, so the film is a sequence of pictures. "
        how = f"{said}Set it to {film.fps} pictures a second in the program that cuts the video."
        return VideoFiles("", folder, (), (), (captions,), pictures, count, (how,))
    width, height = film.size
    reel = Reel(width, height, film.fps, palette(film.dark)["paper"])
    movies = write_movies(program, frames(film), reel, folder / stem, tick)
    said = "The WebM is transparent, the MP4 lies on paper; both begin with the footage."
    return VideoFiles("", folder, (), movies, (captions,), None, film.frames, (said,))
