"""What a level acceleration is once taken from a recording. SI units."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError
from wringout.methods.clock_jumps import refuse_clock_jump
from wringout.methods.level_deceleration.run import DecelerationRun
from wringout.methods.power_words import Power, PowerKind, power_of
from wringout.methods.setup_words import CLOCK_MARGIN, clock_sd_s, words_of
from wringout.methods.steady_points import conditions_with, configuration_words, header_configuration, step_of
from wringout.methods.steady_stretches import configuration_at
from wringout.methods.timed_readings import TimedReadings, is_move, last_power_mark, timed_readings
from wringout.methods.types import Source
from wringout.recordings.types import EventKind, Recording
from wringout.units import FOOT

KEY = "level acceleration"
SPOOL_S = 4.0
"""How long after the call of the power it is taken to be still coming [s] (judged)."""
FEWEST = 5
OFF_LEVEL_M = 300.0 * FOOT
"""A run whose altitude changed by more is no level acceleration (judged)."""
NO_POWER = Power(PowerKind.FULL, np.zeros(0), "full")


@dataclass(frozen=True, slots=True)
class AccelerationRun(DecelerationRun):
    """A near-level run without moves at known power; ``power.shaft_w`` holds one value, NaN at full throttle."""

    power: Power = NO_POWER
    method: str = KEY


def runs_from_recording(
    key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
) -> list[AccelerationRun]:
    """Return the run from four seconds after the last mark of power, else from its first reading.

    Where marks and readings share a clock only roughly, it begins as much later as that doubt may be.

    Raises BadInputError for power that is not known, a device moved in mid-run, a clock that jumped, or a run that is
    not level.
    """
    words, name = words_of(recording, setup), recording.name
    mark = last_power_mark(recording)
    power = power_of(recording, words, beliefs, mark.event.target if mark else "")
    if power.kind not in (PowerKind.FULL, PowerKind.STATED):
        raise BadInputError(
            f"the run was flown with power {power.words!r}", f"{name}, power", 'write "full", "160 hp" or "65 %"'
        )
    clock = clock_sd_s(words, name)
    start = mark.time_s + SPOOL_S + CLOCK_MARGIN * clock if mark else -np.inf
    readings = timed_readings(recording, start, FEWEST, "a level acceleration")
    flap, gear = header_configuration(words, beliefs, name)
    if recording.time_s is not None:
        flap, gear = configuration_at(recording, words, beliefs, readings.start_s)
    _refuse_moves(readings, name)
    refuse_clock_jump(readings.time_s, readings.ias_mps, readings.rows, name)
    _refuse_off_level(readings, name)
    shaft = power.shaft_w[np.isfinite(power.shaft_w)]
    known = np.array([float(shaft.mean()) if shaft.size else np.nan])
    configuration = configuration_words(flap, gear, beliefs)
    return [
        AccelerationRun(
            key=key,
            title=f"level acceleration, {configuration}, {power.words} power".replace("power power", "power"),
            source=Source(recording.sha256, name, readings.start_s, readings.start_s + float(readings.time_s[-1])),
            conditions=conditions_with(recording, words, beliefs)[0],
            time_s=readings.time_s,
            ias_mps=readings.ias_mps,
            altitude_m=readings.altitude_m,
            rows=readings.rows,
            moves=(),
            entry_gear=gear,
            entry_flap_rad=flap,
            whole_units_mps=step_of(readings.ias_mps),
            geometric=readings.geometric,
            clock_sd_s=clock,
            power=Power(power.kind, known, power.words),
        )
    ]


def _refuse_moves(readings: TimedReadings, name: str) -> None:
    for mark in readings.marks:
        if mark.time_s <= 0.0:
            continue
        where = f"{name}, row {mark.row}, mark"
        if is_move(mark.event):
            raise BadInputError(
                f"a device was moved in mid-run ({mark.label})",
                where,
                "cut the run there; with a device going out at fixed power it is a level deceleration",
            )
        if mark.event.kind is EventKind.POWER:
            raise BadInputError(f"the power was changed in mid-run ({mark.label})", where, "cut the run there")


def _refuse_off_level(readings: TimedReadings, name: str) -> None:
    known = readings.altitude_m[np.isfinite(readings.altitude_m)]
    if known.size >= 2 and float(np.ptp(known)) > OFF_LEVEL_M:
        raise BadInputError(
            f"the altitude changed by {float(np.ptp(known)) / FOOT:.0f} ft, which is no level run",
            name,
            f"fly it within {OFF_LEVEL_M / FOOT:.0f} ft, or take it in as a climb",
        )
