"""Commands about techniques: ``plan``, ``compare``, ``verdict``, ``landing-climb``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wringout.briefs.metric_words import title_in_metric
from wringout.cli import page
from wringout.cli.figures import cautions, fixed, in_units, sentence, sentences, unit_name
from wringout.cli.files import read_whole
from wringout.cli.options import Wanted, shared

Json = dict[str, Any]


@click.command("plan")
@shared()
@click.option("--procedure", metavar="NAME", help="Start anew from the usual plan of this procedure (docs/plan.md).")
def plan_command(wanted: Wanted, procedure: str | None) -> None:
    """Print the plan of the matchup as TOML, to correct and give to compare.

    It holds what is flown, the pilot and the domain the verdict is for; map and search use it too.

    \b
    Examples:
      wringout plan > plan.toml
      wringout plan --procedure "loss of power on approach" > plan.toml
    """
    from wringout.services.matchups.compare import planned
    from wringout.services.matchups.plans import plan_text, usual_plan

    with wanted.open(create=False) as store:
        study, found = planned(store, wanted.study)
    if procedure is not None:
        found = usual_plan(procedure)
    if wanted.as_json:
        page.document("plan", study.slug, found.model_dump(mode="json"))
        return
    page.raw(plan_text(found))


@click.command("compare")
@shared(units=True)
@click.option("--plan", "plan_file", type=click.Path(path_type=Path), help="Default: the plan used last, or the usual.")
@click.option("--draws", type=int, default=2000, show_default=True, help="Posterior draws to fly on.")
@click.option("--seed", type=int, default=1, show_default=True, help="Of the conditions.")
def compare_command(wanted: Wanted, plan_file: Path | None, draws: int, seed: int) -> None:
    """Fly every order of the plan's procedure, and give the verdict.

    The procedure is a go-around unless the plan says another. All orders are flown on the same draws and conditions,
    under three pilot laws where the procedure does not say itself how pitch is flown: hold attitude, hold speed, level
    then climb. A difference smaller than the one the study states is never called a win.

    \b
    Examples:
      wringout compare
      wringout plan > plan.toml; wringout compare --plan plan.toml --draws 4000
    """
    from wringout.services.matchups.compare import compare_techniques
    from wringout.services.matchups.compiled import Work, is_compiled
    from wringout.services.matchups.plans import LONGEST_PLAN_BYTES, read_plan

    plan = None if plan_file is None else read_plan(read_whole(plan_file, LONGEST_PLAN_BYTES), plan_file.name)
    with wanted.open(create=False) as store:
        if not is_compiled(Work.MATCHUP):
            page.complain("Compiling the equations once; they are kept for the next time.")
        with page.progress("Flying") as report:
            done = compare_techniques(store, wanted.study, plan, draws, seed, report)
    _tell(wanted, done.study.slug, done.result.body, _facts(done.result, True))


@click.command("verdict")
@shared(units=True)
def verdict_command(wanted: Wanted) -> None:
    """Show the verdict of the newest matchup, without flying anything.

    \b
    Examples:
      wringout verdict
      wringout verdict --json
    """
    from wringout.services.matchups.compare import verdict

    with wanted.open(create=False) as store:
        study, result, current = verdict(store, wanted.study)
    _tell(wanted, study.slug, result.body, _facts(result, current))


@click.command("landing-climb")
@shared(units=True)
def landing_climb_command(wanted: Wanted) -> None:
    """Set the climb in the landing configuration beside the regulations' figures.

    \b
    Example:
      wringout landing-climb
    """
    from wringout.services.matchups.landing_climb import landing_climb
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        body = landing_climb(store, wanted.study)
        study = summary(store, wanted.study).study.slug
    if wanted.as_json:
        page.document("landing climb", study, body)
        return
    page.say(sentence(body["sentence"], wanted.metric))
    page.items(sentences(body["against"], wanted.metric), "-")
    page.heading("Cautions")
    page.items(cautions([body["caution"]], wanted.metric), "!")


def _facts(result: Any, current: bool) -> Json:
    return {
        "computed_at": result.created_at,
        "current": current,
        "inputs_hash": result.inputs_hash,
        "seed": result.seed,
        "package_version": result.package_version,
    }


def _tell(wanted: Wanted, study: str, body: Any, facts: Json) -> None:
    if wanted.as_json:
        page.document("verdict", study, {**facts, **body})
        return
    if not facts["current"]:
        page.say("The study has changed since this was flown; reduce and compare it again.")
    page.say(*sentences(body["answer"], wanted.metric))
    page.items(sentences(body["support"], wanted.metric), "-")
    for law in body["laws"]:
        _law(law, body["thresholds"]["score"], wanted.metric)
    page.heading("Flown over")
    page.table(
        ("", ">from", ">to", "unit"), [_span(name, span, wanted.metric) for name, span in body["domain"].items()]
    )
    page.heading("Where it comes from")
    page.say(
        f"{body['draws']:,} draws, seed {facts['seed']}, inputs {facts['inputs_hash'][:12]}, "
        f"wringout {facts['package_version']}, {facts['computed_at']}."
    )
    page.heading("Cautions")
    page.items(cautions(body["cautions"], wanted.metric), "!")


def _span(name: str, span: Json, metric: bool) -> tuple[str, str, str, str]:
    low, high = (in_units(span[end], span["unit"], metric) for end in ("low", "high"))
    places = 2 if high < 10.0 else 0
    return name.replace("_", " "), fixed(low, places), fixed(high, places), unit_name(span["unit"], metric)


_SHOWN = {
    "lowest_height": "lowest",
    "climb_time": "climb begins",
    "obstacle_distance": "to 50 ft above",
    "stall_ratio": "least V/Vs",
}


def _law(law: Json, deciding: str, metric: bool) -> None:
    page.heading(f"Pilot law: {law['law']}" if law["by_law"] else law["law"])
    if law.get("why"):
        page.say(sentence(law["why"]["sentence"], metric))
    refused = [item["sentence"] for item in law["techniques"] if not item["acceptable"]]
    page.items(sentences(refused, metric), "!")
    keys = (deciding, *(key for key in _SHOWN if key != deciding))
    scores = {score["key"]: score for score in law["techniques"][0]["scores"]}
    titles = []
    for key in keys:
        unit = unit_name(scores[key]["unit"], metric)
        title = sentence(scores[key]["title"] if key == deciding else _SHOWN[key], metric)
        titles.append(f">{title}{f', {unit}' if unit else ''}")
    rows = []
    for item in law["techniques"]:
        found = {score["key"]: score for score in item["scores"]}
        title = title_in_metric(item["title"]) if metric else item["title"]
        name = title if item["complete"] else f"({title})"
        rows.append((name, *(_score(found[key], metric, key == deciding) for key in keys)))
    bracketed = not all(item["complete"] for item in law["techniques"])
    page.table((f"technique{' (in brackets: not cleaned up)' if bracketed else ''}", *titles), rows)


def _score(score: Json, metric: bool, with_interval: bool) -> str:
    if score["median"] is None:
        return "never" if score["never_share"] else "-"
    places = 2 if score["unit"] in {"", "1"} else 1 if score["unit"] == "s" else 0
    middle = fixed(in_units(score["median"], score["unit"], metric), places)
    if not with_interval or None in score["interval_95"]:
        return middle
    low, high = (fixed(in_units(x, score["unit"], metric), places) for x in score["interval_95"])
    return f"{middle} ({low} to {high})"
