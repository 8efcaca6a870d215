"""The command ``video``: figures, an animated strip chart and captions for a video about the study."""

from __future__ import annotations

from pathlib import Path

import click

from wringout.cli import page
from wringout.cli.options import Wanted, now, shared
from wringout.errors import BadInputError
from wringout.recordings.clocks import read_time


@click.command("video")
@shared(units=True)
@click.argument("recording", default="")
@click.option(
    "--folder",
    type=click.Path(path_type=Path),
    default=Path("video"),
    show_default=True,
    help="Where it is written; made if it is not there, files of the same name are replaced.",
)
@click.option(
    "--begins",
    metavar="TIME",
    default="0",
    show_default=True,
    help="What the recording's clock shows when the footage begins: seconds since its first row, m:ss, or with a minus "
    "where the footage begins before it.",
)
@click.option("--seconds", type=float, default=None, help="Length of the footage. Default: to the recording's end.")
@click.option("--fps", type=int, default=25, show_default=True, help="Frames a second, as the footage has.")
@click.option(
    "--height",
    type=click.Choice(["720", "1080", "2160"]),
    default="1080",
    show_default=True,
    help="Height of the film in pixels; it is 16 by 9.",
)
@click.option("--dark", is_flag=True, help="Light letters, for dark footage.")
@click.option("--frames", is_flag=True, help="Write a sequence of PNG pictures even where FFmpeg is installed.")
@click.option("--no-figures", is_flag=True, help="Leave the figures out, and so what computing them takes.")
def video_command(
    wanted: Wanted,
    recording: str,
    folder: Path,
    begins: str,
    seconds: float | None,
    fps: int,
    height: str,
    dark: bool,
    frames: bool,
    no_figures: bool,
) -> None:
    """Write what a video about the study needs.

    Figures of the findings at 16 by 9 with a transparent ground, as SVG and PNG. With the name of a RECORDING also its
    strip chart, running with the footage, and its marks as captions (WebVTT). The film is MP4 and transparent WebM
    where FFmpeg is installed, a sequence of transparent PNG pictures otherwise.

    \b
    Examples:
      wringout video
      wringout video F1-full-flaps.csv --begins 0:05 --seconds 90 --fps 30
      wringout video F1-full-flaps.csv --no-figures --dark
    """
    from wringout.services.publishing.video import VideoWish, write_video

    wish = VideoWish(recording, _seconds(begins), seconds, fps, int(height), dark, frames, not no_figures)
    with wanted.open(create=False) as store, page.progress("Making the video") as report:
        done = write_video(store, wanted.study, folder, wish, now(), "metric" if wanted.metric else "aviation", report)
    if wanted.as_json:
        page.document(
            "video",
            done.study,
            {
                "folder": str(done.folder),
                "figures": [str(path) for path in done.figures],
                "movies": [str(path) for path in done.movies],
                "captions": [str(path) for path in done.captions],
                "pictures": "" if done.pictures is None else str(done.pictures),
                "frames": done.frames,
                "remarks": list(done.remarks),
            },
        )
        return
    page.say(f"What the video needs lies in {done.folder}.")
    page.items([str(path) for path in (*done.figures, *done.movies, *done.captions)])
    if done.pictures is not None:
        page.say(f"{done.frames:,} pictures in {done.pictures}.")
    for remark in done.remarks:
        page.say(remark)


def _seconds(text: str) -> float:
    """Return a time typed as seconds or m:ss, with or without a minus."""
    bare = text.strip()
    minus = bare.startswith(("-", "\N{MINUS SIGN}"))
    read = read_time(bare[1:] if minus else bare)
    if read is None:
        raise BadInputError(f"'{text[:40]}' is no time", "--begins", "write seconds or m:ss, such as 0:05")
    return -read.seconds if minus else read.seconds
