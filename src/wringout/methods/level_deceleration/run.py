"""What a level deceleration is once taken from a recording: readings, moves, and the geometry of both. SI units."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import (
    PositionErrorTable,
    calibrated_from_indicated,
    indicated_from_calibrated,
    true_from_calibrated,
)
from wringout.atmosphere import standard_temperature_k
from wringout.methods.types import Conditions, FloatArray, IntArray, Source
from wringout.recordings.types import Device
from wringout.units import DEGREE, FOOT, KNOT

KEY = "level deceleration"
SETTLING_SD_MPS2 = 0.01
"""How far from steady an entry called stable may be, standard deviation [m/s2] (judged, no source)."""
SEEN_CLIMB_SD_MPS = 0.05
"""Doubt left in the climb rate when the altitude was read through the run [m/s] (judged, no source)."""

ALTITUDE_READING_SD_M = 5.0 * FOOT
"""Standard deviation of an altitude read to half a division of 20 ft [m] (judged, no source)."""
LEAST_ENTRY_MPS = 20.0
"""Slowest true entry speed a candidate may have, so that the equation of motion keeps its meaning [m/s]."""
MOST_OF_RUN = 0.7
"""Share of a run over which altitude must have been read to be followed (judged)."""


@dataclass(frozen=True, slots=True)
class Move:
    """A device sent from one position to another: gear 0..1, flaps in radians. ``arrived_s`` if it was called."""

    device: Device
    select_s: float
    from_position: float
    to_position: float
    arrived_s: float | None
    row: int


@dataclass(frozen=True, slots=True)
class DecelerationRun:
    """One near-level run at frozen power. Times in s from its first reading; indicated airspeeds in m/s, shape (n,).

    ``altitude_m`` is NaN where no altitude was read; ``geometric`` tells GPS heights from pressure altitudes.
    ``whole_units_mps`` is the step the dial was read to; ``clock_sd_s`` how well marks and readings share a clock.
    """

    key: str
    title: str
    source: Source
    conditions: Conditions
    time_s: FloatArray
    ias_mps: FloatArray
    altitude_m: FloatArray
    rows: IntArray
    moves: tuple[Move, ...]
    entry_gear: float
    entry_flap_rad: float
    whole_units_mps: float = KNOT
    method: str = KEY
    geometric: bool = False
    clock_sd_s: float = 0.0


def title_of(moves: tuple[Move, ...], beliefs: Beliefs) -> str:
    """Return what was flown in words, such as "gear down, then flaps full"."""
    words = []
    for move in moves:
        if move.device is Device.GEAR:
            words.append("gear down" if move.to_position > 0.5 else "gear up")
        else:
            setting = min(beliefs.settings, key=lambda s: abs(s.angle_rad - move.to_position))
            words.append(f"flaps {setting.name}")
    return ", then ".join(words)


def resolution_of(speeds_mps: FloatArray) -> float:
    """Return the step readings were taken to: whole knots, whole mph or whole km/h when all fit; else 0."""
    for unit in (KNOT, 0.44704, 1.0 / 3.6):
        if np.allclose(speeds_mps / unit, np.round(speeds_mps / unit), atol=1e-3):
            return unit
    return 0.0


def entry_speed_mps(run: DecelerationRun) -> float:
    """Return true airspeed as read, m/s, before the first move: mean of readings up to it, else the first reading.

    The candidate airplane takes its own indicator bias from it, so that reading it says nothing of the bias.
    """
    before = run.ias_mps[run.time_s <= run.moves[0].select_s + 0.5]
    ias = float(np.mean(before)) if before.size else float(run.ias_mps[0])
    air = run.conditions
    return float(true_from_calibrated(ias, air.pressure_altitude_m, air.isa_deviation_k))


def true_per_indicated(run: DecelerationRun) -> float:
    """Return true over calibrated airspeed in the run's air, near its entry speed."""
    air = run.conditions
    return _true_per_calibrated(air.pressure_altitude_m, air.isa_deviation_k)


@lru_cache(maxsize=256)
def _true_per_calibrated(pressure_altitude_m: float, isa_deviation_k: float) -> float:
    """Return it in one piece of air; a fit asks for that of the same few runs thousands of times."""
    at = 50.0
    return float(true_from_calibrated(at, pressure_altitude_m, isa_deviation_k)) / at


def true_entries_mps(run: DecelerationRun, rows: FloatArray, as_read_mps: FloatArray) -> FloatArray:
    """Return true entry speeds, m/s, of k candidates from those as read (k,): less their own indicator bias."""
    biases = rows[:, v.IAS_BIAS] * true_per_indicated(run)
    return np.maximum(as_read_mps - biases, LEAST_ENTRY_MPS)


def true_entry_mps(run: DecelerationRun, row: FloatArray, as_read_mps: float) -> float:
    """Return the candidate's true entry speed, m/s, from the one as read: less its own indicator bias; at least 20."""
    return float(true_entries_mps(run, row[np.newaxis], np.array([as_read_mps]))[0])


def has_altitude(run: DecelerationRun) -> bool:
    """Return whether altitude was read often enough (three times, over most of the run) to follow the climb."""
    read = run.time_s[np.isfinite(run.altitude_m)]
    return read.size >= 3 and float(np.ptp(read)) >= MOST_OF_RUN * float(np.ptp(run.time_s))


def climb_sd_mps(run: DecelerationRun) -> float:
    """Return the standard deviation of the climb rate that the altitude readings leave open, m/s.

    Without readings the altitude may have crossed its whole band once in the run.
    """
    if has_altitude(run):
        return SEEN_CLIMB_SD_MPS
    return run.conditions.altitude_band_m / max(float(run.time_s[-1]), 20.0)


@dataclass(frozen=True, slots=True)
class _AltitudeFit:
    """The polynomial through the altitudes read: ``basis`` (n, degree + 1) in time over ``scale_s``, heights in m."""

    basis: FloatArray
    heights_m: FloatArray
    scale_s: float
    degree: int


def _altitude_fit(run: DecelerationRun) -> _AltitudeFit:
    """Return a smooth quartic at most; altitude is held where reading had not begun or had ended.

    A polynomial would run away there: ten feet of noise become thousands of feet a minute within half a minute.
    """
    good = np.isfinite(run.altitude_m)
    read, n = run.time_s[good], int(good.sum())
    beyond = run.time_s[(run.time_s < read[0]) | (run.time_s > read[-1])]
    times = np.concatenate((read, beyond))
    scale, degree = max(float(run.time_s[-1]), 1.0), min(4, n - 1, max(1, n // 3))
    basis = np.asarray(np.polynomial.polynomial.polyvander(times / scale, degree), dtype=np.float64)
    return _AltitudeFit(basis, np.interp(times, read, run.altitude_m[good]), scale, degree)


def climb_polynomial(run: DecelerationRun) -> FloatArray:
    """Return climb-rate coefficients about time 0 from the altitude readings, zero where they do not tell.

    Only the change of altitude matters (energy h + V^2/2g), so a smooth curve through readings is enough. The rate is
    that of geometric height: pressure-altitude rate times T/T_standard.
    """
    if not has_altitude(run):
        return np.zeros(1)
    line = _altitude_fit(run)
    coefficients = np.linalg.lstsq(line.basis, line.heights_m, rcond=None)[0]
    rates = np.polynomial.polynomial.polyder(coefficients) / line.scale_s ** np.arange(1, line.degree + 1)
    return np.asarray(rates * geometric_factor(run), dtype=np.float64)


def geometric_factor(run: DecelerationRun) -> float:
    """Return geometric height over altitude as read: T/T_standard (hydrostatic equation), 1 for GPS heights."""
    if run.geometric:
        return 1.0
    air = run.conditions
    standard = float(standard_temperature_k(air.pressure_altitude_m))
    return (standard + air.isa_deviation_k) / standard


def mean_climb(run: DecelerationRun, from_s: float, to_s: float) -> tuple[float, float]:
    """Return the mean climb rate between two times and its standard uncertainty, m/s.

    From the same curve through the altitudes read, each with ALTITUDE_READING_SD_M; nil, within what the band allows,
    where they do not tell. It is a weighted sum of the readings, so its uncertainty is exact for that curve.
    """
    if not has_altitude(run):
        return 0.0, climb_sd_mps(run)
    line = _altitude_fit(run)
    start, end = np.polynomial.polynomial.polyvander(np.array([from_s, to_s]) / line.scale_s, line.degree)
    weights = (end - start) / (to_s - from_s) @ np.linalg.pinv(line.basis)
    noise = ALTITUDE_READING_SD_M * float(np.linalg.norm(weights))
    return geometric_factor(run) * float(weights @ line.heights_m), float(np.hypot(SEEN_CLIMB_SD_MPS, noise))


def travel_time(row: FloatArray, move: Move) -> float:
    """Return the time of one move, s: full-travel time by the share of travel."""
    share = abs(move.to_position - move.from_position)
    down = move.to_position > move.from_position
    if move.device is Device.GEAR:
        return share * float(row[v.GEAR_DOWN_TIME] if down else row[v.GEAR_UP_TIME])
    full = float(row[v.ANGLES + int(row[v.SETTINGS]) - 1])
    return share / full * float(row[v.FLAP_DOWN_TIME] if down else row[v.FLAP_UP_TIME])


def _bends(row: FloatArray, move: Move) -> list[float]:
    """Return the shares of a flap move, rising, at which it passes a setting: there flap drag bends with angle."""
    angles = row[v.ANGLES : v.ANGLES + int(row[v.SETTINGS])]
    shares = (angles - move.from_position) / (move.to_position - move.from_position)
    return sorted(float(share) for share in shares if 1e-6 < share < 1.0 - 1e-6)


def knots(run: DecelerationRun, row: FloatArray, marks: FloatArray, device: Device) -> tuple[FloatArray, FloatArray]:
    """Return the position-time polyline of a device: times (s) and positions, at least one knot."""
    position = run.entry_gear if device is Device.GEAR else run.entry_flap_rad
    times, positions = [-1.0e6], [position]
    for i, move in enumerate(run.moves):
        if move.device is not device:
            continue
        start = max(move.select_s + float(marks[i]), times[-1] + 1e-3)
        taken, here = max(travel_time(row, move), 1e-2), positions[-1]
        passed = _bends(row, move) if device is Device.FLAPS else []
        times += [start, *(start + share * taken for share in passed), start + taken]
        positions += [here, *(here + share * (move.to_position - here) for share in passed), move.to_position]
    return np.array(times), np.array(positions)


def motion_start_s(gear_t: FloatArray, flap_t: FloatArray) -> float:
    """Return when the motion starts, s: at the first reading, or where a device moved before it."""
    return min(0.0, *(float(times[1]) for times in (gear_t, flap_t) if times.size > 1), 0.0)


def configurations(run: DecelerationRun, times_s: FloatArray) -> list[tuple[float, float, NDArray[np.bool_]]]:
    """Return (gear, flap angle, mask over times) for each configuration the static system saw, by selection times."""
    edges = [-np.inf, *(move.select_s for move in run.moves), np.inf]
    gear, flap = run.entry_gear, run.entry_flap_rad
    out = []
    for i in range(len(edges) - 1):
        if i:
            move = run.moves[i - 1]
            gear, flap = (move.to_position, flap) if move.device is Device.GEAR else (gear, move.to_position)
        out.append((gear, flap, (times_s >= edges[i]) & (times_s < edges[i + 1])))
    return out


def calibrated_readings(run: DecelerationRun, table: PositionErrorTable) -> FloatArray:
    """Return the readings as calibrated airspeeds, m/s, each through the position error of its configuration."""
    out = np.empty_like(run.ias_mps)
    for gear, flap_rad, where in configurations(run, run.time_s):
        if where.any():
            out[where] = calibrated_from_indicated(run.ias_mps[where], table, flap_rad / DEGREE, gear)
    return out


def indicated_speeds(
    run: DecelerationRun, calibrated_mps: FloatArray, times_s: FloatArray, table: PositionErrorTable
) -> FloatArray:
    """Return calibrated airspeeds (..., n) at ``times_s`` (n,) as indicated ones, m/s, each as configured then."""
    out = np.empty_like(calibrated_mps)
    for gear, flap_rad, where in configurations(run, times_s):
        if where.any():
            out[..., where] = indicated_from_calibrated(calibrated_mps[..., where], table, flap_rad / DEGREE, gear)
    return out
