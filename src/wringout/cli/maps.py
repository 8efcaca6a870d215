"""Commands about many conditions and many techniques: ``map``, ``search``."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wringout.briefs.metric_words import title_in_metric
from wringout.cli import page
from wringout.cli.figures import cautions, fixed, in_units, sentence, sentences, unit_name
from wringout.cli.files import read_whole
from wringout.cli.options import Wanted, now, shared

if TYPE_CHECKING:
    from wringout.services.matchups.plans import PlanDocument
    from wringout.techniques.judging.maps import Condition

Json = Mapping[str, Any]
LAWS = ("hold attitude", "hold speed", "level, then climb")
_CONDITIONS = (
    ("weight", "such as '2,600 to 3,200 lb in 8'"),
    ("density-altitude", "such as '0 to 8,000 ft in 9'"),
    ("entry-speed", "in multiples of VS, such as '1.2 to 1.4 in 5', or in kt where the plan says kt"),
    ("gear-transit", "times the measured one, such as '0.5 to 2 in 7'"),
    ("flap-transit", "times the measured one, such as '0.5 to 2 in 7'"),
    ("delay", "before each action, such as '1 to 5 s in 9'"),
)


def _conditions(body: Callable[..., None]) -> Callable[..., None]:
    for name, words in reversed(_CONDITIONS):
        body = click.option(f"--{name}", metavar="RANGE", help=words[0].upper() + words[1:] + ".")(body)
    return body


_LAW = click.option("--law", type=click.Choice(LAWS), default=LAWS[2], show_default=True, help="How pitch is flown.")
_PLAN = click.option("--plan", "plan_file", type=click.Path(path_type=Path), help="Default: the plan used last.")
_SEED = click.option("--seed", type=int, default=1, show_default=True, help="Of the conditions.")


@click.command("map")
@shared(units=True)
@_conditions
@_LAW
@click.option("--order", "orders", multiple=True, metavar="KEY", help="Only this order; may be repeated.")
@click.option("--with-search", is_flag=True, help="Let the best that 'search' found under this law compete too.")
@_PLAN
@click.option("--draws", type=int, default=500, show_default=True, help="Posterior draws in each cell.")
@_SEED
@click.option("--cluster", metavar="ADDRESS", help="Fly the cells on the workers of this Dask scheduler.")
@click.option("--last", is_flag=True, help="Show the maps that are kept, without flying anything.")
@click.option("--figure", "figure_file", type=click.Path(path_type=Path), help="Write the map's figure here, as SVG.")
def map_command(
    wanted: Wanted,
    law: str,
    orders: tuple[str, ...],
    with_search: bool,
    plan_file: Path | None,
    draws: int,
    seed: int,
    cluster: str | None,
    last: bool,
    figure_file: Path | None,
    **written: str | None,
) -> None:
    """Say which technique is favoured where, over two or more conditions.

    The map is kept with the study. A RANGE is varied: "LOW to HIGH UNIT in COUNT". One value is held. What is
    left out is as the plan has it.

    \b
    Examples:
      wringout map --weight "2,600 to 3,200 lb in 8" --density-altitude "0 to 8,000 ft in 9"
      wringout map --delay "1 to 5 s in 5" --gear-transit "0.5 to 2 in 4" --weight "2,900 lb"
      wringout search; wringout map --weight "2,600 to 3,200 lb in 8" --delay "1 to 5 s in 5" --with-search
      wringout map --last
    """
    from wringout.services.matchups.compiled import Work, is_compiled
    from wringout.services.matchups.maps import MapAsked, fly_technique_map, technique_maps
    from wringout.techniques.stated.types import Law

    plan = _plan(plan_file)
    with wanted.open(create=False) as store:
        if last:
            kept = technique_maps(store, wanted.study)
            study = _slug(store, wanted)
        else:
            if not is_compiled(Work.MAP):
                page.complain("Compiling the equations once; they are kept for the next time.")
            asked = MapAsked(_written(written), Law(law), draws, seed, plan, orders, with_search)
            with page.progress("Flying the map") as report:
                kept = (fly_technique_map(store, wanted.study, asked, report, cluster=cluster),)
            study = kept[0].study.slug
    if figure_file is not None:
        _draw(kept, figure_file)
    if wanted.as_json:
        bodies = [
            {"key": one.key, "revision": one.revision, "kept_at": one.at, "current": one.current, **one.body}
            for one in kept
        ]
        kind, body = ("maps", {"maps": bodies}) if last else ("map", bodies[0])
        page.document(kind, study, body)
        return
    if not kept:
        page.say("No map is kept; fly one.")
    for one in kept:
        _tell_map(one.body, one.key, one.current, wanted.metric)
    if figure_file is not None:
        page.say(f"The figure is written to {figure_file}.")


def _slug(store: Any, wanted: Wanted) -> str:
    from wringout.services.opening import the_study

    with store.reading() as view:
        return the_study(view, wanted.study).slug


def _draw(kept: tuple[Any, ...], file: Path) -> None:
    from wringout.errors import BadInputError
    from wringout.services.matchups.map_figures import map_svg
    from wringout.services.texts_written import write_text

    if len(kept) != 1:
        raise BadInputError(f"{len(kept)} maps are kept", "--figure", "fly the one to be drawn")
    write_text(file, map_svg(kept[0].body, in_page=False), replace=True)


def _plan(file: Path | None) -> PlanDocument | None:
    from wringout.services.matchups.plans import LONGEST_PLAN_BYTES, read_plan

    return None if file is None else read_plan(read_whole(file, LONGEST_PLAN_BYTES), file.name)


def _written(written: Mapping[str, str | None]) -> dict[Condition, str]:
    from wringout.services.matchups.map_axes import condition_named

    return {condition_named(name.replace("_", "-")): text for name, text in written.items() if text}


def _tell_map(body: Json, key: str, current: bool, metric: bool) -> None:
    if not current:
        page.say("The study has changed since this was flown; reduce it and fly the map again.")
    page.items(sentences(body["margins"], metric), "!")
    page.say(*sentences([*body["answer"], *body["flips"], body["settles"]], metric))
    _grid(body, metric)
    page.heading("What would settle it")
    page.table(
        ("input", ">share of variance", ">standard error", ">decided if known", "the run that measures it"),
        [_input(one, metric) for one in body["sensitivity"]["inputs"]],
    )
    page.heading("What it leans on")
    page.items(sentences(body["support"], metric), "-")
    page.say(
        f"Kept as {key}; {body['draws']:,} draws, seed {body['seed']}, inputs {body['inputs_hash'][:12]}, "
        f"wringout {body['package_version']}."
    )
    page.heading("Cautions")
    page.items(cautions(body["cautions"], metric), "!")


def _input(one: Json, metric: bool) -> tuple[str, ...]:
    setup = ", ".join(f"{what} {how}" for what, how in one["setup"].items())
    run = f"{one['method']}{f' with {setup}' if setup else ''}" if one["method"] else one["words"]
    shares = (one["share_of_variance"], one["standard_error"], one["share_settled"])
    return (one["label"], *(f"{100 * share:.0f} %" for share in shares), sentence(run, metric))


def _grid(body: Json, metric: bool) -> None:
    """Print the cells as tables of letters, one for each combination of the axes beyond the second."""
    from wringout.services.matchups.map_figures import cell_mark, panels

    for panel in panels(body):
        page.heading(sentence(panel.title, metric))
        across = [f">{fixed_axis(in_units(value, panel.x['unit'], metric))}" for value in panel.x["values"]]
        units = [unit_name(axis["unit"], metric) for axis in (panel.x, panel.y)]
        rows = [
            (f"{fixed_axis(in_units(y, panel.y['unit'], metric))} {units[1]}", *(cell_mark(body, n) for n in row))
            for y, row in zip(panel.y["values"], panel.cells, strict=True)
        ]
        page.table((f"{panel.y['condition']} / {panel.x['condition']}, {units[0]}", *across), rows[::-1])
    lettered = [t for t in body["techniques"] if t["letter"]]
    page.items([f"{t['letter']}  {t['title']}" for t in sorted(lettered, key=lambda t: t["letter"])], " ")
    page.say(
        "A letter is the best of a cell; the number is the share of draws, in %, in which it is ahead of its nearest "
        "rival by what matters; (brackets): too close to call; x: no technique keeps the margins."
    )


def fixed_axis(value: float) -> str:
    """Return a value of an axis."""
    return fixed(value, 0 if value == 0.0 or abs(value) >= 100.0 else 2 if abs(value) < 10.0 else 1)


@click.command("search")
@shared(units=True)
@_conditions
@_LAW
@click.option("--stops", type=int, default=2, show_default=True, help="Angles tried between two flap settings.")
@_PLAN
@click.option("--draws", type=int, default=400, show_default=True, help="Posterior draws; half choose, half judge.")
@_SEED
def search_command(
    wanted: Wanted, law: str, stops: int, plan_file: Path | None, draws: int, seed: int, **written: str | None
) -> None:
    """Search the best reachable technique over pauses and flap stops.

    Conditions are held at one value; what is left out is as the plan has it. Orders the register prints for the
    study's airplane are flown beside what is found.

    \b
    Examples:
      wringout search
      wringout search --weight "3,200 lb" --density-altitude "6,000 ft" --law "hold attitude"
    """
    from wringout.services.matchups.compiled import Work, is_compiled
    from wringout.services.matchups.searches import SearchAsked
    from wringout.services.register.printed_beside import search_beside_printed
    from wringout.techniques.stated.types import Law

    asked = SearchAsked(_written(written), Law(law), stops, draws, seed, _plan(plan_file))
    with wanted.open(create=False) as store:
        if not is_compiled(Work.MAP):
            page.complain("Compiling the equations once; they are kept for the next time.")
        with page.progress("Searching") as report:
            kept = search_beside_printed(store, wanted.study, asked, now().date(), report)
    body = kept.body
    if wanted.as_json:
        about = {"key": kept.key, "revision": kept.revision, "kept_at": kept.at, "current": kept.current}
        page.document("search", kept.study.slug, {**about, **body})
        return
    metric = wanted.metric
    page.say(*sentences(body["answer"], metric))
    page.heading("What the hands do")
    page.table(
        ("lever", "to", "pause before it", "waits for"), [_action(one, metric) for one in body["best"]["actions"]]
    )
    page.heading(f"Known orders beside it, behind by ({unit_name(body['unit'], metric)})")
    page.table(
        ("order", ">median", ">95 %", ">ahead by what matters in", "", "printed in"),
        [_order(one, body["unit"], metric) for one in body["orders"]],
    )
    if body["printed"]:
        page.heading("As printed")
        page.items(sentences(body["printed"], metric), "-")
    page.heading("What it leans on")
    page.items(sentences(body["support"], metric), "-")
    page.heading("Cautions")
    page.items(cautions(body["cautions"], metric), "!")


def _action(one: Json, metric: bool) -> tuple[str, ...]:
    unit = one["gate_unit"]
    gate = None if one["gate_value"] is None else in_units(one["gate_value"], unit, metric)
    value = "" if gate is None else f" {gate:.0f} {unit_name(unit, metric)}"
    return one["device"], one["to"], f"{one['wait_s']:g} s", f"{one['gate']}{value}" if one["gate"] else ""


def _order(one: Json, unit: str, metric: bool) -> tuple[str, ...]:
    def shown(value: float) -> str:
        return fixed(in_units(value, unit, metric), 1 if unit == "s" or (metric and unit == "ft") else 0)

    middle = "never" if one["behind_by"] is None else shown(one["behind_by"])
    ends = ("-" if x is None else shown(x) for x in one["interval_95"])
    broken = "" if one["acceptable"] else "breaks a margin"
    share = f"{100 * one['probability']:.0f} %"
    title = title_in_metric(one["title"]) if metric else one["title"]
    return title, middle, " to ".join(ends), share, broken, "; ".join(one["printed_in"])
