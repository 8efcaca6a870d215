"""Steady points out of a timed recording: stretches between marks, cut into slices of about a minute.

What makes a stretch no steady point is looked for first: a device or the power moved in it, the clock jumped, the speed
wandered, or the altitude did not change evenly. Such a stretch is set aside with its reason.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.atmosphere import isa_deviation_k
from wringout.errors import BadInputError
from wringout.methods.setup_words import CLOCK_MARGIN, block_means, clock_sd_s, flap_setting, gear_position
from wringout.methods.steady_points import (
    AIR_SD_MPS,
    SetAside,
    SteadyPoints,
    column,
    conditions_with,
    header_configuration,
    step_of,
)
from wringout.methods.types import Conditions, FloatArray, IntArray
from wringout.recordings.changes import marks_from_channels
from wringout.recordings.types import Device, EventKind, Mark, Recording
from wringout.units import DEGREE, FOOT, KNOT, STANDARD_GRAVITY

ALTITUDE_READING_M = 10.0 * FOOT
"""Standard deviation of one altitude reading about a steady climb (judged, no source)."""
SLICE_S = 60.0
FEWEST_READINGS, SHORTEST_S = 3, 15.0
WANDER_MPS = 10.0 * KNOT
UNEVEN_SDS = 5.0
INVERSION_K = 1.5
"""A temperature that rises by this with height, over one slice or from one point to the next, is an inversion (judged).
"""
JUMP_STEPS, JUMP_S = 5.0, 20.0
_START = re.compile(r"^(start|begin|on condition|on speed)", re.IGNORECASE)
_END = re.compile(r"^(end|stop|finish|off condition)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Readings of one stretch, arrays of shape (n,); times in s on the recording's clock, ``shaft_w`` its mean."""

    time_s: FloatArray
    ias_mps: FloatArray
    altitude_m: FloatArray
    oat_k: FloatArray
    heading_rad: FloatArray
    mass_kg: FloatArray
    manifold_pressure_pa: FloatArray
    rows: IntArray
    flap_rad: float
    gear: float
    shaft_w: float


def timed_points(
    recording: Recording, words: Mapping[str, str], beliefs: Beliefs, shaft_w: FloatArray
) -> tuple[SteadyPoints, Conditions, tuple[SetAside, ...]]:
    """Return the points of a timed recording, its air and weight, and what was set aside.

    Needs time, indicated airspeed and altitude. Raises BadInputError when these are missing or no stretch is steady.
    """
    if recording.time_s is None or "ias" not in recording.channels:
        raise BadInputError("there are no times with an indicated airspeed", recording.name, "give both columns")
    altitude, geometric = _altitude(recording)
    air, _ = conditions_with(recording, words, beliefs)
    step = step_of(recording.channels["ias"].values[np.isfinite(recording.channels["ias"].values)])
    marks = sorted((*recording.marks, *marks_from_channels(recording)), key=lambda mark: mark.time_s)
    parts: list[SteadyPoints] = []
    aside: list[SetAside] = []
    clock = clock_sd_s(words, recording.name)
    for start, end in _spans(float(recording.time_s[0]), float(recording.time_s[-1]), marks, CLOCK_MARGIN * clock):
        stretch = _stretch(recording, words, beliefs, marks, (start, end), altitude, shaft_w)
        if isinstance(stretch, SetAside):
            aside.append(stretch)
            continue
        for piece in _slices(stretch):
            reason = _why_unsteady(piece)
            if reason:
                aside.append(SetAside(int(piece.rows[0]), reason))
            else:
                parts.append(_point(piece, air, beliefs, step, geometric, clock))
    if not parts:
        said = aside[0].sentence() if aside else "no stretch has three readings of speed and altitude"
        raise BadInputError(f"no steady stretch is left: {said}", recording.name, "fly or cut it again")
    return _joined(parts), air, tuple(aside)


def _altitude(recording: Recording) -> tuple[FloatArray, bool]:
    """Return altitude readings, m, and whether they are geometric (GPS) heights."""
    for name, geometric in (("pressure_altitude", False), ("altitude", False), ("gps_altitude", True)):
        if np.isfinite(column(recording, name)).sum() >= FEWEST_READINGS:
            return column(recording, name), geometric
    raise BadInputError(
        "there are no altitudes to take a rate from", recording.name, "give an altitude column with three readings"
    )


def _spans(first: float, last: float, marks: list[Mark], clear_s: float = 0.0) -> list[tuple[float, float]]:
    """Return the stretches between marks that say start and end; without any, the whole recording.

    They keep ``clear_s`` away from the marks, whose clock may differ by so much from that of the readings.
    """
    spans: list[tuple[float, float]] = []
    begun: float | None = None
    for mark in marks:
        if mark.event.kind is not EventKind.NOTE:
            continue
        if _START.match(mark.label) or (_END.match(mark.label) and begun is not None):
            if begun is not None and mark.time_s - clear_s > begun:
                spans.append((begun, mark.time_s - clear_s))
            begun = mark.time_s + clear_s if _START.match(mark.label) else None
    if begun is not None:
        spans.append((begun, last))
    return spans or [(first, last)]


def _stretch(
    recording: Recording,
    words: Mapping[str, str],
    beliefs: Beliefs,
    marks: list[Mark],
    span: tuple[float, float],
    altitude_m: FloatArray,
    shaft_w: FloatArray,
) -> Stretch | SetAside:
    """Return the readings of a stretch with its configuration, or why it cannot be used."""
    times = np.asarray(recording.time_s)
    ias = recording.channels["ias"].values
    inside = (times >= span[0]) & (times <= span[1]) & np.isfinite(ias) & np.isfinite(altitude_m)
    row = int(recording.rows[np.searchsorted(times, span[0], side="left").clip(0, times.size - 1)])
    if inside.sum() < FEWEST_READINGS or np.ptp(times[inside]) < SHORTEST_S:
        return SetAside(row, "a steady point needs three readings of speed and altitude over fifteen seconds")
    for mark in marks:
        if not span[0] < mark.time_s <= span[1]:
            continue
        if mark.event.device is not None and mark.event.kind in (EventKind.SELECTED, EventKind.ARRIVED):
            verb = "was" if mark.event.device is Device.GEAR else "were"
            return SetAside(mark.row, f"the {mark.event.device.value} {verb} moved in mid-run ({mark.label})")
        if mark.event.kind is EventKind.POWER:
            return SetAside(mark.row, f"the power was changed in mid-run ({mark.label})")
    flap, gear = configuration_at(recording, words, beliefs, span[0])
    powers = shaft_w[inside]
    stretch = Stretch(
        time_s=times[inside],
        ias_mps=ias[inside],
        altitude_m=altitude_m[inside],
        oat_k=column(recording, "oat")[inside],
        heading_rad=column(recording, "heading")[inside],
        mass_kg=column(recording, "mass")[inside],
        manifold_pressure_pa=column(recording, "manifold_pressure")[inside],
        rows=recording.rows[inside],
        flap_rad=flap,
        gear=gear,
        shaft_w=float(np.nanmean(powers)) if np.isfinite(powers).any() else np.nan,
    )
    jump = _clock_jump(stretch)
    return stretch if jump is None else jump


def configuration_at(
    recording: Recording, words: Mapping[str, str], beliefs: Beliefs, start: float
) -> tuple[float, float]:
    """Return (flap angle rad, gear) at a time on the recording's clock: columns, else header, and the marks before."""
    marks = sorted((*recording.marks, *marks_from_channels(recording)), key=lambda mark: mark.time_s)
    flap, gear = header_configuration(words, beliefs, recording.name)
    where = f"{recording.name}, row {int(recording.rows[0])}"
    if "flap" in recording.channels and np.isfinite(recording.channels["flap"].values).any():
        first = recording.channels["flap"].values
        degrees = float(first[np.isfinite(first)][0]) / DEGREE
        flap = flap_setting(f"{degrees:.1f}", beliefs, f"{where}, flap").angle_rad
    elif written := next((word for word in recording.texts.get("flap", ()) if word.strip()), ""):
        flap = flap_setting(written, beliefs, f"{where}, flap").angle_rad
    if "gear" in recording.channels and np.isfinite(recording.channels["gear"].values).any():
        first = recording.channels["gear"].values
        gear = float(first[np.isfinite(first)][0] > 0.5)
    elif written := next((word for word in recording.texts.get("gear", ()) if word.strip()), ""):
        gear = gear_position(written, f"{where}, gear")
    for mark in marks:
        if mark.time_s > start or mark.event.kind is not EventKind.SELECTED or not mark.event.target:
            continue
        spot = f"{recording.name}, row {mark.row}, mark"
        if mark.event.device is Device.GEAR:
            gear = gear_position(mark.event.target, spot)
        elif mark.event.device is Device.FLAPS:
            flap = flap_setting(mark.event.target, beliefs, spot).angle_rad
    return flap, (gear if beliefs.retractable else 0.0)


def _clock_jump(stretch: Stretch) -> SetAside | None:
    """Return a clock jump: a long gap over which the altitude changed by what another time would give."""
    steps, climbs = np.diff(stretch.time_s), np.diff(stretch.altitude_m)
    usual = float(np.median(steps))
    rate = float(np.median(climbs / np.maximum(steps, 1e-6)))
    for i in np.flatnonzero(steps > max(JUMP_STEPS * usual, JUMP_S)):
        expected, seen = rate * float(steps[i]), float(climbs[i])
        if abs(seen - expected) > max(UNEVEN_SDS * ALTITUDE_READING_M, 0.25 * abs(expected)):
            return SetAside(
                int(stretch.rows[i + 1]),
                f"the clock jumps by {steps[i]:.0f} s while the altitude changes by {seen / FOOT:+.0f} ft, where the "
                f"rate of the stretch would give {expected / FOOT:+.0f} ft",
            )
    return None


def _slices(stretch: Stretch) -> list[Stretch]:
    """Return the stretch cut into slices of about SLICE_S, each with readings enough."""
    length = float(np.ptp(stretch.time_s))
    count = max(1, int(length // SLICE_S))
    edges = np.linspace(stretch.time_s[0], stretch.time_s[-1], count + 1)
    out = []
    for low, high in pairwise(edges):
        inside = (stretch.time_s >= low) & (stretch.time_s <= high)
        if inside.sum() >= FEWEST_READINGS and np.ptp(stretch.time_s[inside]) >= SHORTEST_S:
            arrays: dict[str, Any] = {
                name: getattr(stretch, name)[inside]
                for name in Stretch.__dataclass_fields__
                if name not in ("flap_rad", "gear", "shaft_w")
            }
            out.append(replace(stretch, **arrays))
    return out or [stretch]


def _line(times_s: FloatArray, values: FloatArray) -> tuple[float, float]:
    """Return slope and value at the middle of a straight line."""
    middle = times_s - times_s.mean()
    return float(middle @ values / (middle @ middle)), float(values.mean())


def _why_unsteady(piece: Stretch) -> str:
    """Return why a slice is no steady point, or nothing."""
    length = float(np.ptp(piece.time_s))
    drift, _ = _line(piece.time_s, piece.ias_mps)
    if abs(drift) * length > WANDER_MPS:
        return f"the speed changed by {drift * length / KNOT:+.0f} kt in {length:.0f} s"
    rate, middle = _line(piece.time_s, piece.altitude_m)
    off = float(np.abs(piece.altitude_m - middle - rate * (piece.time_s - piece.time_s.mean())).max())
    if off > UNEVEN_SDS * ALTITUDE_READING_M:
        return f"the altitude does not change evenly, one reading is {off / FOOT:.0f} ft off a straight line"
    known = np.isfinite(piece.oat_k)
    if known.sum() >= FEWEST_READINGS and np.ptp(piece.altitude_m[known]) > 0.0:
        lapse, _ = _line(piece.altitude_m[known], piece.oat_k[known])
        rise = lapse * float(np.ptp(piece.altitude_m[known]))
        if rise >= INVERSION_K:
            low, high = piece.altitude_m.min() / FOOT, piece.altitude_m.max() / FOOT
            return f"the temperature rises by {rise:.1f} C from {low:.0f} to {high:.0f} ft, an inversion"
    return ""


def _point(
    piece: Stretch, air: Conditions, beliefs: Beliefs, step: float, geometric: bool, clock: float
) -> SteadyPoints:
    times, ias, altitude = piece.time_s, piece.ias_mps, piece.altitude_m
    if times.size > 20 and float(np.median(np.diff(times))) < 1.5:
        times, ias, altitude = block_means(times, ias, altitude)
    rate, middle = _line(times, altitude)
    drift, speed = _line(times, ias)
    spread = float(np.std(times)) * np.sqrt(times.size)
    dial = float(np.hypot(beliefs.instrument.reading_sd_mps, step / np.sqrt(12.0)))
    from_drift = speed / STANDARD_GRAVITY * dial / spread
    rate_sd = np.sqrt((ALTITUDE_READING_M / spread) ** 2 + from_drift**2 + AIR_SD_MPS**2)
    oat = piece.oat_k[np.isfinite(piece.oat_k)]
    deviation = air.isa_deviation_k
    height = air.pressure_altitude_m if geometric else middle
    if oat.size:
        deviation = float(isa_deviation_k(height, float(oat.mean())))
    directions = piece.heading_rad[np.isfinite(piece.heading_rad)]
    heading = float(np.angle(np.exp(1j * directions).mean())) if directions.size else np.nan

    def mean(values: FloatArray) -> float:
        return float(np.nanmean(values)) if np.isfinite(values).any() else np.nan

    one = {
        "flap_rad": piece.flap_rad,
        "gear": piece.gear,
        "ias_mps": speed,
        "ias_sd_mps": float(np.hypot(dial / np.sqrt(times.size), drift * clock)),
        "rate_mps": rate,
        "rate_sd_mps": float(rate_sd),
        "drift_mps2": drift,
        "pressure_altitude_m": height,
        "isa_deviation_k": deviation,
        "mass_kg": air.mass_kg if np.isnan(mean(piece.mass_kg)) else mean(piece.mass_kg),
        "heading_rad": heading,
        "manifold_pressure_pa": mean(piece.manifold_pressure_pa),
        "shaft_w": piece.shaft_w,
    }
    return SteadyPoints(
        rows=piece.rows[:1],
        whole_units_mps=step,
        geometric=geometric,
        **{key: np.array([value]) for key, value in one.items()},
    )


def _joined(parts: list[SteadyPoints]) -> SteadyPoints:
    arrays: dict[str, Any] = {
        name: np.concatenate([getattr(part, name) for part in parts])
        for name in SteadyPoints.__dataclass_fields__
        if name not in ("whole_units_mps", "geometric")
    }
    return replace(parts[0], **arrays)
