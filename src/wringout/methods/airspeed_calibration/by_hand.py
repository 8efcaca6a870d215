"""What a calibration point says: true airspeed, wind and the position correction, with intervals and warnings."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy import stats

from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_indicated, calibrated_from_true
from wringout.methods.airspeed_calibration.build import UNKNOWNS, arc_of
from wringout.methods.airspeed_calibration.circle import FloatArray, WindCircle, fit_circle
from wringout.methods.airspeed_calibration.run import TEMPERATURE_SD_K, CalibrationRun, legs_of
from wringout.methods.types import HandResult
from wringout.propagation import Measured
from wringout.units import DEGREE, FOOT, KNOT

WIDE_DILUTION = 2.0
ALTITUDE_SPREAD_M = 200.0 * FOOT
SPEED_SPREAD_MPS = 3.0 * KNOT
SAME_TRACK_RAD = 15.0 * DEGREE
DOUBTFUL = 0.01
"""Probability below which a disagreement is not put down to chance."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """One calibrated point.

    ``correction`` is calibrated less indicated airspeed in m/s (instrument error included, since the dial was read);
    ``true_airspeed`` and ``wind_speed`` are in m/s, ``wind_from`` in rad, or None where the wind is too light to have a
    direction. ``scale`` is by how much the stated standard deviations were widened because the legs disagree, 1 if they
    do not. ``warnings`` are sentences.
    """

    indicated_mps: float
    calibrated_mps: float
    correction: Measured
    true_airspeed: Measured
    wind_speed: Measured
    wind_from: Measured | None
    circle: WindCircle
    scale: float
    warnings: tuple[str, ...]


def calibrate(run: CalibrationRun) -> Calibration:
    """Return what a run says of its airspeed system.

    The stated standard deviations are used as known. Where the legs disagree by more than chance (1 %), the interval is
    widened by the disagreement, with Student's t of its degrees of freedom.
    """
    circle = fit_circle(legs_of(run))
    scale, dof = _scale(run, circle)
    indicated = float(np.mean(run.ias_mps))
    true = _measured(circle, np.array([1.0, 0.0, 0.0]), circle.true_airspeed_mps, "m/s", scale, dof)
    calibrated, correction = _correction(run, true, indicated)
    speed = circle.wind_speed_mps
    along = np.array([0.0, *circle.wind_mps]) / max(speed, 1e-9)
    wind = _measured(circle, along, speed, "m/s", scale, dof)
    direction = None
    if speed > 2.0 * wind.standard_uncertainty:
        turn = np.array([0.0, circle.wind_mps[1], -circle.wind_mps[0]]) / speed**2
        direction = _measured(circle, turn, circle.wind_from_rad, "rad", scale, dof)
    return Calibration(
        indicated, calibrated, correction, true, wind, direction, circle, scale, _warnings(run, circle, scale)
    )


def _scale(run: CalibrationRun, circle: WindCircle) -> tuple[float, float]:
    """Return the factor on the stated standard deviations, and degrees of freedom."""
    if run.logged:
        return 1.0, max(run.worth - UNKNOWNS, 2.0)
    if circle.dof > 0 and stats.chi2.sf(circle.chi_square, circle.dof) < DOUBTFUL:
        return math.sqrt(circle.chi_square / circle.dof), float(circle.dof)
    return 1.0, math.inf


def _measured(circle: WindCircle, gradient: FloatArray, value: float, unit: str, scale: float, dof: float) -> Measured:
    """Return a linear function of airspeed and wind with its budget by source of error."""
    budget = {name: scale * math.sqrt(float(gradient @ share @ gradient)) for name, share in circle.shares.items()}
    return Measured(value, scale * math.sqrt(float(gradient @ circle.covariance @ gradient)), unit, budget, dof)


def _correction(run: CalibrationRun, true: Measured, indicated: float) -> tuple[float, Measured]:
    """Return the calibrated airspeed and the correction, m/s; the temperature joins the sources of error."""
    altitude, deviation = float(np.mean(run.pressure_altitude_m)), float(np.mean(run.isa_deviation_k))

    def calibrated(speed: float, warmer: float) -> float:
        return float(calibrated_from_true(speed, altitude, deviation + warmer))

    here = calibrated(true.value, 0.0)
    slope = calibrated(true.value + 0.5, 0.0) - calibrated(true.value - 0.5, 0.0)
    warm = 0.5 * abs(calibrated(true.value, TEMPERATURE_SD_K) - calibrated(true.value, -TEMPERATURE_SD_K))
    budget = {name: slope * part for name, part in true.budget.items()} | {"temperature": warm}
    total = math.hypot(slope * true.standard_uncertainty, warm)
    dof = true.dof if math.isinf(true.dof) else true.dof * (total / (slope * true.standard_uncertainty)) ** 4
    return here, Measured(here - indicated, total, "m/s", budget, dof)


def _warnings(run: CalibrationRun, circle: WindCircle, scale: float) -> tuple[str, ...]:
    said = []
    if circle.dilution > WIDE_DILUTION:
        said.append(
            f"The tracks lie within {arc_of(run.track_rad) / DEGREE:.0f} deg, so the interval is "
            f"{circle.dilution:.1f} times as wide as with headings spread evenly."
        )
    said += [sentence for sentence in (_drift(run, circle), _returned(run, circle)) if sentence]
    if scale > 1.0:
        rms = math.sqrt(float(np.mean(circle.residual_mps**2))) / KNOT
        said.append(
            f"No one wind and airspeed fit the legs (they miss the circle by {rms:.1f} kt): the wind drifted, or speed "
            f"or altitude were not held; the interval is {scale:.1f} times as wide for it."
        )
    height = float(np.ptp(run.pressure_altitude_m))
    if height > ALTITUDE_SPREAD_M:
        said.append(
            f"The altitude differed by {height / FOOT:.0f} ft between legs; the airspeeds are corrected for it, but "
            "the wind changes with height."
        )
    speeds = float(np.ptp(run.ias_mps))
    if speeds > SPEED_SPREAD_MPS and not run.logged:
        said.append(
            f"The indicated airspeeds differ by {speeds / KNOT:.0f} kt; each leg is corrected for its own, but the "
            "position error is taken as the same."
        )
    return tuple(said)


def _returned(run: CalibrationRun, circle: WindCircle) -> str:
    """Say by how much the ground speed changed between two legs on about the same track, if by too much."""
    if run.logged:
        return ""
    left, sd = circle.residual_mps, circle.residual_sd_mps
    worst, at = 0.0, (0, 0)
    for i in range(left.size):
        for j in range(i + 1, left.size):
            apart = math.remainder(float(run.track_rad[j] - run.track_rad[i]), 2.0 * math.pi)
            change = abs(float(left[j] - left[i]))
            if abs(apart) <= SAME_TRACK_RAD and change > max(3.0 * math.hypot(float(sd[i]), float(sd[j])), worst):
                worst, at = change, (i, j)
    if not worst:
        return ""
    first, second = (int(run.rows[k]) for k in at)
    return (
        f"On about the same track the ground speed changed by {worst / KNOT:.0f} kt between rows {first} and {second}: "
        "the wind drifted."
    )


def _drift(run: CalibrationRun, circle: WindCircle) -> str:
    """Say how the wind changed through the run, if a steady change explains the residuals clearly better."""
    change, gain = circle.drift_mps, 0.0
    if run.logged:
        gain = float(change @ np.linalg.solve(circle.drift_covariance, change))
    else:
        change, gain = _drift_of_legs(run, circle)
    size = float(np.hypot(*change))
    if size < 0.5 * KNOT or stats.chi2.sf(gain, 2) > DOUBTFUL:
        return ""
    return f"The wind changed by about {size / KNOT:.0f} kt during the run; the answer is that of its mean wind."


def _drift_of_legs(run: CalibrationRun, circle: WindCircle) -> tuple[FloatArray, float]:
    """Return the steady change of the wind that legs in their order suggest, and by how much chi-square falls."""
    n, none = run.ias_mps.size, np.zeros(2)
    order = run.time_s if np.isfinite(run.time_s).all() else np.arange(float(n))
    span = float(np.ptp(order))
    if n < 6 or span <= 0.0:
        return none, 0.0
    when = (order - float(np.mean(order))) / span
    air = legs_of(run).velocity_mps - circle.wind_mps
    unit = air / np.hypot(air[:, 0], air[:, 1])[:, None]
    design = np.column_stack([np.ones(n), unit, unit * when[:, None]]) / circle.residual_sd_mps[:, None]
    if np.linalg.matrix_rank(design) < 5:
        return none, 0.0
    residual = circle.residual_mps / circle.residual_sd_mps
    answer, *_ = np.linalg.lstsq(design, residual, rcond=None)
    return np.asarray(answer[3:], dtype=np.float64), float(
        np.sum(residual**2) - np.sum((residual - design @ answer) ** 2)
    )


def hand_results(run: CalibrationRun, beliefs: Beliefs) -> list[HandResult]:
    """Return position correction, true airspeed and wind, then the average of ground speeds that people quote."""
    found = calibrate(run)
    speed = found.true_airspeed.value
    out = [
        HandResult(
            "position correction",
            "Calibrated less indicated airspeed",
            1,
            False,
            _in_knots(found.correction),
            speed,
            _correction_sentence(run, found, beliefs),
        ),
        HandResult(
            "true airspeed", "True airspeed", 1, False, _in_knots(found.true_airspeed), speed, _airspeed_sentence(run)
        ),
        HandResult("wind", "Wind speed", 1, False, _in_knots(found.wind_speed), speed, _wind_sentence(found)),
    ]
    if found.wind_from is not None:
        degrees = _scaled(found.wind_from, 1.0 / DEGREE, "deg")
        out.append(
            HandResult("wind direction", "Wind from", 1, False, degrees, speed, "In the degrees the tracks are in.")
        )
    return [*out, _average(run, found)]


def _scaled(value: Measured, factor: float, unit: str) -> Measured:
    budget: Mapping[str, float] = {name: factor * part for name, part in value.budget.items()}
    return replace(
        value,
        value=factor * value.value,
        standard_uncertainty=factor * value.standard_uncertainty,
        unit=unit,
        budget=budget,
    )


def _in_knots(value: Measured) -> Measured:
    return _scaled(value, 1.0 / KNOT, "kt")


def _correction_sentence(run: CalibrationRun, found: Calibration, beliefs: Beliefs) -> str:
    table = beliefs.instrument.position_error
    said = (
        f"At {found.indicated_mps / KNOT:.0f} kt indicated the calibrated airspeed is "
        f"{found.calibrated_mps / KNOT:.1f} kt; position and instrument error together, since a dial was read."
    )
    if table.rows:
        believed = float(
            calibrated_from_indicated(found.indicated_mps, table, run.flap_rad / DEGREE, run.gear) - found.indicated_mps
        )
        low, high = found.correction.interval()
        fits = "agrees with this" if low <= believed <= high else "lies outside the interval"
        said += f" The airplane file says {believed / KNOT:+.1f} kt, which {fits}."
    return " ".join([said, *found.warnings])


def _airspeed_sentence(run: CalibrationRun) -> str:
    if run.logged:
        return (
            "Radius of the circle that the ground velocities of the turn lie on; the interval comes from their "
            "scatter, with neighbours that go together counted once."
        )
    n = run.ias_mps.size
    if n == 3:
        return "Radius of the circle through the ground velocities of the three legs; the interval is the readings'."
    return f"Radius of the circle nearest to the ground velocities of the {n} legs, by least squares."


def _wind_sentence(found: Calibration) -> str:
    said = "Centre of the same circle; a wind of the air's mean over the legs."
    if found.wind_from is None:
        said += " It is too light to have a direction."
    if math.isfinite(found.circle.heading_offset_rad):
        offset = found.circle.heading_offset_rad / DEGREE
        said += f" The headings read {offset:+.0f} deg from the directions through the air (compass, variation)."
    return said


def _average(run: CalibrationRun, found: Calibration) -> HandResult:
    mean = float(np.mean(run.ground_speed_mps))
    sd = float(np.hypot(run.ground_speed_sd_mps, run.airspeed_sd_mps)) / math.sqrt(run.ias_mps.size)
    return HandResult(
        "average ground speed",
        "Average of the ground speeds",
        4,
        False,
        Measured(mean / KNOT, sd / KNOT, "kt", {"readings": sd / KNOT}),
        found.true_airspeed.value,
        "Shown because people quote it; it is not an airspeed, since across the wind the ground speed and the airspeed "
        f"differ: here it is {(mean - found.true_airspeed.value) / KNOT:+.1f} kt from the true airspeed, and its "
        "interval knows nothing of that. Never average ground speeds over four headings.",
    )
