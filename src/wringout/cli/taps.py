"""The commands ``taps``: the page that catches marks and speeds in the cockpit, and what it handed over."""

from __future__ import annotations

from pathlib import Path

import click

from wringout.cli import page
from wringout.cli.figures import counted
from wringout.cli.files import read_whole
from wringout.cli.options import Wanted, shared
from wringout.errors import BadInputError

FLIGHT = click.option("--flight", default="unplanned", show_default=True, help="Short name of the flight.")


@click.group("taps")
def taps_command() -> None:
    """Catch marks and speeds in the cockpit, on a phone in the hands of the second person on board.

    \b
    Examples:
      wringout taps page taps.html --flight flight-one
      wringout taps take-in flight-one-3f2a.taps
      wringout taps close flight-one
    """


@taps_command.command("page")
@click.argument("file", type=click.Path(path_type=Path))
@FLIGHT
@click.option("--folder", "as_folder", is_flag=True, help="Write a folder that any host can serve over HTTPS.")
@shared()
def page_command(wanted: Wanted, file: Path, flight: str, as_folder: bool) -> None:
    """Write the page of taps as one HTML file that needs nothing else, or as a folder to be served.

    With a test plan of that flight the page shows its points. It keeps every tap on the phone before it says so, and
    hands its log over as a file.

    \b
    Example:
      wringout taps page taps.html --flight flight-one
    """
    from wringout.services.flights.capture import capture_card, folder_files, single_file

    with wanted.open(create=False) as store:
        card = capture_card(store, wanted.study, flight)
    files = {file / name: data for name, data in folder_files(card).items()} if as_folder else {}
    files = files or {file: single_file(card).encode()}
    _write(files)
    if wanted.as_json:
        page.document("taps page", wanted.study, {"files": [str(name) for name in files], "card": card})
        return
    shown = counted(len(card["points"]), "point")
    page.say(f"The page of taps for '{flight}' stands in {file}, with {shown} of the flight on it.")
    page.say("It is for the second person on board; whoever flies does not touch it.")


def _write(files: dict[Path, bytes]) -> None:
    for name, data in files.items():
        try:
            name.parent.mkdir(parents=True, exist_ok=True)
            name.write_bytes(data)
        except OSError as error:
            raise BadInputError(
                f"the file cannot be written ({error.strerror or error})", str(name), "choose another place"
            ) from None


@taps_command.command("take-in")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@shared()
def take_in_command(wanted: Wanted, files: tuple[Path, ...]) -> None:
    """Take in logs that the page handed over; the same log twice, or a longer one later, counts each tap once.

    \b
    Example:
      wringout taps take-in flight-one-3f2a.taps
    """
    from wringout.services.flights.capture import LONGEST_LOG_BYTES, Handed, take_log

    handed: list[Handed] = []
    with wanted.open(create=False) as store:
        for file in files:
            handed += take_log(store, wanted.study, read_whole(file, LONGEST_LOG_BYTES), file.name)
    if wanted.as_json:
        rows = [{"flight": one.flight, "device": one.device, "new": one.new, "have": one.have} for one in handed]
        page.document("taps take-in", wanted.study, {"handed_over": rows})
        return
    for one in handed:
        known = "" if one.new else "; all were here already"
        page.say(f"{one.new:,} new events of device {one.device} in flight '{one.flight}'{known}.")
    for flight in dict.fromkeys(one.flight for one in handed):
        page.say(wanted.next_step(f"wringout taps close {flight}"))


@taps_command.command("list")
@shared()
def list_command(wanted: Wanted) -> None:
    """List the flights that have taps.

    \b
    Example:
      wringout taps list
    """
    from wringout.services.flights.capture import tap_flights

    with wanted.open(create=False) as store:
        found = tap_flights(store, wanted.study)
    if wanted.as_json:
        page.document(
            "taps list", wanted.study, {"flights": [{"flight": f.flight, "taps": dict(f.taps)} for f in found]}
        )
        return
    if not found:
        page.say("No taps have come in yet.", "", wanted.next_step("wringout taps page taps.html"))
        return
    rows = [(one.flight, device, f"{count:,}") for one in found for device, count in one.taps.items()]
    page.table(("flight", "device", ">events"), rows)


@taps_command.command("close")
@click.argument("flight")
@shared()
def close_command(wanted: Wanted, flight: str) -> None:
    """Make one recording of a flight's taps, from all devices, brought to one clock.

    \b
    Example:
      wringout taps close flight-one
    """
    from wringout.services.flights.capture import close_flight

    with wanted.open(create=False) as store:
        arrival = close_flight(store, wanted.study, flight)
    found = arrival.recording
    if wanted.as_json:
        body = {"recording": arrival.item.name, "sha256": arrival.item.recording.sha256, "rows": len(found or ())}
        page.document("taps close", wanted.study, body)
        return
    page.say(f"'{arrival.item.name}' is kept: {len(found or ())} taps that stand.")
    for notice in found.notices if found else ():
        page.say(f"  {notice.severity}: {notice.sentence}")
    page.say(wanted.next_step(f"wringout run add {arrival.item.name} --method METHOD"))
