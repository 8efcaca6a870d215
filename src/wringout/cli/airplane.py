"""Commands about airplanes: ``airplane from-handbook``, ``airplane put``, ``airplane show``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wringout.cli import page
from wringout.cli.figures import in_units, interval, unit_name
from wringout.cli.files import read_whole
from wringout.cli.options import Wanted, shared

if TYPE_CHECKING:
    from wringout.services.airplane.airplanes import StudyAirplane


@click.group("airplane")
def airplane_command() -> None:
    """Make an airplane file from a handbook, put one into a study, or show what is believed of the airplane."""


@airplane_command.command("from-handbook")
@shared(study=False, database=False)
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), help="The airplane file to write. Default: standard output."
)
def from_handbook(wanted: Wanted, file: Path, output: Path | None) -> None:
    """Make an airplane file from the figures a flight manual prints, and say which of them contradict each other.

    FILE is TOML as docs/handbook.md describes. Every belief gets an honest width; what contradicts is said with its
    size in sigma, the doubts of both figures taken together. Without -o the airplane file goes to the standard output
    and what contradicts to the error stream.

    \b
    Examples:
      wringout airplane from-handbook handbook.toml -o my-airplane.toml
      wringout airplane from-handbook handbook.toml > my-airplane.toml
    """
    from wringout.services.airplane.airplanes import LONGEST_AIRPLANE_BYTES
    from wringout.services.airplane.handbook_start import handbook_document, handbook_reading, write_airplane_file

    reading = handbook_reading(read_whole(file, LONGEST_AIRPLANE_BYTES), file.name)
    if output is not None:
        write_airplane_file(reading, output)
    document = handbook_document(reading)
    if wanted.as_json:
        page.document("handbook", None, {**document, "file": None if output is None else str(output)})
        return
    said = _contradiction_lines(document)
    if output is None:
        page.raw(document["toml"])
        for sentence in said:
            page.complain(sentence)
        return
    page.say(*said)
    page.heading("Where the beliefs come from")
    page.items(document["notes"])
    page.say("", f"The airplane file is {output}. Next: wringout airplane put {output}")


def _contradiction_lines(document: dict[str, Any]) -> list[str]:
    found, checks = document["contradictions"], len(document["checks"])
    if not found:
        return [f"{document['name']}: no two of the printed figures contradict each other ({checks} were compared)."]
    many = "contradict each other in one place" if len(found) == 1 else f"contradict each other in {len(found)} places"
    return [f"{document['name']}: the printed figures {many} of {checks}.", *(check["sentence"] for check in found)]


@airplane_command.command("put")
@shared()
@click.argument("file", type=click.Path(path_type=Path))
def put(wanted: Wanted, file: Path) -> None:
    """Check an airplane file and keep it; every version stays.

    The file is TOML, every number with its unit, beliefs as "value ± spread unit". A mistake is named with its field,
    and nothing is kept then.

    \b
    Example:
      wringout airplane put my-airplane.toml
    """
    from wringout.services.airplane.airplanes import LONGEST_AIRPLANE_BYTES, put_airplane_file
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        found = put_airplane_file(store, wanted.study, read_whole(file, LONGEST_AIRPLANE_BYTES), file.name)
        study = summary(store, wanted.study).study.slug
    if wanted.as_json:
        _as_json(study, found)
        return
    kept = f"kept as version {found.version.version}" if found.is_new else "as it was: no new version"
    invented = ", invented" if found.beliefs.invented else ""
    page.say(f"{found.beliefs.name}{invented}: {kept}; {len(found.beliefs.parameters)} beliefs to be tested by runs.")
    page.say(wanted.next_step("wringout take-in my-run.csv"))


@airplane_command.command("show")
@shared(units=True)
@click.option("--version", "number", type=click.IntRange(min=1), help="An older version. Default: the newest.")
@click.option("--toml", "as_toml", is_flag=True, help="Print the file as it was put in.")
def show(wanted: Wanted, number: int | None, as_toml: bool) -> None:
    """Show what is believed of the airplane before its runs, and its limits.

    \b
    Examples:
      wringout airplane show
      wringout airplane show --version 1 --toml > airplane-1.toml
    """
    from wringout.services.airplane.airplanes import show_airplane
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        found = show_airplane(store, wanted.study, number)
        study = summary(store, wanted.study).study.slug
    if as_toml and not wanted.as_json:
        page.raw(found.version.toml)
    elif wanted.as_json:
        _as_json(study, found)
    else:
        _show(found, wanted.metric)


def _as_json(study: str, found: StudyAirplane) -> None:
    from wringout.services.airplane.documents import airplane_document

    page.document("airplane", study, airplane_document(found))


def _show(found: StudyAirplane, metric: bool) -> None:
    from wringout.services.airplane.documents import airplane_document

    document = airplane_document(found)
    invented = " It is invented." if found.beliefs.invented else ""
    page.say(f"{found.beliefs.name}, version {found.version.version} of {found.versions}.{invented}")
    page.heading("Believed before any run")
    rows = []
    for item in document["parameters"]:
        shown = interval(item["value"], item["interval_95"], item["unit"], metric)
        rows.append((item["label"], shown.value, shown.most, shown.unit, item["source"]))
    page.table(("belief", ">value", ">95 % interval", "unit", "from"), rows)
    page.heading("Limits of the approved manual (indicated)")
    page.table(("limit", ">value", "unit"), _limits(document["limits"], metric))


def _limits(limits: dict[str, Any], metric: bool) -> list[tuple[str, str, str]]:
    names = {
        "never_exceed": "VNE",
        "maneuvering": "VA",
        "gear_operate": "VLO, extending",
        "gear_retract": "VLO, retracting",
        "gear_extended": "VLE",
    }
    rows = [(label, limits[key]) for key, label in names.items() if limits[key] is not None]
    rows += [(f"VFE, flaps {name}", speed) for name, speed in limits["flaps_extended"].items()]
    rows.append(("maximum weight", limits["max_weight"]))
    return [
        (label, f"{in_units(q['value'], q['unit'], metric):,.0f}", unit_name(q["unit"], metric)) for label, q in rows
    ]
