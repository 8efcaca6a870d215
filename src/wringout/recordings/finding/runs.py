"""Runs proposed from an unlabelled log: decelerations, pairs, accelerations, stalls, glides, climbs, go-arounds.

Nothing is used until a person accepts it. The bounds are judged for light airplanes (no source) and were set on logs
flown in an outside flight model; recall and false alarms there stand in docs/recordings.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wringout.recordings.changes import marks_from_channels
from wringout.recordings.finding.configuration import Configuration, Move, configuration_of
from wringout.recordings.finding.flight_grid import flight_grid
from wringout.recordings.finding.level import level_runs
from wringout.recordings.finding.proposals import CONFIGURATION_CHANGE, Proposal
from wringout.recordings.finding.steady import go_arounds, stalls, steady_runs
from wringout.recordings.types import Recording

_BEFORE_CHANGE_S, _AFTER_CHANGE_S = 5.0, 15.0
_RECOVERY_S = 45.0


def find_runs(recording: Recording, stall_kt: tuple[float, float] | None = None) -> tuple[Proposal, ...]:
    """Return the stretches of a log that look like runs, in order of time.

    Every movement of gear or flaps is in one of them; a movement that belongs to none is proposed as a configuration
    change. Stretches of one kind do not overlap.

    Args:
        recording: the log.
        stall_kt: the lowest and the highest stall speed believed of the airplane, indicated [kt]; None where not known.

    Raises:
        BadInputError: the recording has no times, no speed, or too few rows.
    """
    grid = flight_grid(recording)
    marks = sorted((*recording.marks, *marks_from_channels(recording)), key=lambda mark: mark.time_s)
    configuration = configuration_of(recording, marks)
    moves = configuration.moves
    broken = stalls(grid, configuration, stall_kt)
    around = [
        one for one in go_arounds(grid, moves, configuration) if not any(_recovers_from(one, stall) for stall in broken)
    ]
    steady = [one for one in steady_runs(grid, moves, configuration) if not any(_within(one, big) for big in around)]
    found = [*level_runs(grid, moves, configuration), *broken, *steady, *around]
    found += _changes(moves, found, configuration, float(grid.time_s[-1]))
    from_columns = {"marks": "columns"} if any(move.from_columns for move in moves) else {}
    return tuple(
        _with_rows(replace(one, setup={**from_columns, **one.setup} if one.device else one.setup), recording)
        for one in sorted(found, key=lambda one: (one.from_s, one.to_s))
    )


def _recovers_from(around: Proposal, stall: Proposal) -> bool:
    """Return whether what looks like a go-around is the recovery from a stall just before."""
    return stall.from_s < around.to_s and around.from_s - stall.to_s < _RECOVERY_S


def _within(one: Proposal, big: Proposal) -> bool:
    return min(one.to_s, big.to_s) - max(one.from_s, big.from_s) > 0.5 * (one.to_s - one.from_s)


def _changes(
    moves: Sequence[Move], found: Sequence[Proposal], configuration: Configuration, end_s: float
) -> list[Proposal]:
    """Return what moved outside every proposal."""
    out = []
    for move in moves:
        if any(one.from_s <= move.time_s <= one.to_s for one in found):
            continue
        words = f"{move.words} at {move.time_s:.0f} s, not in level flight at untouched power"
        start, stop = max(move.time_s - _BEFORE_CHANGE_S, 0.0), min(move.time_s + _AFTER_CHANGE_S, end_s)
        before = configuration.words_at(move.time_s - 0.5)
        out.append(Proposal(CONFIGURATION_CHANGE, start, stop, move.device, before, words, 0.5))
    return out


def _with_rows(one: Proposal, recording: Recording) -> Proposal:
    times = recording.time_s if recording.time_s is not None else np.zeros(len(recording))
    first = min(int(np.searchsorted(times, one.from_s)), len(recording) - 1)
    last = max(int(np.searchsorted(times, one.to_s, side="right")) - 1, first)
    return replace(one, from_row=int(recording.rows[first]), to_row=int(recording.rows[last]))
