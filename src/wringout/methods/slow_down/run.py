"""What a slow-down or a descent is once taken from a recording. SI units."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import calibrated_from_indicated, true_from_calibrated
from wringout.errors import BadInputError
from wringout.methods.clock_jumps import refuse_clock_jump
from wringout.methods.level_deceleration.run import DecelerationRun, Move, configurations, title_of
from wringout.methods.power_words import Power, PowerKind, power_of
from wringout.methods.setup_words import clock_sd_s, flap_setting, gear_position, quantity, words_of
from wringout.methods.steady_points import conditions_with, configuration_words, header_configuration, step_of
from wringout.methods.steady_stretches import configuration_at
from wringout.methods.timed_readings import TimedReadings, last_power_mark, timed_readings
from wringout.methods.types import Conditions, FloatArray, Source
from wringout.recordings.types import Device, EventKind, Recording
from wringout.units import DEGREE, FOOT, KNOT

KEY = "slow down"
FEWEST = 4
SLOWS_MPS = 8.0 * KNOT
DESCENDS_M = 200.0 * FOOT
TARGET_WORD = "to speed"
NO_POWER = Power(PowerKind.HELD, np.zeros(0), "held")


@dataclass(frozen=True, slots=True)
class SlowDownRun(DecelerationRun):
    """A timed run that loses speed, height or both; ``moves`` may be empty.

    ``power.shaft_w`` holds one value, NaN where none is stated. ``target_mps`` is the indicated airspeed the table
    counts to. ``notes`` are sentences on what was left out.
    """

    power: Power = NO_POWER
    target_mps: float = 0.0
    notes: tuple[str, ...] = ()
    method: str = KEY

    @property
    def slows(self) -> bool:
        """Whether speed was lost, rather than height at a steady speed."""
        return float(self.ias_mps[0] - self.ias_mps[-1]) > SLOWS_MPS

    @property
    def height_lost_m(self) -> float:
        """Altitude lost between the first and last reading of it, m; 0 where it was not read."""
        known = self.altitude_m[np.isfinite(self.altitude_m)]
        return float(known[0] - known[-1]) if known.size > 1 else 0.0


def runs_from_recording(key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs) -> list[SlowDownRun]:
    """Return the run from the last mark of power, else from its first reading.

    Raises BadInputError for power that is not known, a clock that jumped, or a run that loses neither speed nor height.
    """
    words, name = words_of(recording, setup), recording.name
    mark = last_power_mark(recording)
    power = power_of(recording, words, beliefs, mark.event.target if mark else "")
    readings = timed_readings(recording, -np.inf if mark is None else mark.time_s, FEWEST, "a slow-down")
    refuse_clock_jump(readings.time_s, readings.ias_mps, readings.rows, name)
    flap, gear = header_configuration(words, beliefs, name)
    if recording.time_s is not None:
        flap, gear = configuration_at(recording, words, beliefs, readings.start_s - 1e-6)
    moves = _moves(readings, gear, flap, beliefs, name)
    shaft = power.shaft_w[np.isfinite(power.shaft_w)]
    run = SlowDownRun(
        key=key,
        title="",
        source=Source(recording.sha256, name, readings.start_s, readings.start_s + float(readings.time_s[-1])),
        conditions=_conditions(recording, readings, words, beliefs),
        time_s=readings.time_s,
        ias_mps=readings.ias_mps,
        altitude_m=readings.altitude_m,
        rows=readings.rows,
        moves=moves,
        entry_gear=gear,
        entry_flap_rad=flap,
        whole_units_mps=step_of(readings.ias_mps),
        power=Power(power.kind, np.array([float(shaft.mean()) if shaft.size else np.nan]), power.words),
        target_mps=_target(readings, words, name),
        geometric=readings.geometric,
        clock_sd_s=clock_sd_s(words, name),
        notes=_notes(recording, readings, mark is not None),
    )
    if not run.slows and run.height_lost_m < DESCENDS_M:
        raise BadInputError(
            f"the run loses neither {SLOWS_MPS / KNOT:.0f} kt nor {DESCENDS_M / FOOT:.0f} ft",
            name,
            "give readings from before to after the speed or the height was lost, with altitudes for a descent",
        )
    return [replace(run, title=_title(run, beliefs))]


def _moves(readings: TimedReadings, gear: float, flap: float, beliefs: Beliefs, name: str) -> tuple[Move, ...]:
    """Return the moves of devices from the first reading on, with their arrivals where called."""
    moves: list[Move] = []
    for mark in readings.marks:
        event = mark.event
        if mark.time_s < 0.0 or event.device is None:
            continue
        if event.kind is EventKind.ARRIVED:
            last = next((i for i in range(len(moves) - 1, -1, -1) if moves[i].device is event.device), None)
            if last is not None and moves[last].arrived_s is None:
                moves[last] = replace(moves[last], arrived_s=mark.time_s)
            continue
        if event.kind is not EventKind.SELECTED or not event.target:
            continue
        where = f"{name}, row {mark.row}, mark"
        if event.device is Device.GEAR:
            if not beliefs.retractable:
                raise BadInputError("the airplane file says the gear is fixed", where, "add a [gear] section to it")
            before, gear = gear, gear_position(event.target, where)
            after = gear
        else:
            before, flap = flap, flap_setting(event.target, beliefs, where).angle_rad
            after = flap
        if before != after:
            moves.append(Move(event.device, mark.time_s, before, after, None, mark.row))
    return tuple(moves)


def _target(readings: TimedReadings, words: dict[str, str], name: str) -> float:
    """Return the indicated airspeed the table counts to: the word ``to speed``, else the last one read."""
    last, first = float(readings.ias_mps[-1]), float(readings.ias_mps[0])
    if TARGET_WORD not in words:
        return last
    target = quantity(words, TARGET_WORD, "speed", name, "80 kt")
    if not min(first, last) - KNOT <= target <= max(first, last) + KNOT:
        raise BadInputError(
            f"{target / KNOT:.0f} kt was not passed, the run goes from {first / KNOT:.0f} to {last / KNOT:.0f} kt",
            f"{name}, {TARGET_WORD}",
            "give a speed between them",
        )
    return target


def _notes(recording: Recording, readings: TimedReadings, by_mark: bool) -> tuple[str, ...]:
    """Return a sentence for readings left out before the power was set."""
    if not by_mark or recording.time_s is None:
        return ()
    before = int(np.sum(recording.time_s < readings.start_s))
    if before == 0:
        return ()
    return (f"The {before} rows before row {int(readings.rows[0])} are left out: the power was set there.",)


def _title(run: SlowDownRun, beliefs: Beliefs) -> str:
    what = "slow-down" if run.slows else "descent"
    entry = configuration_words(run.entry_flap_rad, run.entry_gear, beliefs)
    then = f", then {title_of(run.moves, beliefs)}" if run.moves else ""
    return f"{what}, power {run.power.words}, {entry}{then}"


def true_airspeeds(run: SlowDownRun, beliefs: Beliefs, *, at_own_height: bool) -> FloatArray:
    """Return true airspeed of every reading, m/s, through each configuration's position error.

    In the thinner or denser air of each altitude read, or (not ``at_own_height``) all in that of the run's altitude,
    the frame in which the motion is followed.
    """
    out, air = np.empty_like(run.ias_mps), run.conditions
    for gear, flap, where in configurations(run, run.time_s):
        if where.any():
            table = beliefs.instrument.position_error
            out[where] = calibrated_from_indicated(run.ias_mps[where], table, flap / DEGREE, gear)
    read = np.isfinite(run.altitude_m) & at_own_height & (not run.geometric)
    return true_from_calibrated(out, np.where(read, run.altitude_m, air.pressure_altitude_m), air.isa_deviation_k)


def _conditions(recording: Recording, readings: TimedReadings, words: dict[str, str], beliefs: Beliefs) -> Conditions:
    """Return air and weight, at the mean of the pressure altitudes read where there are any."""
    air, _ = conditions_with(recording, words, beliefs)
    known = readings.altitude_m[np.isfinite(readings.altitude_m)]
    if readings.geometric or known.size < 2:
        return air
    return replace(air, pressure_altitude_m=float(known.mean()))
