"""The calibration of the airspeed system that a study's legs and turns give, for the airplane file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wringout.airplane.beliefs import Beliefs
from wringout.errors import FitError
from wringout.methods.airspeed_calibration.run import KEY
from wringout.methods.airspeed_calibration.table import TablePoint, position_error_toml, table_points
from wringout.methods.steady_points import configuration_words
from wringout.services.airplane.airplanes import study_airplane
from wringout.services.flights.runs import built_runs
from wringout.services.kept_numbers import number, shown
from wringout.services.opening import the_study
from wringout.store import RunState, Store, Study
from wringout.units import DEGREE

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Calibration:
    """What was found: a point for each configuration and speed, and the blocks for the airplane file."""

    study: Study
    beliefs: Beliefs
    points: tuple[TablePoint, ...]
    toml: str


def find_calibration(store: Store, slug: str | None) -> Calibration:
    """Return the calibration of the airspeed system from all airspeed calibrations in use.

    Raises:
        FitError: none is in use.
        BadInputError: none was flown clean, or calibrated would not rise with indicated airspeed.
        NotFoundError: there is no such study, or it has no airplane.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        beliefs = study_airplane(view, study.id).beliefs
        flown = [
            item.run
            for built in built_runs(view, study.id)
            if built.stored.state is RunState.IN_USE and built.stored.method == KEY
            for item in built.built
        ]
    if not flown:
        raise FitError("no airspeed calibration is in use yet", advice="take in legs at three or more headings first")
    return Calibration(study, beliefs, tuple(table_points(flown)), position_error_toml(flown, beliefs))


def calibration_document(found: Calibration) -> Json:
    """Return the points, indicated airspeeds with what is to be added to them, and the TOML blocks."""
    return {"points": [_point(point, found.beliefs) for point in found.points], "toml": found.toml}


def _point(point: TablePoint, beliefs: Beliefs) -> Json:
    value, half = float(shown(point.correction_mps, "kt") or 0.0), 1.96 * float(shown(point.sd_mps, "kt") or 0.0)
    return {
        "configuration": configuration_words(point.flap_deg * DEGREE, point.gear, beliefs),
        "unit": "kt",
        "indicated": shown(point.indicated_mps, "kt"),
        "correction": value,
        "interval_95": [number(value - half), number(value + half)],
        "runs": list(point.runs),
    }
