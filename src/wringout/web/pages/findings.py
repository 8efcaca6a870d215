"""Findings: what all runs together say, by method and run, with what was believed before and what it rests on."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError
from wringout.services.findings.knots import knots_beside_drag
from wringout.services.findings.reduce import DRAWS, FEWEST_DRAWS, SEED, check_draws, check_seed
from wringout.services.kept_numbers import exact_numbers
from wringout.services.study.newest import newest_reduction
from wringout.web.ask import Ask
from wringout.web.drawing import spark
from wringout.web.drawn.forest import forests, knots_forest
from wringout.web.drawn.residuals import residuals
from wringout.web.frame import study_page
from wringout.web.map_forms import count_in
from wringout.web.routing import get, post
from wringout.web.units import told_in, words_in

USUAL = {"draws": DRAWS, "seed": SEED}


def show(ask: Ask) -> Response:
    """Show the findings of the newest reduction."""
    return _page(ask)


def _page(ask: Ask, refused: str = "", status: int = HTTPStatus.OK) -> Response:
    result, current = newest_reduction(ask.store, ask.slug)
    typed = {"draws": ask.text("draws", str(DRAWS)), "seed": ask.text("seed", str(SEED)), "second": ask.text("second")}
    asked: dict[str, Any] = {"refused": refused, "typed": typed, "status": status}
    if result is None:
        return study_page(ask, "findings", "Findings", "findings.html", body=None, is_current=False, **asked)
    body, exact = told_in(result.body), exact_numbers(result.body)
    runs = body["runs"]
    sparks = {run["key"]: spark(run["observed"], run["fitted"]) for run in runs} if isinstance(runs, list) else {}
    beside = knots_beside_drag(body)
    return study_page(
        ask,
        "findings",
        "Findings",
        "findings.html",
        body=body,
        is_current=current,
        forests=forests(body),
        knots=None if beside is None else knots_forest(beside),
        residuals=[residuals(run) for run in runs] if isinstance(runs, list) else [],
        run_recording={run["key"]: run["recording"]["sha256"] for run in runs} if isinstance(runs, list) else {},
        sparks=sparks,
        result=result,
        answer=words_in(str(body["answer"]), exact),
        beside_words=[words_in(line, exact) for line in body["support"] if "In knots lost" in line],
        **asked,
    )


def reduce_runs(ask: Ask) -> Response:
    """Begin to reduce the runs, in the background."""
    address = f"/studies/{ask.slug}/findings"
    try:
        draws, seed = (count_in(ask.text(name, str(usual)), name, usual) for name, usual in USUAL.items())
        check_draws(draws, FEWEST_DRAWS)
        check_seed(seed)
    except BadInputError as error:
        return _page(ask, str(error), HTTPStatus.UNPROCESSABLE_ENTITY)
    second = ask.text("second") == "yes"
    work = "wringout.web.work.studies:reduce_runs_of"
    ask.jobs.start(
        ask.slug, "reduction", "Reducing the runs", address, work,
        slug=ask.slug, second_opinion=second, draws=draws, seed=seed,
    )  # fmt: skip
    return ask.go(address)


ROUTES = [get("/studies/{slug}/findings", show), post("/studies/{slug}/reduce", reduce_runs)]
