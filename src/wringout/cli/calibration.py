"""The command ``calibration``: the error of the airspeed system, found from legs and turns."""

from __future__ import annotations

from typing import Any

import click

from wringout.cli import page
from wringout.cli.figures import in_units, interval, unit_name
from wringout.cli.options import Wanted, shared


@click.command("calibration")
@shared(units=True)
@click.option("--toml", "as_toml", is_flag=True, help="Print only the blocks for the airplane file.")
def calibration_command(wanted: Wanted, as_toml: bool) -> None:
    """Show the error of the airspeed system, from the airspeed calibrations in use.

    It is printed as blocks for the airplane file too. Put them in place of those it has, then put the file in again:
    from then on every indicated airspeed of the study is read through them.

    \b
    Examples:
      wringout calibration
      wringout calibration --toml >> my-airplane.toml
    """
    from wringout.services.findings.calibrations import calibration_document, find_calibration

    with wanted.open(create=False) as store:
        found = find_calibration(store, wanted.study)
    body = calibration_document(found)
    if wanted.as_json:
        page.document("calibration", found.study.slug, body)
    elif as_toml:
        page.raw(found.toml)
    else:
        _tell(body, wanted.metric)


def _tell(body: dict[str, Any], metric: bool) -> None:
    page.say(_sentence(body["points"], metric))
    rows = []
    for point in body["points"]:
        shown = interval(point["correction"], point["interval_95"], "kt", metric)
        indicated = f"{in_units(point['indicated'], 'kt', metric):.0f}"
        runs = ", ".join(point["runs"])
        rows.append((point["configuration"], indicated, shown.value, shown.most, shown.unit, runs))
    page.table(("configuration", ">indicated", ">to be added", ">95 %", "unit", "runs"), rows)
    page.heading("For the airplane file")
    page.raw(body["toml"])
    page.say(
        "", "Put these blocks in place of those in the airplane file, then: wringout airplane put my-airplane.toml"
    )


def _sentence(points: list[dict[str, Any]], metric: bool) -> str:
    worst = max(points, key=lambda point: abs(point["correction"]))
    low, high = worst["interval_95"]
    unit = unit_name("kt", metric)
    at = f"{in_units(worst['indicated'], 'kt', metric):.0f} {unit} indicated, {worst['configuration']}"
    if low <= 0.0 <= high:
        return f"No error of the airspeed system stands out from its doubt; the largest found is at {at}."
    size = f"{in_units(abs(worst['correction']), 'kt', metric):.1f} {unit}"
    reads = "less" if worst["correction"] > 0.0 else "more"
    return f"The airspeed indicator shows up to {size} {reads} than the calibrated airspeed (at {at})."
