"""Beside the findings: whether a study hangs together, and the error of the airspeed system it gives."""

from __future__ import annotations

from starlette.responses import Response

from wringout.errors import BadInputError, FitError, NotFoundError
from wringout.services.findings.calibrations import calibration_document, find_calibration
from wringout.services.study.newest import newest_reduction
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import get
from wringout.web.units import told_in


def diagnostics(ask: Ask) -> Response:
    """Show every table on whether the newest reduction hangs together."""
    result, current = newest_reduction(ask.store, ask.slug)
    body = None if result is None else result.body
    found = None if body is None else told_in(body.get("diagnostics"))
    return study_page(
        ask, "findings", "Does it hang together", "diagnostics.html", found=found, is_current=current, body=body
    )


def calibration(ask: Ask) -> Response:
    """Show what legs and turns say of the airspeed system, or that none was flown."""
    try:
        body, missing = calibration_document(find_calibration(ask.store, ask.slug)), ""
    except (FitError, BadInputError, NotFoundError) as error:
        body, missing = None, str(error)
    return study_page(
        ask, "findings", "Airspeed calibration", "calibration.html", body=told_in(body), missing=missing,
        lead_words="" if body is None else _sentence(body["points"]),
    )  # fmt: skip


def _sentence(points: list[dict[str, object]]) -> str:
    worst = max(points, key=lambda point: abs(float(str(point["correction"]))))
    correction, (low, high) = float(str(worst["correction"])), worst["interval_95"]  # type: ignore[misc]
    at = f"{float(str(worst['indicated'])):.0f} kt indicated, {worst['configuration']}"
    if low <= 0.0 <= high:  # type: ignore[has-type]
        return f"No error of the airspeed system stands out from its doubt; the largest found is at {at}."
    reads = "less" if correction > 0.0 else "more"
    return f"The airspeed indicator shows up to {abs(correction):.1f} kt {reads} than the calibrated airspeed, at {at}."


AT = "/studies/{slug}"
ROUTES = [get(f"{AT}/diagnostics", diagnostics), get(f"{AT}/calibration", calibration)]
