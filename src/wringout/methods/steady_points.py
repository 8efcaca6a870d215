"""Steady stretches of flight as points: speed, rate of climb, air, weight and configuration of each. SI units.

Climbs, glides and level speed-power points share this. A point is one row of a table without times, or one stretch of a
timed recording (between the marks "start" and "end", else the whole of it), whose rate is the slope of a straight line
through the altitudes. A stretch that was not steady is set aside with the reason, never averaged in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.airspeed import calibrated_from_indicated
from wringout.atmosphere import isa_deviation_k
from wringout.errors import BadInputError
from wringout.methods.setup_words import conditions_of, flap_setting, gear_position, quantity
from wringout.methods.types import Conditions, FloatArray, IntArray
from wringout.recordings.types import Recording
from wringout.units import DEGREE, FOOT, FOOT_PER_MINUTE, KNOT, MILE_PER_HOUR, POUND

RATE_READING_MPS = 30.0 * FOOT_PER_MINUTE
"""Standard deviation of a rate of climb written in a table, timed by altimeter over a minute or so (judged)."""
AIR_SD_MPS = 20.0 * FOOT_PER_MINUTE
"""Standard deviation of the air's own vertical movement over one point in smooth air (judged, no source)."""
STANDARD_WORDS = ("altitude", "weight")


@dataclass(frozen=True, slots=True)
class SetAside:
    """A row or stretch that is not used, with the reason in words."""

    row: int
    reason: str

    def sentence(self) -> str:
        """Say it in one sentence."""
        return f"Row {self.row} is set aside: {self.reason}."


@dataclass(frozen=True, slots=True)
class SteadyPoints:
    """Points of one recording, arrays of shape (n,).

    ``rate_mps`` is the change of altitude as read (NaN where none was), positive up; it counts pressure altitude unless
    ``geometric``. ``drift_mps2`` is how fast the indicated airspeed changed. ``heading_rad`` and
    ``manifold_pressure_pa`` are NaN where not read. ``whole_units_mps`` is the step the dial was read to.
    """

    rows: IntArray
    flap_rad: FloatArray
    gear: FloatArray
    ias_mps: FloatArray
    ias_sd_mps: FloatArray
    rate_mps: FloatArray
    rate_sd_mps: FloatArray
    drift_mps2: FloatArray
    pressure_altitude_m: FloatArray
    isa_deviation_k: FloatArray
    mass_kg: FloatArray
    heading_rad: FloatArray
    manifold_pressure_pa: FloatArray
    shaft_w: FloatArray
    whole_units_mps: float
    geometric: bool = False

    def __len__(self) -> int:
        """Return the number of points."""
        return int(self.rows.size)

    def only(self, keep: NDArray[np.bool_]) -> SteadyPoints:
        """Return the points where ``keep`` is true."""
        arrays: dict[str, Any] = {
            name: getattr(self, name)[keep]
            for name in SteadyPoints.__dataclass_fields__
            if name not in ("whole_units_mps", "geometric")
        }
        return replace(self, **arrays)


def step_of(speeds_mps: FloatArray) -> float:
    """Return the step speeds were read to: whole knots, whole mph or whole km/h when all fit; else 0."""
    for unit in (KNOT, MILE_PER_HOUR, 1.0 / 3.6):
        if np.allclose(speeds_mps / unit, np.round(speeds_mps / unit), atol=1e-3):
            return unit
    return 0.0


def conditions_with(
    recording: Recording, words: Mapping[str, str], beliefs: Beliefs, needed: tuple[str, ...] = STANDARD_WORDS
) -> tuple[Conditions, dict[str, str]]:
    """Return the air and weight of a recording as a whole; columns stand in for words that are missing.

    Raises BadInputError for a missing or impossible altitude, temperature or weight.
    """
    filled = dict(words)
    for word, channels, unit in (
        ("altitude", ("pressure_altitude", "altitude", "gps_altitude"), "m"),
        ("weight", ("mass",), "kg"),
    ):
        if word in filled or word not in needed:
            continue
        for channel in channels:
            if channel in recording.channels and np.isfinite(recording.channels[channel].values).any():
                filled[word] = f"{float(np.nanmean(recording.channels[channel].values)):.9f} {unit}"
                break
    return conditions_of(filled, recording.name, beliefs.limits.max_mass_kg), filled


def table_points(
    recording: Recording, words: Mapping[str, str], beliefs: Beliefs, shaft_w: FloatArray
) -> tuple[SteadyPoints, Conditions]:
    """Return the points of a table without times: columns flap and speed, and what else was written.

    A blank gear, weight, altitude or temperature is that of the header. Raises BadInputError with one sentence.
    """
    name = recording.name
    air, filled = conditions_with(recording, words, beliefs)
    speeds = column(recording, "ias")
    good = np.isfinite(speeds)
    if not good.any():
        raise BadInputError(
            "no row has a speed",
            f"{name}, speed",
            "give at least one; a column whose unit is in question is not used until that is answered",
        )
    altitude = _first_of(recording, ("pressure_altitude", "altitude"))
    altitude = np.where(np.isfinite(altitude), altitude, air.pressure_altitude_m)
    rate, rate_sd = _written_rates(recording, filled)
    instrument = beliefs.instrument
    step = step_of(speeds[good])
    flap, gear = _configurations(recording, filled, beliefs, good)
    points = SteadyPoints(
        rows=recording.rows,
        flap_rad=flap,
        gear=gear,
        ias_mps=speeds,
        ias_sd_mps=np.full(speeds.size, np.hypot(instrument.reading_sd_mps, step / np.sqrt(12.0))),
        rate_mps=rate,
        rate_sd_mps=rate_sd,
        drift_mps2=np.zeros(speeds.size),
        pressure_altitude_m=altitude,
        isa_deviation_k=_deviations(recording, altitude, air),
        mass_kg=_masses(recording, air, beliefs),
        heading_rad=column(recording, "heading"),
        manifold_pressure_pa=column(recording, "manifold_pressure"),
        shaft_w=shaft_w,
        whole_units_mps=step,
    )
    return points.only(good), air


def _written_rates(recording: Recording, words: Mapping[str, str]) -> tuple[FloatArray, FloatArray]:
    """Return the rates of a table: a vertical-speed column, or a change of height over a duration."""
    sd = RATE_READING_MPS
    if "rate reading" in words:
        sd = abs(quantity(words, "rate reading", "speed", recording.name, "30 ft/min"))
    rate = column(recording, "vertical_speed")
    timed = column(recording, "height_change") / column(recording, "duration")
    return np.where(np.isfinite(rate), rate, timed), np.full(rate.size, np.hypot(sd, AIR_SD_MPS))


def column(recording: Recording, name: str) -> FloatArray:
    """Return a channel's values, all NaN where the recording does not have it."""
    channel = recording.channels.get(name)
    return np.full(len(recording), np.nan) if channel is None else channel.values


def _first_of(recording: Recording, names: tuple[str, ...]) -> FloatArray:
    out = np.full(len(recording), np.nan)
    for name in names:
        out = np.where(np.isfinite(out), out, column(recording, name))
    return out


def _deviations(recording: Recording, altitude_m: FloatArray, air: Conditions) -> FloatArray:
    kelvin = column(recording, "oat")
    known = np.isfinite(kelvin)
    out = np.full(altitude_m.size, air.isa_deviation_k)
    if known.any():
        out[known] = isa_deviation_k(altitude_m[known], kelvin[known])
    for i in np.flatnonzero(np.abs(out) > 50.0):
        raise BadInputError(
            f"{kelvin[i] - 273.15:.0f} C at {altitude_m[i] / FOOT:.0f} ft is {out[i]:+.0f} C from standard",
            f"{recording.name}, row {int(recording.rows[i])}, oat",
            "check the temperature, its unit and the altitude",
        )
    return out


def _masses(recording: Recording, air: Conditions, beliefs: Beliefs) -> FloatArray:
    mass = column(recording, "mass")
    heaviest = beliefs.limits.max_mass_kg
    for i in np.flatnonzero((mass < 0.2 * heaviest) | (mass > 1.5 * heaviest)):
        raise BadInputError(
            f"{mass[i] / POUND:.0f} lb is not a likely weight for this airplane",
            f"{recording.name}, row {int(recording.rows[i])}, weight",
            "give the weight at the point, in lb or kg",
        )
    return np.where(np.isfinite(mass), mass, air.mass_kg)


def header_configuration(words: Mapping[str, str], beliefs: Beliefs, name: str) -> tuple[float, float]:
    """Return (flap angle rad, gear 0..1) that the header states, both up when it does not."""
    flap_word = "flaps" if "flaps" in words else "entry flaps"
    gear_word = "gear" if "gear" in words else "entry gear"
    flap = flap_setting(words.get(flap_word, "up"), beliefs, f"{name}, {flap_word}").angle_rad
    gear = gear_position(words.get(gear_word, "up"), f"{name}, {gear_word}") if beliefs.retractable else 0.0
    return flap, gear


def _configurations(
    recording: Recording, words: Mapping[str, str], beliefs: Beliefs, good: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    usual_flap, usual_gear = header_configuration(words, beliefs, recording.name)
    flap, gear = np.full(len(recording), usual_flap), np.full(len(recording), usual_gear)
    for i in np.flatnonzero(good):
        where = f"{recording.name}, row {int(recording.rows[i])}"
        if written := _word(recording, "flap", int(i)):
            flap[i] = flap_setting(written, beliefs, f"{where}, flap").angle_rad
        if (written := _word(recording, "gear", int(i))) and beliefs.retractable:
            gear[i] = gear_position(written, f"{where}, gear")
    return flap, gear


def _word(recording: Recording, name: str, i: int) -> str:
    words = recording.texts.get(name, ())
    return words[i].strip() if words else ""


def calibrated(points: SteadyPoints, beliefs: Beliefs, bias_mps: float = 0.0) -> FloatArray:
    """Return calibrated airspeeds, m/s: the indicator's bias taken off, then each configuration's position error."""
    out = np.empty_like(points.ias_mps)
    for flap, gear in configurations_of(points):
        where = in_configuration(points, flap, gear)
        read = points.ias_mps[where] - bias_mps
        out[where] = calibrated_from_indicated(read, beliefs.instrument.position_error, flap / DEGREE, gear)
    return out


def configurations_of(points: SteadyPoints) -> list[tuple[float, float]]:
    """Return the (flap angle rad, gear) flown, clean first."""
    return sorted({(float(f), float(g)) for f, g in zip(points.flap_rad, points.gear, strict=True)})


def in_configuration(points: SteadyPoints, flap_rad: float, gear: float) -> NDArray[np.bool_]:
    """Return which points were flown in a configuration."""
    return np.asarray((points.flap_rad == flap_rad) & (points.gear == gear))


def configuration_words(flap_rad: float, gear: float, beliefs: Beliefs) -> str:
    """Return a configuration in words: "clean", "gear down", "flaps full", "gear down, flaps full"."""
    parts = ["gear down"] if gear > 0.5 else []
    if flap_rad > 0.0:
        parts.append(f"flaps {min(beliefs.settings, key=lambda s: abs(s.angle_rad - flap_rad)).name}")
    return ", ".join(parts) or "clean"


def exceedances_of(points: SteadyPoints, beliefs: Beliefs) -> list[Exceedance]:
    """Return the limit speeds that points went beyond, the worst of each."""
    limits = beliefs.limits
    worst: dict[str, Exceedance] = {}
    for i, speed in enumerate(points.ias_mps):
        checks = [("VNE", limits.never_exceed_mps)]
        if points.gear[i] > 0.0:
            checks.append(("VLE", limits.gear_extended_mps))
        if points.flap_rad[i] > 0.0:
            setting = min(beliefs.settings, key=lambda s: abs(s.angle_rad - float(points.flap_rad[i])))
            checks.append((f"VFE ({setting.name})", limits.flap_limit(setting.name)))
        for label, limit in checks:
            known = worst.get(label)
            if limit is not None and speed > limit + 0.25 * KNOT and (known is None or speed > known.seen_mps):
                worst[label] = Exceedance(label, limit, float(speed), int(points.rows[i]))
    return list(worst.values())
