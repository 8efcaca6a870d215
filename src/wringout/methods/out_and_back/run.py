"""What an out-and-back pair is once taken from a recording: a deceleration with the way back. SI units."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError
from wringout.methods.clock_jumps import refuse_clock_jump
from wringout.methods.level_deceleration.build import runs_from_recording as decelerations
from wringout.methods.level_deceleration.run import DecelerationRun
from wringout.methods.setup_words import quantity, words_of
from wringout.recordings.types import EventKind, Recording
from wringout.units import INCH_OF_MERCURY, POUND, RPM

KEY = "out and back"
MASS_WORD = "weight on the way back"
MANIFOLD_DRIFT_PA, RPM_DRIFT = 1.0 * INCH_OF_MERCURY, 60.0 * RPM
"""Change of manifold pressure or rpm between the legs that speaks of a moved lever (judged; a fixed-pitch propeller
turns slower at lower speed on both legs alike)."""


@dataclass(frozen=True, slots=True)
class OutAndBackRun(DecelerationRun):
    """A deceleration with two moves of one device, out and in (or in and out) again, at frozen power.

    ``return_mass_kg`` is the mass on the second leg, that of ``conditions`` unless fuel was burnt in between.
    """

    return_mass_kg: float = 0.0
    method: str = KEY


def runs_from_recording(key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs) -> list[OutAndBackRun]:
    """Return the pair. Raises BadInputError where the moves are no pair, or the power or the clock did not hold."""
    words, name = words_of(recording, setup), recording.name
    runs = decelerations(key, recording, setup, beliefs)
    for run in runs:
        _refuse_no_pair(run, name)
        _refuse_power_moved(run, recording)
        refuse_clock_jump(run.time_s, run.ias_mps, run.rows, name)
    if MASS_WORD in words:
        back = quantity(words, MASS_WORD, "mass", name, "2980 lb")
        heaviest = beliefs.limits.max_mass_kg
        if not 0.2 * heaviest <= back <= 1.5 * heaviest:
            raise BadInputError(
                f"{back / POUND:.0f} lb is not a likely weight for this airplane",
                f"{name}, {MASS_WORD}",
                "give the weight on the way back, in lb or kg",
            )
    return [
        OutAndBackRun(
            **{field.name: getattr(run, field.name) for field in fields(run) if field.name != "method"},
            return_mass_kg=back if MASS_WORD in words else run.conditions.mass_kg,
        )
        for run in runs
    ]


def _refuse_no_pair(run: DecelerationRun, name: str) -> None:
    moves = run.moves
    if len(moves) == 2 and moves[0].device is moves[1].device and moves[1].to_position == moves[0].from_position:
        return
    if len({move.device for move in moves}) > 1:
        raise BadInputError(
            f"the run moves more than one device ({run.title})", name, "move one device out and the same one back"
        )
    said = "once" if len(moves) == 1 else f"{len(moves)} times" if len(moves) > 2 else "twice, but not back"
    raise BadInputError(
        f"the device moves {said} ({run.title}), which is no pair",
        name,
        'mark both moves, such as "gear down" and later "gear up", or take it in as a level deceleration',
    )


def _refuse_power_moved(run: DecelerationRun, recording: Recording) -> None:
    start = run.moves[0].select_s + (run.source.from_s or 0.0)
    for mark in recording.marks:
        if mark.event.kind is EventKind.POWER and mark.time_s > start:
            raise BadInputError(
                f"the power was changed in mid-run ({mark.label})",
                f"{recording.name}, row {mark.row}, mark",
                "a pair needs the same power both ways: cut it there and use the first leg as a level deceleration",
            )
    between = run.moves[1].select_s + (run.source.from_s or 0.0)
    if recording.time_s is None:
        return
    for channel, drift, unit, size in (
        ("manifold_pressure", MANIFOLD_DRIFT_PA, "inHg", INCH_OF_MERCURY),
        ("rpm", RPM_DRIFT, "rpm", RPM),
    ):
        if channel not in recording.channels:
            continue
        values = recording.channels[channel].values
        legs = [
            np.nanmedian(part) if np.isfinite(part).any() else np.nan
            for part in (
                values[(recording.time_s >= start) & (recording.time_s < between)],
                values[recording.time_s >= between],
            )
        ]
        if abs(legs[1] - legs[0]) > drift:
            raise BadInputError(
                f"the power was changed between the legs, from {legs[0] / size:.1f} to {legs[1] / size:.1f} {unit}",
                recording.name,
                "a pair needs the same power both ways: use the first leg as a level deceleration",
            )
