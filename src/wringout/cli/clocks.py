"""Commands about the clocks of recordings: ``clocks compare``, ``clocks align``, ``clocks join``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wringout.cli import page
from wringout.cli.options import Wanted, shared

if TYPE_CHECKING:
    from wringout.services.flights.recordings import Arrival


@click.group("clocks")
def clocks_command() -> None:
    """Bring several recordings of one flight onto one clock."""


@clocks_command.command("compare")
@shared()
@click.argument("first")
@click.argument("other")
def compare_command(wanted: Wanted, first: str, other: str) -> None:
    """Say how the clock of the recording OTHER runs against that of FIRST, with its uncertainty.

    \b
    Example:
      wringout clocks compare logger.csv track.gpx
    """
    from wringout.services.flights.clocks import alignment_document, compare_clocks
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        found = compare_clocks(store, study, first, other)
    if wanted.as_json:
        page.document("clocks", study, dict(alignment_document(found)))
        return
    page.say(found.sentence(), wanted.next_step(f'wringout clocks align "{found.first}" "{found.other}"'))


@clocks_command.command("align")
@shared()
@click.argument("first")
@click.argument("other")
@click.option("--name", default="", help="Name of the new recording. Default: made of both names.")
def align_command(wanted: Wanted, first: str, other: str, name: str) -> None:
    """Take in two recordings of one flight as one, on the clock of FIRST; both stay as they are.

    \b
    Example:
      wringout clocks align logger.csv flight.taps
    """
    from wringout.services.flights.clocks import align_recordings
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        _tell(wanted, study, align_recordings(store, study, first, other, name))


@clocks_command.command("join")
@shared()
@click.argument("parts", nargs=-1, required=True)
@click.option("--name", default="", help="Name of the new recording. Default: the first one's with -joined.")
def join_command(wanted: Wanted, parts: tuple[str, ...], name: str) -> None:
    """Take in PARTS of one flight that a logger split as one recording; the parts stay as they are.

    \b
    Example:
      wringout clocks join log-1.csv log-2.csv
    """
    from wringout.services.flights.clocks import join_recordings
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        _tell(wanted, study, join_recordings(store, study, parts, name))


def _tell(wanted: Wanted, study: str, arrival: Arrival) -> None:
    from wringout.services.flights.documents import arrival_document

    if wanted.as_json:
        page.document("take-in", study, {"files": [{"file": arrival.item.name, "taken": arrival_document(arrival)}]})
        return
    rows = len(arrival.recording) if arrival.recording is not None else 0
    words = "" if arrival.recording is None else arrival.recording.header.get("clock uncertainty", "")
    sure = f", clocks together within {words} (68 % confidence)" if words else ""
    made = f"Run {arrival.run.stored.key}: {arrival.run.title}." if arrival.run else arrival.no_run
    page.say(f"{arrival.item.name}: {rows} rows{sure}. {made}")
