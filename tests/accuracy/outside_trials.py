"""Repeats of a flight-test programme on an airplane nobody here wrote, taken in as text, fitted, and held to the truth.

A trial is many repeats of one campaign: which recordings are taken. For each quantity it keeps the posterior median and
95 % interval of every repeat beside JSBSim's own value.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.accuracy.outside_programme import (
    GLIDE_ALTITUDE_FT,
    PROGRAMMES,
    STALL_ALTITUDE_FT,
    STEADY,
    Crew,
    Hand,
    Programme,
    airplane_text,
    deceleration,
    last_reading_s,
    new_crew,
    stated_weight_lb,
)
from tests.accuracy.outside_texts import (
    accelerations_text,
    climbs_text,
    deceleration_text,
    glides_text,
    stalls_text,
    timings_text,
)
from tests.outside.costs import cost_area
from tests.outside.flight_dynamics_model import entry_throttle, weight_lb, wing_area_ft2
from tests.outside.polars import clean_parabola, coefficients, stall_kias
from tests.outside.truth import best_rate
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.airplane.vector import FloatArray
from wringout.airspeed import calibrated_from_true, equivalent_from_calibrated
from wringout.estimate.findings import device_areas, stall_speeds
from wringout.estimate.fit import JointFit, fit
from wringout.estimate.posterior import Posterior, draw
from wringout.estimate.problem import StudyRun
from wringout.methods.level_deceleration.method import with_propeller
from wringout.methods.register import method
from wringout.methods.steady_climb import airs_at, steady_rate_mps
from wringout.methods.types import FittedMethod
from wringout.recordings.reader import read_recording
from wringout.units import DEGREE, FOOT, KNOT, POUND, SQUARE_FOOT, STANDARD_GRAVITY

DRAWS, CLIMBED_DRAWS = 400, 150
PLACES = ("entry", "middle", "end")


@dataclass(frozen=True, slots=True)
class Campaign:
    """Which recordings are taken: runs and pairs of each device (how many), and what else is flown.

    With ``thrust_known`` the crew of the glides says how closely it held zero thrust.
    """

    runs: int = 0
    pairs: int = 0
    glides: bool = False
    thrust_known: bool = False
    stalls: bool = False
    climbs: bool = False
    accelerations: bool = False
    devices: tuple[str, ...] = ()

    def moved(self, programme: Programme) -> tuple[str, ...]:
        """Return the devices moved: those named, else all that the programme flies this way."""
        return self.devices or (tuple(programme.back_s) if self.pairs else programme.devices)


THREE_RUNS = Campaign(runs=3)
THREE_PAIRS = Campaign(pairs=3)
GLIDES = Campaign(glides=True)
GLIDES_KNOWN = Campaign(glides=True, thrust_known=True)
STALLS = Campaign(stalls=True)
CLIMBS = Campaign(climbs=True)
ACCELERATIONS = Campaign(accelerations=True)
EVERYTHING = Campaign(runs=3, glides=True, stalls=True, climbs=True)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One quantity over all repeats, arrays (repeats,); ``unit`` is "%" when it is judged relative to the truth."""

    name: str
    unit: str
    truth: float
    value: FloatArray
    low: FloatArray
    high: FloatArray

    @property
    def error(self) -> FloatArray:
        """Error of each repeat: in per cent of the truth, or in its unit."""
        return (self.value / self.truth - 1.0) * 100.0 if self.unit == "%" else self.value - self.truth

    @property
    def rms(self) -> float:
        """Root mean square error."""
        return float(np.sqrt(np.mean(self.error**2)))

    @property
    def bias(self) -> float:
        """Mean error."""
        return float(np.mean(self.error))

    @property
    def held(self) -> float:
        """Share of repeats whose 95 % interval holds the truth."""
        return float(np.mean((self.low <= self.truth) & (self.truth <= self.high)))

    @property
    def half_width(self) -> float:
        """Mean half width of the 95 % interval."""
        half = float(np.mean(self.high - self.low)) / 2.0
        return half / abs(self.truth) * 100.0 if self.unit == "%" else half


# --- one repeat ------------------------------------------------------------------------------------------------


def taken_in(key: str, text: str, beliefs: Beliefs) -> StudyRun:
    """Return a run from the text of its recording."""
    recording = read_recording(text.encode(), f"{key}.csv")
    found = method(recording.header["method"])
    (run,) = found.from_recording(key, recording, {}, beliefs)
    return StudyRun(run, found)


def texts(programme: Programme, campaign: Campaign, crew: Crew) -> dict[str, str]:
    """Return the recordings of one repeat by their key."""
    out: dict[str, str] = {}
    for device in campaign.moved(programme):
        for i in range(campaign.runs):
            entry = programme.entry_kias(device, i)
            out[f"{device}-{i + 1}"] = deceleration_text(programme, device, entry, crew)
        for i in range(campaign.pairs):
            entry = programme.entry_kias(device, i, pair=True)
            out[f"{device}-pair-{i + 1}"] = deceleration_text(programme, device, entry, crew, pair=True)
    if campaign.runs or campaign.pairs:
        out["timings"] = timings_text(programme, crew)
    if campaign.glides:
        out["glides"] = glides_text(programme, crew, thrust_known=campaign.thrust_known)
    if campaign.stalls:
        out["stalls"] = stalls_text(programme, crew)
    if campaign.climbs:
        out["climbs"] = climbs_text(programme, crew)
    if campaign.accelerations:
        out["acceleration"] = accelerations_text(programme, crew)
    return out


def study(programme: Programme, campaign: Campaign, crew: Crew) -> tuple[Beliefs, list[StudyRun]]:
    """Return what is believed and all runs of one repeat, through text."""
    beliefs = airplane_from_document(parse_airplane(airplane_text(programme, crew)))
    return beliefs, [taken_in(key, text, beliefs) for key, text in texts(programme, campaign, crew).items()]


# --- quantities, as found and as true ---------------------------------------------------------------------------


@functools.cache
def speeds_kias(programme_key: str, device: str) -> tuple[float, float, float]:
    """Return entry, middle and last speed of a device's first run in still air."""
    programme = PROGRAMMES[programme_key]
    flight = deceleration(programme, device, programme.entries[device][0], new_crew(0))
    entry = float(flight.kias[flight.time_s <= 0.0][-1])
    end = float(np.interp(last_reading_s(flight), flight.time_s, flight.kias))
    return entry, 0.5 * (entry + end), end


def true_values(programme: Programme, campaign: Campaign) -> dict[str, tuple[float, str]]:
    """Return JSBSim's own value of every quantity a campaign gives, and the unit it is judged in."""
    airplane, key = programme.airplane, programme.airplane.model
    out: dict[str, tuple[float, str]] = {}
    if campaign.runs or campaign.pairs:
        for device in campaign.moved(programme):
            gear = 1.0 if device == "gear" else 0.0
            speeds = speeds_kias(key, device)
            throttle = entry_throttle(programme.entries[device][0], programme.altitude_ft, airplane)
            areas = cost_area(airplane, speeds, programme.altitude_ft, throttle, programme.flap_deg(device), gear)
            for place, area in zip(PLACES, areas, strict=True):
                out[f"{device} {place}"] = float(area), "%"
    if campaign.glides:
        cd0, k = clean_parabola(airplane, programme.glides, GLIDE_ALTITUDE_FT)
        out["CD0"], out["k"] = (cd0, "%"), (k, "%")
    if campaign.stalls:
        for name, flap in (("up", 0.0), *zip(programme.settings, airplane.flap_settings_deg, strict=True)):
            out[f"stall {name}"] = stall_kias(airplane, STALL_ALTITUDE_FT, flap), "kt"
    if campaign.climbs or campaign.accelerations:
        out["best rate"] = best_rate(airplane, programme.climb_altitude_ft, programme.climb_throttle)[0], "kt"
    if campaign.accelerations:
        out["best rate, by hand"] = out["best rate"]
    return out


def found_values(
    programme: Programme, campaign: Campaign, joint: JointFit, posterior: Posterior, stated_lb: float
) -> dict[str, FloatArray]:
    """Return posterior draws of the same quantities, shape (draws,), or fewer where each is dear."""
    airplane, rows = programme.airplane, posterior.rows
    out: dict[str, FloatArray] = {}
    if campaign.runs or campaign.pairs:
        for device in campaign.moved(programme):
            speeds = np.array(speeds_kias(airplane.model, device)) * KNOT
            at = np.asarray(equivalent_from_calibrated(speeds, programme.altitude_ft * FOOT))
            gear = 1.0 if device == "gear" else 0.0
            areas = device_areas(rows, stated_lb * POUND, at, gear, programme.flap_deg(device) * DEGREE)
            for i, place in enumerate(PLACES):
                out[f"{device} {place}"] = areas[:, i] / SQUARE_FOOT
    if campaign.glides:
        both = np.array([_parabola(programme, row, stated_lb * POUND) for row in rows])
        out["CD0"], out["k"] = both[:, 0], both[:, 1]
    if campaign.stalls:
        true_kg = weight_lb(airplane) * POUND
        for name, flap in (("up", 0.0), *zip(programme.settings, airplane.flap_settings_deg, strict=True)):
            out[f"stall {name}"] = stall_speeds(rows, true_kg, flap * DEGREE) / KNOT
    if campaign.climbs or campaign.accelerations:
        out["best rate"] = _best_rate_draws(programme, joint, posterior, stated_lb * POUND)
    return out


def _parabola(programme: Programme, row: FloatArray, stated_kg: float) -> tuple[float, float]:
    """CD0 and k of a candidate by least squares at the lift coefficients of the glide speeds, as the truth's are."""
    wing_m2 = wing_area_ft2(programme.airplane) * SQUARE_FOOT
    cl = np.array([coefficients(programme.airplane, s, GLIDE_ALTITUDE_FT)[0] for s in programme.glides])
    weight = stated_kg * float(row[v.MASS_FACTOR]) * STANDARD_GRAVITY
    cd = []
    for one in cl:
        pressure = weight / (one * wing_m2)
        speed = float(np.sqrt(2.0 * pressure / 1.225))
        cd.append(forces.drag(row, speed, 1.225, weight, 0.0, 0.0) / (pressure * wing_m2))
    k, cd0 = np.polyfit(cl**2, cd, 1)
    return float(cd0), float(k)


def _best_rate_draws(programme: Programme, joint: JointFit, posterior: Posterior, stated_kg: float) -> FloatArray:
    """Speed of best rate, knots calibrated, of each draw, at the power and with the propeller of its climbs.

    Without climbs those of the level acceleration are taken.
    """
    keys = [r.method.key for r in joint.problem.runs]
    i = keys.index("climb" if "climb" in keys else "level acceleration")
    run = joint.problem.runs[i].run
    shaft = float(np.mean(run.points.shaft_w if keys[i] == "climb" else run.power.shaft_w))
    knots = np.arange(programme.climbs[0] - 24.0, programme.climbs[-1] + 40.0, 4.0)
    same = np.ones(knots.size)
    airs = airs_at(knots * KNOT, programme.climb_altitude_ft * FOOT * same, 0.0 * same, 0.0 * same)
    out = []
    for z, row in zip(posterior.z[:CLIMBED_DRAWS], posterior.rows[:CLIMBED_DRAWS], strict=True):
        named = dict(zip((n.key for n in joint.problem.nuisances[i]), joint.problem.nuisance(z, i), strict=True))
        moved = with_propeller(row, float(named["propeller"]))
        power = float(moved[v.DISK_EFFICIENCY]) * shaft * float(named["power factor"])
        mass = stated_kg * float(row[v.MASS_FACTOR])
        rates = [
            steady_rate_mps(moved, a, mass, 0.0, 0.0, float(forces.thrust(moved, power, a.speed_mps, a.density_kgm3)))
            for a in airs
        ]
        at = int(np.clip(np.argmax(rates), 1, knots.size - 2))
        low, middle, high = rates[at - 1 : at + 2]
        bend = low - 2.0 * middle + high
        out.append(knots[at] + (2.0 * (low - high) / bend if bend < 0.0 else 0.0))
    return np.array(out)


# --- many repeats ------------------------------------------------------------------------------------------------


def repeat(
    programme: Programme, campaign: Campaign, seed: int, severity: int = 0, hand: Hand = STEADY
) -> dict[str, tuple[float, float, float]]:
    """Return median and 95 % interval (value, low, high) of every quantity of one repeat."""
    return reduced(programme, campaign, new_crew(seed, severity, hand=hand), seed)


def reduced(
    programme: Programme, campaign: Campaign, crew: Crew, seed: int = 1
) -> dict[str, tuple[float, float, float]]:
    """Return what `repeat` does, for what one crew wrote down."""
    beliefs, runs = study(programme, campaign, crew)
    joint = fit(beliefs, runs)
    posterior = draw(joint, DRAWS, seed)
    found = found_values(programme, campaign, joint, posterior, stated_weight_lb(programme, crew))
    table = {name: np.percentile(x, [50.0, 2.5, 97.5]).tolist() for name, x in found.items()}
    out = {name: (a, b, c) for name, (a, b, c) in table.items()}
    if campaign.accelerations:
        out |= best_rates_said(programme, joint, posterior)
    return out


def best_rates_said(
    programme: Programme, joint: JointFit, posterior: Posterior
) -> dict[str, tuple[float, float, float]]:
    """Return the speeds of best rate that the workbench reads off the last run, an acceleration, knots calibrated.

    By the curve of speed alone, and by the fitted airplane, each with its interval.
    """
    i = len(joint.problem.runs) - 1
    run, acceleration = joint.problem.runs[i].run, joint.problem.runs[i].method
    assert isinstance(acceleration, FittedMethod)
    results = acceleration.by_hand(run, joint.problem.beliefs)
    own = np.array([joint.problem.nuisance(z, i) for z in posterior.z])
    results += acceleration.from_fit(run, posterior.rows, own, results)
    values = {one.key: one.value for one in results}
    said = {"best rate": values["best-rate speed, fitted"], "best rate, by hand": values["best-rate speed"]}
    out = {}
    for name, value in said.items():
        true = np.maximum(np.array([value.value, *value.interval()]), 1.0) * KNOT
        middle, low, high = (calibrated_from_true(true, programme.climb_altitude_ft * FOOT, 0.0) / KNOT).tolist()
        out[name] = middle, low, high
    return out


def outcomes(
    programme: Programme, campaign: Campaign, repeats: Sequence[dict[str, tuple[float, float, float]]]
) -> list[Outcome]:
    """Return every quantity of the repeats beside its truth."""
    out = []
    for name, (truth, unit) in true_values(programme, campaign).items():
        table = np.array([one[name] for one in repeats])
        out.append(Outcome(name, unit, truth, table[:, 0], table[:, 1], table[:, 2]))
    return out


@functools.cache
def trial(model: str, campaign: Campaign, repeats: int, severity: int = 0) -> dict[str, Outcome]:
    """Return every quantity over so many repeats of a campaign, by name."""
    programme = PROGRAMMES[model]
    made = [repeat(programme, campaign, seed, severity) for seed in range(1, repeats + 1)]
    return {one.name: one for one in outcomes(programme, campaign, made)}
