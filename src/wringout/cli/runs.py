"""Commands about runs: ``runs``, ``run add``, ``run show``, ``run aside``, ``run back``; proposals stand beside."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from wringout.advice import Way
from wringout.cli import page
from wringout.cli.figures import in_units, unit_name
from wringout.cli.options import Wanted, shared, words_of
from wringout.cli.proposals import accept_command, decline_command, propose_command
from wringout.cli.recordings import tell_exceedances
from wringout.errors import BadInputError

if TYPE_CHECKING:
    from wringout.services.flights.runs import BuiltRun


@click.command("runs")
@shared(units=True)
def runs_command(wanted: Wanted) -> None:
    """List the runs of a study: what was flown, weight, readings, limits exceeded.

    \b
    Examples:
      wringout runs
      wringout runs --json
    """
    from wringout.services.flights.documents import run_document
    from wringout.services.flights.runs import study_runs
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        found = study_runs(store, study)
    if wanted.as_json:
        page.document("runs", study, {"runs": [run_document(item) for item in found]})
        return
    used = sum(str(item.stored.state) == "in use" for item in found)
    if not found:
        page.say(f"There is no run yet. {wanted.next_step('wringout take-in my-run.csv')}")
        return
    page.say(f"{used} {'run' if used == 1 else 'runs'} in use, {len(found) - used} set aside.")
    columns = ("run", "flown", "method", ">weight", "", ">readings", "recording", "state")
    page.table(columns, [_row(item, wanted.metric) for item in found])
    for item in found:
        tell_exceedances(item.stored.key, [e.sentence() for e in item.exceedances])
        if item.weighing is not None:
            page.items([f"Run {item.stored.key}: {text}" for text in item.weighing.notices], "  !")


def _row(found: BuiltRun, metric: bool) -> tuple[str, ...]:
    from wringout.services.flights.documents import run_document

    document = run_document(found)
    weight, unit = _weight(document, metric)
    state = document["state"] if not document["reason"] else f"{document['state']}: {document['reason']}"
    if found.problem:
        state = f"cannot be built: {found.problem}"
    elif not found.is_fitted:
        state += "; checks techniques, not fitted"
    return (
        found.stored.key,
        document["title"] or "",
        found.stored.method,
        weight,
        unit,
        str(found.readings),
        found.recording_name,
        state,
    )


def _weight(document: dict[str, Any], metric: bool) -> tuple[str, str]:
    weight = document["weight"]
    if weight is None or weight["value"] is None:
        return "", ""
    return f"{in_units(weight['value'], 'lb', metric):,.0f}", unit_name("lb", metric)


@click.group("run")
def run_command() -> None:
    """Propose, add, show, set aside or put back runs."""


@run_command.command("add")
@shared(units=True)
@click.argument("recording")
@click.option(
    "--method", metavar="METHOD", help="What was flown; 'wringout methods' lists them. Default: the header's."
)
@click.option("--from", "from_s", type=float, metavar="SECONDS", help="Start, on the recording's own clock.")
@click.option("--to", "to_s", type=float, metavar="SECONDS", help="End.")
@click.option("--set", "pairs", multiple=True, metavar="KEY=VALUE", help="A set-up word; repeatable.")
@click.option("--run", "key", metavar="KEY", help="Short name. Default: chosen, such as G1.")
def add(
    wanted: Wanted,
    recording: str,
    method: str | None,
    from_s: float | None,
    to_s: float | None,
    pairs: tuple[str, ...],
    key: str | None,
) -> None:
    """Add a run: a RECORDING of the study, or a stretch of it, flown for a method.

    Set-up words go before those in the recording's header: altitude, temperature, weight (or start weight with fuel
    burned, or fuel flow with since start; or load with fuel), altitude held, entry flaps, entry gear. A
    logger's column of fuel used, fuel remaining or fuel flow stands in for the fuel burned. "marks=columns" takes the
    movement of gear and flaps from a logger's own columns.

    \b
    Examples:
      wringout run add logger.csv --method "level deceleration" --from 610 --to 700 \\
          --set "weight=2,900 lb" --set "altitude=7000 ft" --set "marks=columns"
      wringout run add run-3.csv --run G3
    """
    from wringout.services.flights.documents import run_document
    from wringout.services.flights.runs import add_run_to
    from wringout.services.study.studies import summary

    if (from_s is None) != (to_s is None):
        raise click.UsageError("Give both --from and --to, or neither.")
    span = None if from_s is None or to_s is None else (from_s, to_s)
    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        try:
            found = add_run_to(store, study, recording, method, span, words_of(pairs, "--set"), key)
        except BadInputError as error:
            if Way.OWN_MARKS not in error.advice:
                raise
            command = _again(recording, method, span, (*pairs, "marks=columns"), key)
            said = error.advice.replace(Way.OWN_MARKS, f"take the marks from its own gear and flap columns: {command}")
            raise BadInputError(error.what, error.where, said) from None
    if wanted.as_json:
        page.document("run", study, run_document(found))
        return
    rest = f"{found.readings} readings" if found.is_fitted else "kept beside the fit, to check techniques"
    page.say(f"Run {found.stored.key} is added: {found.title}, {rest}.")
    _tell_weight(found, wanted.metric)
    tell_exceedances(found.stored.key, [e.sentence() for e in found.exceedances], wanted.metric)
    page.say(wanted.next_step("wringout reduce"))


def _again(
    recording: str, method: str | None, span: tuple[float, float] | None, pairs: Sequence[str], key: str | None
) -> str:
    """Return the whole command ``run add``, to be typed once more with other words."""
    options = ["--method", method] if method else []
    options += [] if span is None else ["--from", f"{span[0]:g}", "--to", f"{span[1]:g}"]
    options += [word for pair in pairs for word in ("--set", pair)]
    return shlex.join(["wringout", "run", "add", recording, *options, *(["--run", key] if key else [])])


def _tell_weight(found: BuiltRun, metric: bool) -> None:
    from wringout.services.flights.documents import run_document

    weight, unit = _weight(run_document(found), metric)
    if found.weighing is None or not weight:
        return
    basis = f" ({found.weighing.basis})" if found.weighing.basis else ""
    page.say(f"Weight at the run: {weight} {unit}{basis}.", *found.weighing.notices)


@run_command.command("show")
@shared(units=True)
@click.argument("key")
def show(wanted: Wanted, key: str) -> None:
    """Show a run: where it comes from, its weight, its readings with the rows they stand in.

    \b
    Examples:
      wringout run show G1
      wringout run show G1 --json
    """
    from wringout.services.findings.go_arounds import go_around_documents
    from wringout.services.flights.documents import observed_documents, run_document
    from wringout.services.flights.runs import study_run
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        found, _ = study_run(store, study, key)
    readings = observed_documents(found)
    flown = [document for item in found.built for document in go_around_documents(item)]
    if wanted.as_json:
        page.document("run", study, {**run_document(found), "observed": readings, "go_arounds": flown})
        return
    state = str(found.stored.state) if not found.stored.reason else f"{found.stored.state}: {found.stored.reason}"
    page.say(f"Run {key}, {found.title or found.stored.method}, from {found.recording_name}; {state}.")
    if found.problem:
        page.say(f"It cannot be built: {found.problem}")
    if found.stored.setup:
        page.table(("set-up word", "value"), [(k, str(v)) for k, v in found.stored.setup.items()])
    _tell_weight(found, wanted.metric)
    tell_exceedances(key, [e.sentence() for e in found.exceedances], wanted.metric)
    _tell_readings(readings, wanted.metric)
    _tell_go_arounds(flown, wanted.metric)


def _tell_readings(readings: list[dict[str, Any]], metric: bool) -> None:
    if not readings:
        return
    unit = readings[0]["unit"]
    page.heading("Readings")
    rows = [
        (
            str(r["row"]),
            "" if r["time_s"] is None else f"{r['time_s']:.1f}",
            f"{in_units(r['value'], unit, metric):.1f}",
            unit_name(unit, metric),
        )
        for r in readings
    ]
    page.table((">row", ">time, s", ">read", ""), rows)


def _tell_go_arounds(flown: list[dict[str, Any]], metric: bool) -> None:
    if not flown:
        return
    page.heading("Go-arounds (they check techniques and stay out of the fit)")
    scores = list(flown[0]["scores"])
    rows = [
        (
            str(one["row"]),
            one["pair"],
            one["technique"],
            _quantity(one["entry_speed"], metric),
            _quantity(one["entry_descent"], metric),
            *(_quantity(one["scores"][score], metric) for score in scores),
        )
        for one in flown
    ]
    page.table((">row", "pair", "technique", ">entry", ">descent", *(f">{score}" for score in scores)), rows)


def _quantity(found: dict[str, Any] | None, metric: bool) -> str:
    if found is None:
        return "-"
    places = 1 if found["unit"] == "s" or (metric and found["unit"] == "ft/min") else 0
    return f"{in_units(found['value'], found['unit'], metric):,.{places}f} {unit_name(found['unit'], metric)}"


@run_command.command("aside")
@shared()
@click.argument("key")
@click.argument("reason")
def aside(wanted: Wanted, key: str, reason: str) -> None:
    """Set a run aside, with the REASON; its readings stay, and the brief names it.

    \b
    Example:
      wringout run aside F2 "gust front reached us at 0:40"
    """
    from wringout.services.flights.runs import set_run_aside

    with wanted.open(create=False) as store:
        set_run_aside(store, wanted.study, key, reason)
    _tell_run(wanted, key, "is set aside; its readings stay.")


@run_command.command("back")
@shared()
@click.argument("key")
def back(wanted: Wanted, key: str) -> None:
    """Put a run back in use.

    \b
    Example:
      wringout run back F2
    """
    from wringout.services.flights.runs import put_run_back

    with wanted.open(create=False) as store:
        put_run_back(store, wanted.study, key)
    _tell_run(wanted, key, "is in use again.")


def _tell_run(wanted: Wanted, key: str, words: str) -> None:
    from wringout.services.flights.documents import run_document
    from wringout.services.flights.runs import study_run
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        found, _ = study_run(store, study, key)
    if wanted.as_json:
        page.document("run", study, run_document(found))
        return
    page.say(f"Run {key} {words}", wanted.next_step("wringout reduce"))


for _command in (propose_command, accept_command, decline_command):
    run_command.add_command(_command)
