"""From a recording and its set-up words to level-deceleration runs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wringout.advice import Way
from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError
from wringout.methods.level_deceleration.run import DecelerationRun, Move, resolution_of, title_of
from wringout.methods.setup_words import (
    block_means,
    clock_sd_s,
    conditions_of,
    flap_setting,
    gear_position,
    with_columns,
    words_of,
)
from wringout.methods.types import Source
from wringout.recordings.types import Device, EventKind, Mark, Recording

MOST_READINGS = 400


def runs_from_recording(
    key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
) -> list[DecelerationRun]:
    """Return the run. Needs a time, an indicated airspeed and a mark for each device that moved."""
    words = with_columns(words_of(recording, setup), recording)
    name = recording.name
    if recording.time_s is None or "ias" not in recording.channels:
        raise BadInputError("a level deceleration needs time and indicated airspeed", name, "give both columns")
    entry_flap = flap_setting(words.get("entry flaps", "up"), beliefs, f"{name}, entry flaps").angle_rad
    entry_gear = gear_position(words.get("entry gear", "up"), f"{name}, entry gear")
    moves = _moves(recording, entry_gear, entry_flap, beliefs)
    speed = recording.channels["ias"].values
    altitude_channel = recording.channels.get("altitude") or recording.channels.get("pressure_altitude")
    altitude = np.full(speed.size, np.nan) if altitude_channel is None else altitude_channel.values
    good = np.isfinite(speed) & np.isfinite(recording.time_s)
    times, speeds, rows = recording.time_s[good], speed[good], recording.rows[good]
    altitude = altitude[good]
    if times.size < 4:
        raise BadInputError(f"only {times.size} readings of airspeed", name, "a level deceleration needs at least four")
    if times.size > 20 and float(np.median(np.diff(times))) < 1.5:
        times, speeds, altitude, at = block_means(times, speeds, altitude, rows.astype(np.float64))
        rows = at.astype(np.int64)
    if times.size > MOST_READINGS:
        raise BadInputError(f"{times.size} readings are too many for one run", name, f"cut it shorter: {Way.STRETCH}")
    start = float(times[0])
    return [
        DecelerationRun(
            key=key,
            title=title_of(moves, beliefs),
            source=Source(recording.sha256, name, start, float(times[-1])),
            conditions=conditions_of(words, name, beliefs.limits.max_mass_kg),
            time_s=times - start,
            ias_mps=speeds,
            altitude_m=altitude,
            rows=rows,
            moves=tuple(
                replace(
                    move,
                    select_s=move.select_s - start,
                    arrived_s=None if move.arrived_s is None else move.arrived_s - start,
                )
                for move in moves
            ),
            entry_gear=entry_gear,
            entry_flap_rad=entry_flap,
            whole_units_mps=resolution_of(speeds),
            clock_sd_s=clock_sd_s(words, name),
        )
    ]


def _moves(recording: Recording, entry_gear: float, entry_flap: float, beliefs: Beliefs) -> tuple[Move, ...]:
    name = recording.name
    gear, flap = entry_gear, entry_flap
    moves: list[Move] = []
    first = float(recording.time_s[0]) if recording.time_s is not None else 0.0
    last = float(recording.time_s[-1]) if recording.time_s is not None else 0.0
    for mark in recording.marks:
        event = mark.event
        if event.device is None or not first <= mark.time_s <= last:
            continue
        if event.kind is EventKind.ARRIVED:
            moves = _arrive(moves, mark)
            continue
        if event.kind is not EventKind.SELECTED or not event.target:
            continue
        where = f"{name}, row {mark.row}, mark"
        if event.device is Device.GEAR and not beliefs.retractable:
            raise BadInputError("the airplane file says the gear is fixed", where, "add a [gear] section to it")
        if event.device is Device.GEAR:
            target = gear_position(event.target, where)
            before, gear = gear, target
        else:
            target = flap_setting(event.target, beliefs, where).angle_rad
            before, flap = flap, target
        if target != before:
            moves.append(Move(event.device, mark.time_s, before, target, None, mark.row))
    if not moves:
        raise BadInputError(
            "no mark says when the device moved", name, 'add a mark such as "gear down" or "flaps full" on its row'
        )
    return tuple(moves)


def _arrive(moves: list[Move], mark: Mark) -> list[Move]:
    """Give the last move of that device its arrival time, if it has none yet."""
    for i in range(len(moves) - 1, -1, -1):
        if moves[i].device is mark.event.device:
            if moves[i].arrived_s is None:
                moves[i] = replace(moves[i], arrived_s=mark.time_s)
            break
    return moves
