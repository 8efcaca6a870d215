"""The reduction of a study: all runs to one airplane, and from it every finding, curve and report of a run.

A pure function of the beliefs, the runs, the number of draws and a seed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.airplane.vector import FloatArray
from wringout.airspeed import equivalent_from_calibrated
from wringout.estimate.chain import better_draws
from wringout.estimate.chain import second_opinion as ask_again
from wringout.estimate.diagnostics import Diagnostics, diagnose
from wringout.estimate.findings import DragCurve, Evidence, Finding, device_areas, drag_curve, summarise
from wringout.estimate.fit import Flag, JointFit, fit
from wringout.estimate.linear import linearise
from wringout.estimate.posterior import Learned, Posterior, draw, learned
from wringout.estimate.problem import StudyRun
from wringout.estimate.stall_findings import STALLS, stall_findings
from wringout.estimate.strengths import RunReport, reports
from wringout.methods.level_deceleration.run import DecelerationRun, calibrated_readings
from wringout.recordings.types import Device
from wringout.units import DEGREE, FOOT_PER_MINUTE

FROZEN_POWER = ("level deceleration", "out and back")
TIMINGS = "transit timing"
CURVE_POINTS = 25
PRIOR_DRAWS_SEED_OFFSET = 1_000_003


@dataclass(frozen=True, slots=True)
class QuotedSpeeds:
    """The speeds a device's drag is quoted at: entry, middle and end of its runs, calibrated m/s."""

    entry_mps: float
    middle_mps: float
    end_mps: float


@dataclass(frozen=True, slots=True)
class Reduction:
    """Everything a study's runs say of its airplane. ``mass_kg`` is the mass findings are quoted at."""

    beliefs: Beliefs
    joint: JointFit
    posterior: Posterior
    learned: tuple[Learned, ...]
    findings: tuple[Finding, ...]
    curves: tuple[DragCurve, ...]
    reports: tuple[RunReport, ...]
    diagnostics: Diagnostics
    mass_kg: float
    seed: int

    def finding(self, key: str) -> Finding:
        """Return the finding of that key; raises KeyError."""
        for finding in self.findings:
            if finding.key == key:
                return finding
        raise KeyError(key)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What a reader must know of the fit as a whole, in sentences."""
        said = []
        if not self.joint.settled:
            said.append(
                f"After {self.joint.rounds} rounds of the fit the flagged readings or the noise still changed from one "
                "round to the next; look at the flagged readings and set aside what is wrong."
            )
        if self.joint.air.rough:
            strength = self.joint.air.strength_mps / FOOT_PER_MINUTE
            said.append(
                f"The air moved up and down by about {strength:.0f} ft/min on the mean over a minute; the speeds of a "
                "level run err together in such air, and the intervals are the wider for it."
            )
        return tuple(said)

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Readings that do not belong to their curve."""
        return self.joint.flags

    @property
    def exceedances(self) -> tuple[tuple[str, Exceedance], ...]:
        """Limit exceedances as (run key, exceedance)."""
        return tuple((report.key, e) for report in self.reports for e in report.exceedances)


Progress = Callable[[float, str], None]


def reduce_runs(
    beliefs: Beliefs,
    runs: Sequence[StudyRun],
    draws: int = 4000,
    seed: int = 1,
    progress: Progress | None = None,
    second_opinion: bool = False,
) -> Reduction:
    """Reduce a study. Raises FitError when there is nothing to reduce or the fit fails.

    With ``second_opinion`` the draws are weighed by their exact density (seconds) or, where weights fail, a Markov
    chain is run (a minute or so), and its draws are used where they differ from the Gaussian approximation.
    """

    def step(low: float, high: float) -> Progress:
        return lambda share, words: progress(low + (high - low) * share, words) if progress else None

    joint = fit(beliefs, runs, step(0.0, 0.4))
    chain = ask_again(joint, seed, step(0.4, 0.5)) if second_opinion else None
    posterior = draw(joint, draws, seed) if chain is None else better_draws(joint, chain, draws, seed)
    step(0.5, 0.6)(1.0, "posterior draws")
    prior = _prior_rows(beliefs, min(draws, 2000), seed + PRIOR_DRAWS_SEED_OFFSET)
    evidence = Evidence(joint, linearise(joint), posterior)
    mass = _typical_mass(runs, beliefs)
    findings, curves = _device_findings(evidence, prior, runs, mass)
    findings += stall_findings(evidence, prior, runs)
    findings += _parameter_findings(evidence, prior, runs)
    return Reduction(
        beliefs=beliefs,
        joint=joint,
        posterior=posterior,
        learned=tuple(learned(joint)),
        findings=tuple(findings),
        curves=tuple(curves),
        reports=reports(joint, runs, step(0.6, 1.0)),
        diagnostics=diagnose(joint, evidence.line, mass, chain),
        mass_kg=mass,
        seed=seed,
    )


def _prior_rows(beliefs: Beliefs, n: int, seed: int) -> FloatArray:
    rng = np.random.default_rng(seed)
    return np.array([beliefs.row_from_latent(z) for z in rng.standard_normal((n, len(beliefs.parameters)))])


def _decelerations(runs: Sequence[StudyRun]) -> list[DecelerationRun]:
    """Return the runs in which a device moved at frozen power, single ones and pairs out and back."""
    return [r.run for r in runs if r.method.key in FROZEN_POWER]


def _typical_mass(runs: Sequence[StudyRun], beliefs: Beliefs) -> float:
    """Return the mean mass of the decelerations, kg; without any, nine tenths of the maximum."""
    masses = [run.conditions.mass_kg for run in _decelerations(runs)]
    return float(np.mean(masses)) if masses else 0.9 * beliefs.limits.max_mass_kg


def _speeds(runs: Sequence[DecelerationRun], beliefs: Beliefs) -> QuotedSpeeds:
    """Return entry, middle and end calibrated speed over runs of one device, as read."""
    entries, ends = [], []
    for run in runs:
        speeds = calibrated_readings(run, beliefs.instrument.position_error)
        entries.append(np.mean(speeds[run.time_s <= max(run.moves[0].select_s, run.time_s[0])]))
        last = run.moves[1].select_s if len(run.moves) > 1 else np.inf
        ends.append(np.mean(speeds[run.time_s < last][-2:]))
    entry, end = float(np.mean(entries)), float(min(ends))
    return QuotedSpeeds(entry, 0.5 * (entry + end), end)


def _device_findings(
    evidence: Evidence, prior: FloatArray, runs: Sequence[StudyRun], mass: float
) -> tuple[list[Finding], list[DragCurve]]:
    beliefs = evidence.joint.problem.beliefs
    flown = _decelerations(runs)
    findings: list[Finding] = []
    curves: list[DragCurve] = []
    at_middle: dict[str, tuple[FloatArray, tuple[str, ...]]] = {}
    devices: list[tuple[str, str, float, float]] = [("gear", "gear", 1.0, 0.0)] if beliefs.retractable else []
    devices += [(f"flaps.{s.name}", f"flaps {s.name}", 0.0, s.angle_rad) for s in beliefs.settings[1:]]
    for key, label, gear, flap in devices:
        own = [r for r in flown if _is_first_move(r, gear, flap)]
        if not own:
            continue
        speeds, names = _speeds(own, beliefs), tuple(r.key for r in own)
        for place, speed in (("entry", speeds.entry_mps), ("middle", speeds.middle_mps), ("end", speeds.end_mps)):
            at = np.array([float(equivalent_from_calibrated(speed, own[0].conditions.pressure_altitude_m))])
            values = device_areas(evidence.posterior.rows, mass, at, gear, flap)[:, 0]
            before = device_areas(prior, mass, at, gear, flap)[:, 0]
            title = f"drag area of {label}, {place} speed"
            findings.append(
                summarise(f"area.{key}.{place}", title, "ft2", values, evidence, names, before, speed, mass)
            )
            if place == "middle":
                at_middle[key] = (values, names)
        low, high = max(min(speeds.end_mps, speeds.entry_mps), 20.0), max(speeds.entry_mps, speeds.end_mps)
        grid = np.linspace(low, high + 1e-6, CURVE_POINTS)
        curves.append(drag_curve(key, label, evidence.posterior.rows, mass, grid, gear, flap, names))
    findings += _ratio_findings(evidence, prior, beliefs, at_middle, flown, mass)
    return findings, curves


def _is_first_move(run: DecelerationRun, gear: float, flap: float) -> bool:
    """Return whether a run starts clean and first sends out just this device."""
    move = run.moves[0]
    if run.entry_gear != 0.0 or run.entry_flap_rad != 0.0:
        return False
    if move.device is Device.GEAR:
        return gear == 1.0 and move.to_position == 1.0
    return gear == 0.0 and abs(move.to_position - flap) < 0.5 * DEGREE


def _ratio_findings(
    evidence: Evidence,
    prior: FloatArray,
    beliefs: Beliefs,
    at_middle: dict[str, tuple[FloatArray, tuple[str, ...]]],
    flown: Sequence[DecelerationRun],
    mass: float,
) -> list[Finding]:
    """Return full flap over gear at one common speed, and how far the two do not add."""
    full = beliefs.settings[-1]
    key = f"flaps.{full.name}"
    if "gear" not in at_middle or key not in at_middle:
        return []
    names = at_middle["gear"][1] + at_middle[key][1]
    own = [r for r in flown if r.key in at_middle[key][1]]
    speed = _speeds(own, beliefs).middle_mps
    at = np.array([float(equivalent_from_calibrated(speed, own[0].conditions.pressure_altitude_m))])

    def ratio(rows: FloatArray) -> FloatArray:
        flaps = device_areas(rows, mass, at, 0.0, full.angle_rad)[:, 0]
        return flaps / device_areas(rows, mass, at, 1.0, 0.0)[:, 0]

    def missing(rows: FloatArray) -> FloatArray:
        both = device_areas(rows, mass, at, 1.0, full.angle_rad)[:, 0]
        apart = device_areas(rows, mass, at, 0.0, full.angle_rad)[:, 0] + device_areas(rows, mass, at, 1.0, 0.0)[:, 0]
        return both - apart

    title = f"drag of flaps {full.name} over drag of gear"
    return [
        summarise(
            "ratio.flaps_gear", title, "", ratio(evidence.posterior.rows), evidence, names, ratio(prior), speed, mass
        ),
        summarise(
            "interaction.area",
            f"gear and flaps {full.name} together, less their sum",
            "ft2",
            missing(evidence.posterior.rows),
            evidence,
            [r.key for r in flown if len({m.device for m in r.moves}) > 1 or r.entry_gear or r.entry_flap_rad],
            missing(prior),
            speed,
            mass,
        ),
    ]


def _parameter_findings(evidence: Evidence, prior: FloatArray, runs: Sequence[StudyRun]) -> list[Finding]:
    """Return travel times, and where flap travel buys lift and drag."""
    beliefs = evidence.joint.problem.beliefs
    timed = tuple(r.run.key for r in runs if r.method.key == TIMINGS)
    out = []
    places = [
        ("flap_down_time", "flap travel, up to full", v.FLAP_DOWN_TIME),
        ("flap_up_time", "flap travel, full to up", v.FLAP_UP_TIME),
    ]
    if beliefs.retractable:
        places += [
            ("gear_down_time", "gear travel down", v.GEAR_DOWN_TIME),
            ("gear_up_time", "gear travel up", v.GEAR_UP_TIME),
        ]
    if timed:
        for key, label, place in places:
            out.append(summarise(key, label, "s", evidence.posterior.rows[:, place], evidence, timed, prior[:, place]))
    if len(beliefs.settings) > 2:
        out += _travel_findings(evidence, prior, runs)
    return out


def _travel_findings(evidence: Evidence, prior: FloatArray, runs: Sequence[StudyRun]) -> list[Finding]:
    """Return the share of full flap's lift gain and drag area already had at the middle setting."""
    settings = evidence.joint.problem.beliefs.settings
    i, last = len(settings) // 2, len(settings) - 1
    stalled = tuple(r.run.key for r in runs if r.method.key == STALLS)
    slowed = tuple(run.key for run in _decelerations(runs))

    def lift(rows: FloatArray) -> FloatArray:
        clean = rows[:, v.CL_MAXES]
        return (rows[:, v.CL_MAXES + i] - clean) / (rows[:, v.CL_MAXES + last] - clean)

    def drag(rows: FloatArray) -> FloatArray:
        return rows[:, v.F_FLAPS + i] / rows[:, v.F_FLAPS + last]

    name = settings[i].name
    return [
        summarise(
            "share.lift",
            f"share of full flap's lift had at {name}",
            "",
            lift(evidence.posterior.rows),
            evidence,
            stalled,
            lift(prior),
        ),
        summarise(
            "share.drag",
            f"share of full flap's drag had at {name}",
            "",
            drag(evidence.posterior.rows),
            evidence,
            slowed,
            drag(prior),
        ),
    ]
