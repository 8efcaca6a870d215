"""From a recording and its set-up words to calibration points: hand-written legs, or a logged turn."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from wringout.advice import Way
from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import true_from_calibrated
from wringout.atmosphere import isa_deviation_k
from wringout.errors import BadInputError, FitError
from wringout.methods.airspeed_calibration.circle import Legs, WindCircle, dilutions_of, fit_circle
from wringout.methods.airspeed_calibration.run import (
    DRIFT_SD_MPS,
    GROUND_SPEED_SD_MPS,
    TRACK_SD_RAD,
    CalibrationRun,
    when_of,
)
from wringout.methods.setup_words import block_means, conditions_of, flap_setting, gear_position, quantity, words_of
from wringout.methods.types import Conditions, FloatArray, IntArray, Source
from wringout.recordings.types import Recording
from wringout.units import DEGREE, KNOT

MOST_HAND_LEGS = 20
"""A table with a clock and more rows than this is a logger's."""
BLOCK_S = 5.0
"""Logged samples are averaged over stretches of this length [s]; within one, wind and airspeed errors go together."""
SAME_SPEED_MPS = 3.5 * KNOT
"""Indicated airspeeds that follow each other closer than this, in order of size, are one point."""
WORST_DILUTION = 10.0
"""Beyond this the legs are refused: three legs within some 70 deg."""
LOGGED_SPEED_SPREAD_MPS = 3.0 * KNOT
"""A logged airspeed that scatters more than this is not one airspeed (judged)."""
UNKNOWNS = 5
"""Of a logged run: airspeed, wind and the wind's drift."""
LEAST_SCATTER_MPS = 0.1
"""Logged stretches are not believed to agree better than this [m/s] (judged)."""


@dataclass(frozen=True, slots=True)
class _Table:
    """Columns of a recording, arrays of shape (n,), only rows that have a ground speed and a track."""

    ias: FloatArray
    ground_speed: FloatArray
    track: FloatArray
    heading: FloatArray
    time: FloatArray
    altitude: FloatArray
    deviation: FloatArray
    rows: IntArray
    places: IntArray


def runs_from_recording(
    key: str, recording: Recording, setup: Mapping[str, str], beliefs: Beliefs
) -> list[CalibrationRun]:
    """Return one run for each indicated airspeed and configuration; raises BadInputError with one sentence."""
    words, name = words_of(recording, setup), recording.name
    table, conditions = _table(recording, words, beliefs)
    if recording.time_s is not None and table.rows.size > MOST_HAND_LEGS:
        return [_logged(key, recording, words, beliefs, table, conditions)]
    flap, gear = _configurations(recording, table.places, words, beliefs)
    groups = _groups(recording, table, flap, gear)
    runs = []
    for number, group in enumerate(groups, start=1):
        flap_rad, gear_at = float(flap[group[0]]), float(gear[group[0]])
        what = f"{_speed_words(table.ias[group])}, {configuration_words(flap_rad, gear_at, beliefs)}"
        _refuse(table, group, name, what)
        runs.append(
            _run(
                key if len(groups) == 1 else f"{key}.{number}",
                f"{group.size} legs at {what}",
                recording,
                conditions,
                table,
                group,
                (flap_rad, gear_at),
                _noises(words, name, beliefs),
            )
        )
    return runs


def configuration_words(flap_rad: float, gear: float, beliefs: Beliefs) -> str:
    """Return the configuration in words, the gear only where it can be moved."""
    setting = min(beliefs.settings, key=lambda s: abs(s.angle_rad - flap_rad))
    return f"flaps {setting.name}" + (f", gear {'down' if gear > 0.5 else 'up'}" if beliefs.retractable else "")


def _speed_words(ias_mps: FloatArray) -> str:
    return f"{float(np.mean(ias_mps)) / KNOT:.0f} kt indicated"


def _table(recording: Recording, words: Mapping[str, str], beliefs: Beliefs) -> tuple[_Table, Conditions]:
    name = recording.name
    for column, said in (("ground_speed", "ground speed"), ("track", "track")):
        if column not in recording.channels:
            raise BadInputError(
                f"an airspeed calibration needs the {said} of each leg",
                name,
                'write rows such as "110, 118, 039" below "speed, ground speed, track"',
            )
    ground, track = (recording.channels[column].values for column in ("ground_speed", "track"))
    everything = np.arange(len(recording))
    ias = _column(recording, "ias", everything)
    if "ias" not in recording.channels:
        ias = np.full(len(recording), quantity(words, "indicated airspeed", "speed", name, "110 kt"))
    good = np.flatnonzero(np.isfinite(ground) & np.isfinite(track) & np.isfinite(ias))
    if not good.size:
        raise BadInputError("no row has an airspeed, a ground speed and a track", name, "fill in at least three rows")
    altitude = _column(recording, "pressure_altitude", good)
    altitude = altitude if np.isfinite(altitude).any() else _column(recording, "altitude", good)
    words = _with_readings(words, recording, altitude, good, beliefs)
    conditions = conditions_of(words, name, beliefs.limits.max_mass_kg)
    altitude = np.where(np.isfinite(altitude), altitude, conditions.pressure_altitude_m)
    oat = _column(recording, "oat", good)
    deviation = np.where(
        np.isfinite(oat),
        np.asarray(isa_deviation_k(altitude, np.where(np.isfinite(oat), oat, 288.15))),
        conditions.isa_deviation_k,
    )
    time = np.full(good.size, np.nan) if recording.time_s is None else recording.time_s[good]
    return (
        _Table(
            ias[good],
            ground[good],
            np.mod(track[good], 2.0 * np.pi),
            _column(recording, "heading", good),
            time,
            altitude,
            deviation,
            recording.rows[good],
            good,
        ),
        conditions,
    )


def _column(recording: Recording, name: str, places: IntArray) -> FloatArray:
    channel = recording.channels.get(name)
    return np.full(places.size, np.nan) if channel is None else channel.values[places]


def _with_readings(
    words: Mapping[str, str], recording: Recording, altitude: FloatArray, good: IntArray, beliefs: Beliefs
) -> dict[str, str]:
    """Fill in altitude and temperature from the rows, and the weight, which this method does not heed."""
    out = dict(words)
    if "altitude" not in out and np.isfinite(altitude).any():
        out["altitude"] = f"{float(np.nanmean(altitude)):.6f} m"
    oat = _column(recording, "oat", good)
    if "temperature" not in out and "isa deviation" not in out and np.isfinite(oat).any():
        out["temperature"] = f"{float(np.nanmean(oat)):.6f} K"
    out.setdefault("weight", f"{beliefs.limits.max_mass_kg:.6f} kg")
    return out


def _configurations(
    recording: Recording, places: IntArray, words: Mapping[str, str], beliefs: Beliefs
) -> tuple[FloatArray, FloatArray]:
    """Return flap angle, rad, and gear position of each row: its own, else that of the header, else up."""
    name = recording.name
    out = []
    for i in places:
        row = f"{name}, row {int(recording.rows[i])}"
        flap = _word(recording, "flap", int(i)) or words.get("flaps", words.get("entry flaps", "up"))
        gear = _word(recording, "gear", int(i)) or words.get("gear", words.get("entry gear", "up"))
        angle = flap_setting(flap, beliefs, f"{row}, flap").angle_rad
        out.append((angle, gear_position(gear, f"{row}, gear") if beliefs.retractable else 0.0))
    flaps, gears = np.array(out).T
    return flaps, gears


def _word(recording: Recording, column: str, i: int) -> str:
    cells = recording.texts.get(column, ())
    return cells[i].strip() if cells else ""


def _groups(recording: Recording, table: _Table, flap: FloatArray, gear: FloatArray) -> list[IntArray]:
    """Return the rows of each point in the order they were flown.

    A column ``point`` says which legs belong together; else legs of one configuration do whose indicated airspeeds
    follow each other closely.
    """
    named = [_word(recording, "point", int(i)) for i in table.places]
    groups: list[IntArray] = []
    keys = [(word, float(f), float(g)) for word, f, g in zip(named, flap, gear, strict=True)]
    for key in dict.fromkeys(keys):
        members = np.array([i for i, other in enumerate(keys) if other == key])
        if key[0]:
            groups.append(members)
            continue
        order = members[np.argsort(table.ias[members], kind="stable")]
        breaks = np.flatnonzero(np.diff(table.ias[order]) > SAME_SPEED_MPS) + 1
        groups += [np.sort(part) for part in np.split(order, breaks)]
    return sorted(groups, key=lambda group: int(group[0]))


def _refuse(table: _Table, group: IntArray, name: str, what: str) -> None:
    """Refuse too few legs, and legs whose tracks cannot tell airspeed from wind."""
    rows = ", ".join(str(int(row)) for row in table.rows[group])
    where = f"{name}, row{'s' if group.size > 1 else ''} {rows}"
    if group.size < 3:
        count = "one leg leaves" if group.size == 1 else "two legs leave"
        raise BadInputError(
            f"{count} airspeed and wind undecided at {what}", where, "fly three or more legs about 120 deg apart"
        )
    refuse_tracks(table.track[group], where, f"the {group.size} legs")


def refuse_tracks(track_rad: FloatArray, where: str, who: str) -> None:
    """Raise BadInputError for tracks that lie too close together, or on one line."""
    if max(dilutions_of(track_rad)) <= WORST_DILUTION:
        return
    arc = arc_of(track_rad) / DEGREE
    how = f"lie within {arc:.0f} deg of track" if arc < 100.0 else "lie on one line, there and back"
    raise BadInputError(
        f"{who} {how}, which cannot tell airspeed from wind", where, "fly three or more legs about 120 deg apart"
    )


def arc_of(directions_rad: FloatArray) -> float:
    """Return the smallest arc, rad, that holds all directions."""
    ordered = np.sort(np.mod(directions_rad, 2.0 * np.pi))
    gaps = np.diff(np.append(ordered, ordered[0] + 2.0 * np.pi))
    return 2.0 * math.pi - float(gaps.max())


def _noises(words: Mapping[str, str], name: str, beliefs: Beliefs) -> tuple[float, float, float]:
    """Return standard deviations of the airspeed held, the ground speed (m/s) and the track (rad) of one leg."""

    def said(word: str, dimension: str, usual: float, example: str) -> float:
        return abs(quantity(words, word, dimension, name, example)) if word in words else usual

    return (
        said("airspeed held", "speed", beliefs.instrument.reading_sd_mps, "1 kt"),
        said("ground speed reading", "speed", GROUND_SPEED_SD_MPS, "1 kt"),
        said("track reading", "angle", TRACK_SD_RAD, "2 deg"),
    )


def _step(values: FloatArray, units: Sequence[float]) -> float:
    """Return the step readings were taken to, the first of ``units`` that fits all; else 0."""
    fits = (unit for unit in units if np.allclose(values / unit, np.round(values / unit), atol=1e-3))
    return next(fits, 0.0)


def _run(
    key: str,
    title: str,
    recording: Recording,
    conditions: Conditions,
    table: _Table,
    group: IntArray,
    configuration: tuple[float, float],
    noises: tuple[float, float, float],
) -> CalibrationRun:
    steps = _step(table.ground_speed[group], (KNOT, 0.1 * KNOT)), _step(table.track[group], (DEGREE, 0.1 * DEGREE))
    times = table.time[group]
    clock = np.isfinite(times).all()
    return CalibrationRun(
        key=key,
        title=title,
        source=Source(
            recording.sha256,
            recording.name,
            float(times.min()) if clock else None,
            float(times.max()) if clock else None,
        ),
        conditions=conditions,
        ias_mps=table.ias[group],
        ground_speed_mps=table.ground_speed[group],
        track_rad=table.track[group],
        heading_rad=table.heading[group],
        time_s=times,
        pressure_altitude_m=table.altitude[group],
        isa_deviation_k=table.deviation[group],
        rows=table.rows[group],
        flap_rad=configuration[0],
        gear=configuration[1],
        airspeed_sd_mps=_true_sd(noises[0], table, group),
        ground_speed_sd_mps=noises[1],
        track_sd_rad=noises[2],
        ground_speed_step_mps=steps[0],
        track_step_rad=steps[1],
    )


def _true_sd(indicated_sd_mps: float, table: _Table, group: IntArray) -> float:
    """Return the true airspeed that an error of the indicated one stands for."""
    altitude, deviation = float(np.mean(table.altitude[group])), float(np.mean(table.deviation[group]))
    calibrated = float(np.mean(table.ias[group]))
    ahead, here = (true_from_calibrated(speed, altitude, deviation) for speed in (calibrated + 0.5, calibrated - 0.5))
    return indicated_sd_mps * (ahead - here)


def _logged(
    key: str,
    recording: Recording,
    words: Mapping[str, str],
    beliefs: Beliefs,
    table: _Table,
    conditions: Conditions,
) -> CalibrationRun:
    """Return a run of block means from a logged turn (or logged legs) at one airspeed.

    Ground speed and unwound track are averaged, not the velocity's components, so that an arc is not shortened to its
    chord.
    """
    name = recording.name
    spread = float(np.std(table.ias))
    if spread > LOGGED_SPEED_SPREAD_MPS:
        raise BadInputError(
            f"the indicated airspeed scatters by {spread / KNOT:.0f} kt between "
            f"{table.ias.min() / KNOT:.0f} and {table.ias.max() / KNOT:.0f} kt",
            name,
            f"cut one turn at one airspeed out of the recording: {Way.STRETCH}",
        )
    unwound = np.unwrap(table.track)
    _, back = np.unique(np.floor((table.time - table.time[0]) / BLOCK_S), return_index=True)
    times, ias, ground, track, altitude, deviation = block_means(
        table.time, table.ias, table.ground_speed, unwound, table.altitude, table.deviation, width_s=BLOCK_S
    )
    refuse_tracks(track, name, f"the {times.size * BLOCK_S:.0f} s of recording")
    flap = flap_setting(words.get("flaps", words.get("entry flaps", "up")), beliefs, f"{name}, flaps").angle_rad
    gear_word = words.get("gear", words.get("entry gear", "up"))
    gear = gear_position(gear_word, f"{name}, gear") if beliefs.retractable else 0.0
    blocks = _Table(ias, ground, track, np.full(ias.size, np.nan), times, altitude, deviation, table.rows[back], back)
    everything = np.arange(ias.size)
    turned = abs(float(unwound[-1] - unwound[0]))
    how = f"{_speed_words(ias)}, {configuration_words(flap, gear, beliefs)}"
    title = f"turn through {turned / DEGREE:.0f} deg of track at {how}"
    sd, worth = _scatter(blocks, name)
    run = _run(key, title, recording, conditions, blocks, everything, (flap, gear), (1.0, 0.0, 0.0))
    return replace(run, airspeed_sd_mps=sd, worth=worth, logged=True, ground_speed_step_mps=0.0, track_step_rad=0.0)


def _scatter(blocks: _Table, name: str) -> tuple[float, float]:
    """Return the scatter of block means about their circle, m/s, and how many independent blocks they are worth.

    With a correlation r between neighbours, n blocks are worth ``n (1 - r)/(1 + r)`` independent ones; the scatter is
    widened so that n blocks of it weigh as much. Fitting takes slow changes out of the residuals, so the correlation
    read from them is too low, by about the share of unknowns among the blocks: that is put back (our correction; held
    against many simulated turns in gusts that last 8 s, see the tests).
    """
    sd, worth = 0.5, float(blocks.rows.size)
    for _ in range(3):
        circle = _circle(blocks, sd, name)
        left = circle.residual_mps
        squares = float(np.sum(left**2))
        together = float(np.sum(left[1:] * left[:-1])) / max(squares, 1e-12)
        lost = UNKNOWNS / left.size
        r = min(max((together + lost) / (1.0 - lost), 0.0), 0.95)
        dof = max(left.size - UNKNOWNS, 1)
        sd = max(math.sqrt(squares / dof * (1.0 + r) / (1.0 - r)), LEAST_SCATTER_MPS)
        worth = left.size * (1.0 - r) / (1.0 + r)
    return sd, worth


def _circle(blocks: _Table, sd_mps: float, name: str) -> WindCircle:
    true = true_from_calibrated(blocks.ias, blocks.altitude, blocks.deviation)
    legs = Legs(
        blocks.ground_speed,
        blocks.track,
        true - float(true.mean()),
        0.0,
        0.0,
        sd_mps,
        np.full(true.size, np.nan),
        when=when_of(blocks.time),
        drift_sd_mps=DRIFT_SD_MPS,
    )
    try:
        return fit_circle(legs)
    except FitError as error:
        raise BadInputError(error.what, name, error.advice) from None
