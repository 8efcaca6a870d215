"""The fleet beside the studies: findings pooled over airplanes, the library passed on, and others' merged in."""

from __future__ import annotations

from http import HTTPStatus

from starlette.responses import Response

from wringout.errors import BadInputError, FitError
from wringout.services.fleet.figures import fleet_figures
from wringout.services.fleet.findings import collect, list_findings, quantities
from wringout.services.fleet.pooling import Estimator, pool_findings, pooled_document
from wringout.services.fleet.sharing import (
    LONGEST_FLEET_BYTES,
    Merged,
    export_fleet,
    list_conflicts,
    merge_fleet,
    resolve_conflict,
)
from wringout.services.privacy import KEEPABLE
from wringout.services.register.documents import CAUTIONS
from wringout.web.ask import Ask
from wringout.web.routing import Tab, get, post
from wringout.web.units import chosen, told_in

TAB = Tab(92, "fleet", "Fleet", "/fleet", of_study=False)


def show(ask: Ask) -> Response:
    """Show what can be pooled, and what waits for a decision."""
    return _page(ask)


def _page(ask: Ask, refused: str = "", merged: Merged | None = None, status: int = HTTPStatus.OK) -> Response:
    family = ask.query("family").strip()
    return ask.page(
        "fleet.html",
        status,
        quantities=quantities(ask.store, family),
        count_findings=len(list_findings(ask.store, family=family)),
        families=sorted({finding.family for finding in list_findings(ask.store)}),
        family=family,
        conflicts=list_conflicts(ask.store),
        refused=refused,
        merged=merged,
        typed={name: ask.text(name) for name in ("study", "family", "model", "airplane", "pilot")},
        cautions=CAUTIONS,
    )


def pooled(ask: Ask) -> Response:
    """Show one quantity of one model, pooled."""
    model, quantity, family = ask.query("model"), ask.query("quantity"), ask.query("family").strip()
    asked = ask.query("estimator")
    estimator = Estimator(asked) if asked in set(Estimator) else Estimator.REML
    findings = list_findings(ask.store, model, quantity, family)
    try:
        found = pool_findings(ask.store, model, quantity, estimator, family)
    except FitError as error:
        return ask.page("fleet_alone.html", findings=findings, model=model, family=family, said=str(error))
    forest, funnel = fleet_figures(found, chosen())
    return ask.page(
        "fleet_pooled.html",
        found=found,
        about=told_in(pooled_document(found)),
        findings=findings,
        family=family,
        quantity=quantity,
        estimator=estimator,
        estimators=tuple(Estimator),
        forest=forest,
        funnel=funnel,
        cautions=CAUTIONS,
    )


def take_findings(ask: Ask) -> Response:
    """Take a study's findings into the library."""
    words = [ask.text(name).strip() for name in ("family", "model", "airplane", "pilot")]
    try:
        collect(ask.store, ask.text("study").strip(), *words)
    except BadInputError as error:
        return _page(ask, str(error), status=HTTPStatus.UNPROCESSABLE_ENTITY)
    return ask.go("/fleet")


def show_export(ask: Ask) -> Response:
    """Show what an export holds and what it takes out, before it is written."""
    keep, model = tuple(word for word in KEEPABLE if ask.query(word) == "yes"), ask.query("model")
    return ask.page(
        "fleet_export.html",
        found=export_fleet(ask.store, keep, model),
        keep=keep,
        keepable=KEEPABLE,
        model=model,
        models=sorted({finding.model for finding in list_findings(ask.store)}),
    )


def write_export(ask: Ask) -> Response:
    """Hand the export out as a file."""
    text = export_fleet(ask.store, tuple(word for word in ask.texts("keep") if word), ask.text("model")).text
    headers = {"Content-Disposition": 'attachment; filename="fleet.json"'}
    return Response(text.encode(), media_type="application/json", headers=headers)


def merge(ask: Ask) -> Response:
    """Merge a member's file; what differs waits as a conflict."""
    files = ask.uploads("file")
    if not files:
        return _page(ask, "Choose a member's fleet file first.", status=HTTPStatus.UNPROCESSABLE_ENTITY)
    try:
        done = merge_fleet(ask.store, files[0].file.read(LONGEST_FLEET_BYTES + 1), files[0].filename or "fleet.json")
    except BadInputError as error:
        return _page(ask, str(error), status=HTTPStatus.UNPROCESSABLE_ENTITY)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if done.errors else HTTPStatus.OK
    return _page(ask, merged=done, status=status)


def settle(ask: Ask) -> Response:
    """Settle a conflict."""
    resolve_conflict(ask.store, ask.path("key"), ask.text("take") == "theirs")
    return ask.go("/fleet")


ROUTES = [
    get("/fleet", show),
    get("/fleet/pooled", pooled),
    post("/fleet/collect", take_findings),
    get("/fleet/export", show_export),
    post("/fleet/export", write_export),
    post("/fleet/merge", merge),
    post("/fleet/conflicts/{key}", settle),
]
