"""Commands about clips of instruments: ``instrument frame``, ``instrument read``."""

from __future__ import annotations

from pathlib import Path

import click

from wringout.cli import page
from wringout.cli.options import Wanted, shared
from wringout.errors import BadInputError


@click.group("instrument")
def instrument_command() -> None:
    """Read a round dial or a digital read-out from a video clip."""


@instrument_command.command("frame")
@shared(study=False, database=False)
@click.argument("clip", type=click.Path(path_type=Path))
@click.option("--at", "at_s", type=float, default=0.0, show_default=True, help="Time of the frame, in seconds.")
@click.option("--out", type=click.Path(path_type=Path), help="The picture. Default: the clip's name with .png.")
def frame_command(wanted: Wanted, clip: Path, at_s: float, out: Path | None) -> None:
    """Write one frame of CLIP as a picture, to mark the instrument on.

    \b
    Example:
      wringout instrument frame panel.mp4 --at 2
    """
    from wringout.services.flights.instruments import write_frame

    target = out or clip.with_suffix(".png")
    width, height = write_frame(clip, at_s, target)
    if wanted.as_json:
        page.document("frame", None, {"picture": str(target), "width_px": width, "height_px": height})
        return
    page.say(f"{target}: {width} by {height} pixels, counted from the left and from the top.")


@instrument_command.command("read")
@shared()
@click.argument("clip", type=click.Path(path_type=Path))
@click.option("--dial", "marks", type=click.Path(path_type=Path), required=True, help="The marks (TOML).")
@click.option("--out", type=click.Path(path_type=Path), help="Write the table here.")
@click.option("--take-in", "take_in", is_flag=True, help="Keep clip and table in the study.")
@click.option("--rate", "rate_hz", type=float, default=10.0, show_default=True, help="Readings a second.")
@click.option("--confidence", "least", type=float, default=0.5, show_default=True, help="Blank below this (0 to 1).")
@click.option("--marked-at", "frame_s", type=float, default=0.0, show_default=True, help="Time of the marked frame, s.")
def read_command(
    wanted: Wanted,
    clip: Path,
    marks: Path,
    out: Path | None,
    take_in: bool,
    rate_hz: float,
    least: float,
    frame_s: float,
) -> None:
    """Read speed against time from CLIP; what is not sure is left blank.

    \b
    Examples:
      wringout instrument read panel.mp4 --dial dial.toml --out speeds.csv
      wringout instrument read panel.mp4 --dial dial.toml --take-in
    """
    from wringout.services.flights.instruments import read_clip, take_in_clip
    from wringout.services.study.studies import summary

    if out is None and not take_in:
        raise click.UsageError("Give --out for a file, or --take-in for the study.")
    read = read_clip(clip, marks, rate_hz, least, frame_s)
    name = out.name if out else f"{clip.stem}-speeds.csv"
    if out is not None:
        try:
            out.write_text(read.table, encoding="utf-8")
        except OSError as error:
            raise BadInputError(
                f"the table cannot be written ({error.strerror})", str(out), "name another place"
            ) from None
    study = None
    if take_in:
        with wanted.open(create=False) as store:
            study = summary(store, wanted.study).study.slug
            take_in_clip(store, study, clip, read, name)
    sure = int(read.readings.confident(least).sum())
    count = len(read.readings.times_s)
    if wanted.as_json:
        body = {"table": name, "clip_sha256": read.sha256, "frames": count, "confident": sure}
        page.document("instrument", study, body)
        return
    page.say(f"{name}: {count} frames read, {sure} of them sure, the others left blank.")
