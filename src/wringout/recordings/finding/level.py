"""Level runs in a log: a device moved, or the power changed, while height was held and the airplane flew straight."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wringout.recordings.finding.configuration import Configuration, Move
from wringout.recordings.finding.flight_grid import STEP_S, BoolArray, FlightGrid
from wringout.recordings.finding.proposals import Proposal

_LEVEL_FPM = 350.0
_LEVEL_FT = 120.0
_ENTRY_S, _LEAST_ENTRY_S = 15, 5
_STEADY_KT_PER_S = 0.45
_LONGEST_S, _LONGEST_OUT_S, _LEAST_AFTER_S = 200, 300, 15
_LEAST_CHANGE_KT = 3.0
_SETTLED_S, _SETTLED_KT = 30, 0.8
_POWER_CHANGE_KT = 12.0


def level_runs(grid: FlightGrid, moves: Sequence[Move], configuration: Configuration) -> list[Proposal]:
    """Return decelerations, pairs and retractions at untouched power, then accelerations and slow-downs by power."""
    level = _level(grid)
    found: list[Proposal] = []
    i = 0
    while i < len(moves):
        one, taken = _device_run(grid, level, moves, i, configuration)
        if one is not None:
            found.append(one)
        i += taken
    if grid.power_unit:
        found += _power_runs(grid, level, moves, configuration, found)
    return found


def _level(grid: FlightGrid) -> BoolArray:
    if not grid.height_name:
        return grid.straight & grid.seen
    return grid.straight & grid.seen & (np.abs(grid.climb_fpm) < _LEVEL_FPM)


def _frozen(grid: FlightGrid, first: int, last: int) -> bool:
    """Return whether the power was not touched over steps, both included."""
    if not grid.power_unit or last <= first:
        return True
    part = grid.power[first : last + 1]
    return bool(np.ptp(part[np.isfinite(part)]) <= grid.power_band) if np.isfinite(part).any() else True


def _entry(grid: FlightGrid, level: BoolArray, at: int, moves: Sequence[Move]) -> int:
    """Return where the steady level flight before a step begins, no more than 15 s back."""
    start = at
    earlier = [grid.at(move.time_s) for move in moves if grid.at(move.time_s) < at]
    bound = max([at - _ENTRY_S, 0, *(e + 5 for e in earlier)])
    while start - 1 >= bound and level[start - 1] and _frozen(grid, start - 1, at):
        if abs(grid.speed_rate[start - 1]) > _STEADY_KT_PER_S and start < at - 3:
            break
        start -= 1
    return start


def _run_on(grid: FlightGrid, level: BoolArray, at: int, end: int, *, settles: bool = True) -> int:
    """Return the last step of level flight at untouched power after a step; 30 s past where the speed settled."""
    height = float(grid.height_ft[at])
    last = at
    low = high = float(grid.power[at]) if grid.power_unit else 0.0
    off = 0
    while last + 1 <= end:
        j = last + 1
        if not grid.seen[j] or not grid.straight[j]:
            break
        off = off + 1 if not level[j] else 0
        if off > 6 or (grid.height_name and abs(grid.height_ft[j] - height) > _LEVEL_FT):
            last -= off - 1
            break
        if grid.power_unit and np.isfinite(grid.power[j]):
            low, high = min(low, float(grid.power[j])), max(high, float(grid.power[j]))
            if high - low > grid.power_band:
                last -= 2
                break
        last = j
        if settles and j - at > _SETTLED_S + 10 and np.ptp(grid.speed_kt[j - _SETTLED_S : j + 1]) < _SETTLED_KT:
            break
    return max(last, at)


def _device_run(
    grid: FlightGrid, level: BoolArray, moves: Sequence[Move], i: int, configuration: Configuration
) -> tuple[Proposal | None, int]:
    """Return what a move began, if it is a run, and how many moves it took."""
    move = moves[i]
    at = grid.at(move.time_s)
    start = _entry(grid, level, at, moves)
    if at - start < _LEAST_ENTRY_S or not level[max(at - 3, 0) : at + 4].all():
        return None, 1
    back = next((k for k in range(i + 1, len(moves)) if moves[k].device == move.device), None)
    stop = min(at + _LONGEST_S, grid.time_s.size - 1)
    following = grid.at(moves[i + 1].time_s) - 1 if i + 1 < len(moves) else stop
    last = _run_on(grid, level, at, min(stop, following))
    change = float(grid.speed_kt[last] - grid.speed_kt[at])
    wanted = -1.0 if move.out else 1.0
    if last - at < _LEAST_AFTER_S or wanted * change < _LEAST_CHANGE_KT:
        return None, 1
    taken, kind, words = 1, "level deceleration" if move.out else "retraction", ""
    untouched = grid.power_unit and move.out and back == i + 1 and not moves[i + 1].out
    if untouched and _run_on(grid, level, at, min(at + _LONGEST_OUT_S, following), settles=False) >= following - 2:
        returned = grid.at(moves[i + 1].time_s)
        bound = grid.at(moves[i + 2].time_s) - 1 if i + 2 < len(moves) else grid.time_s.size - 1
        end = _run_on(grid, level, returned, min(returned + _LONGEST_S, bound))
        end = end if _frozen(grid, at, end) else returned
        if end - returned >= _LEAST_AFTER_S and grid.speed_kt[end] - grid.speed_kt[returned] > _LEAST_CHANGE_KT:
            last, taken, kind = end, 2, "out and back"
            words = f", and back to {grid.speed_kt[end]:.0f} kt after {moves[i + 1].words}"
    power = f"power untouched ({grid.power_unit})" if grid.power_unit else "power not in the log"
    why = (
        f"level and straight, {power}; {move.words} at {move.time_s:.0f} s, speed from {grid.speed_kt[at]:.0f} to "
        f"{grid.speed_kt[last if not words else grid.at(moves[i + 1].time_s)]:.0f} kt{words}"
    )
    setup = configuration.setup_at(float(grid.time_s[start]))
    score = 0.9 if grid.power_unit else 0.6
    before = configuration.words_at(float(grid.time_s[start]))
    return Proposal(kind, *_span(grid, start, last), move.device, before, why, score, setup), taken


def _span(grid: FlightGrid, first: int, last: int) -> tuple[float, float]:
    return float(grid.time_s[first]), float(grid.time_s[last])


def _power_runs(
    grid: FlightGrid,
    level: BoolArray,
    moves: Sequence[Move],
    configuration: Configuration,
    known: Sequence[Proposal],
) -> list[Proposal]:
    """Return stretches where the power was set once, and level flight at that power gained or lost speed."""
    found: list[Proposal] = []
    moved = np.zeros(grid.time_s.size, dtype=np.bool_)
    for move in moves:
        moved[grid.at(move.time_s)] = True
    jump = np.zeros(grid.time_s.size)
    jump[5:] = grid.power[5:] - grid.power[:-5]
    changed = np.abs(np.nan_to_num(jump)) > 2.0 * grid.power_band
    i = 0
    while i < changed.size - _LEAST_AFTER_S:
        if not changed[i]:
            i += 1
            continue
        up = jump[i] > 0.0
        settled = i
        while settled + 1 < changed.size and changed[settled + 1] and (jump[settled + 1] > 0.0) == up:
            settled += 1
        one = _power_run(grid, level, moved, i - 5, settled, configuration, up=up)
        if one is not None and not any(k.from_s < one.to_s - 5 and one.from_s < k.to_s - 5 for k in [*known, *found]):
            found.append(one)
        i = settled + 1
    return found


def _power_run(
    grid: FlightGrid,
    level: BoolArray,
    moved: BoolArray,
    before: int,
    settled: int,
    configuration: Configuration,
    *,
    up: bool,
) -> Proposal | None:
    at = max(settled - 3, before, 0)
    end = min(at + _LONGEST_S, grid.time_s.size - 1)
    later = np.flatnonzero(moved[max(before, 0) : end + 1])
    end = min(end, max(before, 0) + int(later[0]) - 1) if later.size else end
    if end <= at or not level[max(before, 0) : at + 5].all():
        return None
    last = _run_on(grid, level, min(settled, end), end)
    change = float(grid.speed_kt[last] - grid.speed_kt[max(before, 0)])
    if last - at < _LEAST_AFTER_S or (change if up else -change) < _POWER_CHANGE_KT:
        return None
    first = max(before - _LEAST_ENTRY_S, 0)
    if not level[first : before + 1].all():
        first = max(before, 0)
    why = (
        f"level and straight; power {'raised' if up else 'reduced'} to {grid.power[min(settled, last)]:.1f} "
        f"{grid.power_unit} and left, speed from {grid.speed_kt[max(before, 0)]:.0f} to {grid.speed_kt[last]:.0f} kt "
        f"in {STEP_S * (last - max(before, 0)):.0f} s"
    )
    kind = "level acceleration" if up else "slow-down"
    time = float(grid.time_s[first])
    setup, words = configuration.setup_at(time), configuration.words_at(time)
    return Proposal(kind, *_span(grid, first, last), "", words, why, 0.75, setup)
