"""The tables behind "does it hang together": tension, checks, leave-one-out, pulls, correlations, scatter, chain."""

from __future__ import annotations

from typing import Any

from wringout.cli import page
from wringout.cli.figures import fixed, in_units, places_for, unit_name
from wringout.errors import NotFoundError

Json = dict[str, Any]


def tell_diagnostics(body: Any, current: bool, metric: bool) -> None:
    """Print every diagnostic of a kept reduction, a sentence first.

    Raises:
        NotFoundError: the reduction was kept by a version that did not look.
    """
    found = body.get("diagnostics")
    if not found:
        raise NotFoundError("this reduction carries no diagnostics", advice="reduce the study again")
    if not current:
        page.say("The study has changed since this was computed; reduce it again.")
    page.say(*dict.fromkeys([*found["disagreements"], *found["sentences"]]))
    _scatter(found["run_to_run"])
    _methods(found, metric)
    _left_out(found["left_out"], metric)
    _weight(found.get("weight"), metric)
    _pulls(found["pulls"])
    _correlations(found["correlations"])
    _second_opinion(found["second_opinion"])


def _scatter(groups: list[Json]) -> None:
    if not groups:
        return
    page.heading("Scatter of a device's drag from run to run")
    rows = [(g["of"], f"{g['scatter']:.1f}", f"{g['believed_before']:.1f}", "%", str(g["runs"])) for g in groups]
    page.table(("of", ">scatter", ">believed before", "unit", ">runs"), rows)


def _methods(found: Json, metric: bool) -> None:
    if found["tensions"]:
        page.heading("Each method against everything else (sigma: difference over its expected size)")
        rows = []
        for t in found["tensions"]:
            values = (_value(t[key], t["unit"], metric) for key in ("without", "together"))
            share = f"{100.0 * t['share_of_variance_removed']:.0f} %"
            rows.append(
                (t["method"], t["quantity"], *values, unit_name(t["unit"], metric), f"{t['sigma']:+.1f}", share)
            )
        columns = ("method", "quantity", ">without", ">with", "unit", ">sigma", ">variance it removes")
        page.table(columns, rows)
    page.heading("Readings of each method against what all else predicts")
    rows = [
        (c["method"], f"{c['chi_square']:.1f}", str(c["degrees_of_freedom"]), f"{c['p_value']:.4f}")
        for c in found["checks"]
    ]
    page.table(("method", ">chi square", ">readings", ">p"), rows)


def _value(value: float, unit: str, metric: bool) -> str:
    return fixed(in_units(value, unit, metric), 2)


def _weight(weight: Json | None, metric: bool) -> None:
    if weight is not None:
        value = in_units(weight["value"], weight["unit"], metric)
        page.say(f"Stall speeds are those at {value:,.0f} {unit_name(weight['unit'], metric)}, at sea level.")


def _left_out(quantities: list[Json], metric: bool) -> None:
    page.heading("Without each run in turn")
    rows = []
    for item in quantities:
        unit = item["unit"]
        rows.append((item["quantity"], "all runs", _value(item["together"], unit, metric), "", unit_name(unit, metric)))
        for one in item["without"]:
            sd = in_units(one["standard_uncertainty"], unit, metric)
            value = in_units(one["value"], unit, metric)
            rows.append(
                (
                    item["quantity"],
                    f"without {one['run']}",
                    fixed(value, max(places_for(sd), 2)),
                    fixed(sd, max(places_for(sd), 2)),
                    unit_name(unit, metric),
                )
            )
    page.table(("quantity", "from", ">value", ">standard uncertainty", "unit"), rows)


def _pulls(pulls: list[Json]) -> None:
    page.heading("What each run pulls (shift in standard deviations; doubt without it over doubt with it)")
    rows = [(p["run"], p["label"], f"{p['shift']:+.2f}", f"{p['wider']:.2f}") for p in pulls]
    page.table(("run", "belief", ">shift", ">doubt without it"), rows)


def _correlations(pairs: list[Json]) -> None:
    if not pairs:
        return
    page.heading("Beliefs that trade off against each other")
    page.table(("one", "other", ">correlation"), [(*pair["labels"], f"{pair['value']:+.2f}") for pair in pairs])


def _second_opinion(found: Json | None) -> None:
    if found is None:
        return
    page.heading("Second opinion by Markov chain")
    page.say(f"{found['sentence']} It has {found['independent_draws']:,.0f} independent draws.")
    rows = [
        (p["label"], f"{p['shift']:+.2f}", f"{p['width']:.2f}", "differs" if p["differs"] else "agrees")
        for p in found["parameters"]
    ]
    page.table(("belief", ">shift, sds", ">width over Gaussian", ""), rows)
