"""Commands about the estimate: ``reduce``, ``findings``."""

from __future__ import annotations

from typing import Any

import click

from wringout.briefs.metric_words import Exact
from wringout.cli import page
from wringout.cli.diagnostics import tell_diagnostics
from wringout.cli.figures import Figure, fixed, in_units, interval, places_for, sentence, sentences, unit_name
from wringout.cli.options import Wanted, shared

Json = dict[str, Any]


@click.command("reduce")
@shared(units=True)
@click.option("--draws", type=int, default=4000, show_default=True, help="Posterior draws to take and keep.")
@click.option(
    "--seed", type=int, default=1, show_default=True, help="Of the draws; the same seed gives the same digits."
)
@click.option(
    "--second-opinion",
    is_flag=True,
    help="Sample the posterior by a Markov chain too (minutes), and use it where it differs.",
)
def reduce_command(wanted: Wanted, draws: int, seed: int, second_opinion: bool) -> None:
    """Fit one airplane to all runs in use, and say what was found.

    The result is kept with the hash of its inputs, its seed and the version of this program.

    \b
    Examples:
      wringout reduce
      wringout reduce --second-opinion
      wringout reduce --draws 8000 --seed 2 --json
    """
    from wringout.services.findings.reduce import reduce_study
    from wringout.services.matchups.compiled import Work, is_compiled

    with wanted.open(create=False) as store:
        if not is_compiled(Work.REDUCTION):
            page.complain("Compiling the equations once; they are kept for the next time.")
        with page.progress("Reducing") as report:
            reduced = reduce_study(store, wanted.study, draws, seed, report, second_opinion)
    _tell(wanted, reduced.study.slug, reduced.result.body, _facts(reduced.result, True))


@click.command("findings")
@shared(units=True)
@click.option(
    "--diagnostics", is_flag=True, help="Print every table on whether the study hangs together, and nothing else."
)
def findings_command(wanted: Wanted, diagnostics: bool) -> None:
    """Show what the newest reduction found, without computing anything.

    \b
    Examples:
      wringout findings
      wringout findings --units metric
      wringout findings --diagnostics
      wringout findings --json
    """
    from wringout.services.findings.reduce import findings

    with wanted.open(create=False) as store:
        study, result, current = findings(store, wanted.study)
    if diagnostics and not wanted.as_json:
        tell_diagnostics(result.body, current, wanted.metric)
        return
    _tell(wanted, study.slug, result.body, _facts(result, current))


def _facts(result: Any, current: bool) -> Json:
    return {
        "computed_at": result.created_at,
        "current": current,
        "inputs_hash": result.inputs_hash,
        "seed": result.seed,
        "draws": result.settings.get("draws"),
        "package_version": result.package_version,
    }


def _tell(wanted: Wanted, study: str, body: Any, facts: Json) -> None:
    if wanted.as_json:
        page.document("findings", study, {**facts, **body})
        return
    if not facts["current"]:
        page.say("The study has changed since this was computed; reduce it again.")
    from wringout.services.kept_numbers import exact_numbers

    exact = exact_numbers(body)
    page.say(sentence(body["answer"], wanted.metric, exact))
    _findings(body, wanted.metric)
    _knots_lost(body, wanted.metric, exact)
    _strengths(body, wanted.metric)
    _doubts(body, wanted.metric)
    _together(body, wanted.metric)
    page.heading("Where it comes from")
    page.say(
        f"Inputs {facts['inputs_hash'][:12]}, seed {facts['seed']}, {facts['draws']:,} draws, "
        f"wringout {facts['package_version']}, {facts['computed_at']}."
    )


def _findings(body: Json, metric: bool) -> None:
    page.heading("Findings")
    rows = []
    for item in body["findings"]:
        figure = interval(item["value"], item["interval_95"], item["unit"], metric)
        half = _same_places(item["interval_50"], item["interval_95"], item["unit"], metric)
        rows.append(
            (item["label"], figure.value, half, figure.most, figure.unit, _at(item, metric), _runs(item["runs"]))
        )
    page.table(("what", ">value", ">50 %", ">95 %", "unit", "at", "runs"), rows)


def _same_places(half: list[float], most: list[float], unit: str, metric: bool) -> str:
    if None in half or None in most:
        return "-"
    low, high = (in_units(x, unit, metric) for x in most)
    places = places_for((high - low) / 3.92)
    near, far = (fixed(in_units(x, unit, metric), places) for x in half)
    return f"{near} to {far}"


def _at(item: Json, metric: bool) -> str:
    parts = [item[key] for key in ("at_speed", "at_weight") if item[key] is not None]
    return ", ".join(f"{in_units(q['value'], q['unit'], metric):,.0f} {unit_name(q['unit'], metric)}" for q in parts)


def _runs(keys: list[str]) -> str:
    return ", ".join(keys) if keys else "none: a belief"


def _knots_lost(body: Json, metric: bool, exact: Exact) -> None:
    if not body["knots_lost"]:
        return
    page.heading("Knots lost (not a drag)")
    rows = []
    for item in body["knots_lost"]:
        spread = 1.96 * item["standard_uncertainty"]
        figure = interval(item["value"], (item["value"] - spread, item["value"] + spread), "kt", metric)
        rows.append((item["label"], figure.value, figure.most, figure.unit, _runs(item["runs"])))
    page.table(("device", ">lost", ">95 %", "unit", "runs"), rows)
    said = [text for text in body["support"] if text.startswith("In knots lost")]
    page.say(*sentences(said, metric, exact))


def _strengths(body: Json, metric: bool) -> None:
    page.heading("Each run, every strength of evidence")
    rows = []
    for run in body["runs"]:
        for result in run["results"]:
            figure = interval(result["value"], result["interval_95"], result["unit"], metric)
            rows.append((run["key"], run["title"], result["title"], figure.value, figure.most, figure.unit))
    page.table(("run", "flown", "evidence", ">value", ">95 %", "unit"), rows)
    page.items(sentences([*_told(body), *_why(body)], metric), "  -")


def _told(body: Json) -> list[str]:
    """Return what out-and-back pairs and pairs of go-arounds say, which a table cannot."""
    out = []
    for run in body["runs"]:
        strongest = min((result["strength"] for result in run["results"]), default=0)
        out += [
            f"{run['key']}, {_lower(result['title'])}: {result['sentence']}"
            for result in run["results"]
            if result["strength"] == strongest and run["method"] in _TOLD
        ]
    return out


_TOLD = ("out and back", "go around pairs")


def _lower(title: str) -> str:
    return f"{title[:1].lower()}{title[1:]}"


def _why(body: Json) -> list[str]:
    """Return why each run's evidence differs, runs of which the same is said together."""
    said: dict[str, list[str]] = {}
    for run in body["runs"]:
        if run["why_they_differ"]:
            said.setdefault(run["why_they_differ"], []).append(run["key"])
    return [f"{', '.join(keys)}: {words}" for words, keys in said.items()]


def _doubts(body: Json, metric: bool) -> None:
    page.heading("What to keep in mind")
    lines = [*body.get("remarks", ()), *([body["learned"]] if body["learned"] else [])]
    for flag in body["flags"]:
        seen = _plain(flag["observed"], flag["unit"], metric)
        lines.append(
            f"Run {flag['run']}, row {flag['row']}: the reading {seen.value} {seen.unit} lies "
            f"{abs(flag['standard_deviations']):.0f} standard deviations off the curve; it is kept and shown, with "
            "almost no weight."
        )
    lines += [f"Run {item['run']}: {item['sentence']}" for item in body["exceedances"]]
    for method, factor in body["noise_factors"].items():
        if factor > 1.05:
            lines.append(
                f"The readings of {method} scatter {factor:.1f} times as much as stated; the intervals say so."
            )
    page.items(sentences(lines, metric))


def _together(body: Json, metric: bool) -> None:
    """Say whether the study hangs together; results kept by an earlier version do not know."""
    found = body.get("diagnostics")
    if found:
        page.heading("Does it hang together")
        page.items(sentences(dict.fromkeys([*found["disagreements"], *found["sentences"]]), metric))


def _plain(value: float, unit: str, metric: bool) -> Figure:
    return Figure(fixed(in_units(value, unit, metric), 1), "", unit_name(unit, metric))
