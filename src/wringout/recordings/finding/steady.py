"""Stalls, glides, climbs and go-arounds in a log."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from wringout.recordings.finding.configuration import Configuration, Move
from wringout.recordings.finding.flight_grid import BoolArray, FlightGrid
from wringout.recordings.finding.proposals import GO_AROUND, Proposal
from wringout.recordings.types import FloatArray

_FLYING_KT = 35.0
_STALL_NEAR = 1.22  # a break is looked for below this share over the slowest flight of the log
_STATED_NEAR = (0.75, 1.15)  # of the lowest and of the highest stall speed stated, for weight, entry rate and the dial
_RECOVERY_KT, _RECOVERY_S = 8.0, 15
_STEADY_KT = 3.5
_LEAST_GLIDE_S, _LEAST_CLIMB_S = 45, 45
_ENTRY_S = 40
_HANDS_BEFORE_S = 20.0  # gear and flaps may begin to come in before the sink has stopped


def stalls(
    grid: FlightGrid, configuration: Configuration, stated_kt: tuple[float, float] | None = None
) -> list[Proposal]:
    """Return slow falls of speed to a low point, with a quick recovery behind it.

    ``stated_kt`` are the lowest and the highest stall speed believed of the airplane, indicated; where they are known a
    break must lie about them, else about the slowest flight of the log.
    """
    found: list[Proposal] = []
    free_from = 0
    for i in _low_points(grid, stated_kt):
        one = _stall(grid, i, configuration) if i >= free_from else None
        if one is not None:
            found.append(one)
            free_from = i + 21
    return found


def _low_points(grid: FlightGrid, stated_kt: tuple[float, float] | None) -> list[int]:
    """Return the steps at which the speed is the lowest around, about that of a stall, and recovers soon."""
    speed = grid.speed_kt
    flying = speed > _FLYING_KT
    if not flying.any() or speed.size <= _RECOVERY_S + 1:
        return []
    least, most = 0.0, _STALL_NEAR * float(np.quantile(speed[flying], 0.002))
    if stated_kt is not None:
        least, most = (share * stall for share, stall in zip(_STATED_NEAR, stated_kt, strict=True))
    low = flying & grid.seen & (speed > least) & (speed < most) & (speed <= _lowest(speed, 10, 10))
    low[1:] &= speed[1:] <= speed[:-1]
    low &= -_lowest(-speed, 0, _RECOVERY_S) - speed >= _RECOVERY_KT
    low[0] = False
    low[-_RECOVERY_S:] = False
    return [int(i) for i in np.flatnonzero(low)]


def _lowest(values: FloatArray, before: int, after: int) -> FloatArray:
    """Return the lowest of the values from so many before to so many after each."""
    padded = np.pad(values, (before, after), mode="edge")
    return np.asarray(sliding_window_view(padded, before + after + 1).min(axis=1))


def _stall(grid: FlightGrid, at: int, configuration: Configuration) -> Proposal | None:
    speed = grid.speed_kt
    start = at
    while start > max(at - _ENTRY_S, 0) and speed[start - 1] < 1.2 * speed[at] and grid.seen[start - 1]:
        start -= 1
    fall = float(speed[start] - speed[at])
    rate = fall / max(at - start, 1)
    recovers = float(np.min(grid.climb_fpm[max(at - 3, 0) : at + 12])) < -400.0 if grid.height_name else True
    if fall < 0.1 * speed[at] or not 0.3 <= rate <= 3.0 or not recovers or not grid.straight[start : at + 1].all():
        return None
    why = (
        f"speed falls {rate:.1f} kt/s to {speed[at]:.0f} kt at {grid.time_s[at]:.0f} s, then rises by "
        f"{float(np.max(speed[at : at + _RECOVERY_S + 1])) - speed[at]:.0f} kt within {_RECOVERY_S} s"
        + (" while height is lost" if grid.height_name else "")
    )
    time = float(grid.time_s[start])
    return Proposal(
        "stall",
        time,
        float(grid.time_s[min(at + 3, speed.size - 1)]),
        "",
        configuration.words_at(time),
        why,
        0.8,
        _flaps_said(configuration, time),
    )


def _flaps_said(configuration: Configuration, time_s: float) -> dict[str, str]:
    """Return the set-up words of a stall, which names its flaps even where they are up."""
    words = configuration.setup_at(time_s)
    _, flaps = configuration.at(time_s)
    return words if "entry flaps" in words or not flaps else {**words, "entry flaps": "up"}


def steady_runs(grid: FlightGrid, moves: Sequence[Move], configuration: Configuration) -> list[Proposal]:
    """Return glides at closed throttle and climbs at high power, each at a steady speed, flown straight.

    Where the log does not show the power, climbs alone: a glide cannot be told from a descent then.
    """
    flying = grid.speed_kt > _FLYING_KT
    if not grid.height_name or flying.sum() < 60:
        return []
    moved = np.zeros(grid.time_s.size, dtype=np.bool_)
    for move in moves:
        moved[max(grid.at(move.time_s) - 1, 0) : grid.at(move.time_s) + 6] = True
    steady = grid.straight & grid.seen & flying & ~moved & (np.abs(grid.speed_rate) < 0.6)
    power = grid.power[flying & np.isfinite(grid.power)]
    if power.size < 60:
        return list(_steady(grid, steady & (grid.climb_fpm > 300.0), "climb", _LEAST_CLIMB_S, configuration))
    idle, high = float(np.quantile(power, 0.01)), float(np.quantile(power, 0.98))
    closed = grid.power < idle + max(1.5 * grid.power_band, 0.08 * (high - idle))
    closed &= idle < 0.65 * high
    powered = grid.power > idle + 0.6 * (high - idle)
    return [
        *_steady(grid, steady & closed & (grid.climb_fpm < -250.0), "glide", _LEAST_GLIDE_S, configuration),
        *_steady(grid, steady & powered & (grid.climb_fpm > 200.0), "climb", _LEAST_CLIMB_S, configuration),
    ]


def _steady(
    grid: FlightGrid, fits: BoolArray, kind: str, least: int, configuration: Configuration
) -> Iterator[Proposal]:
    """Yield stretches where a condition holds, at one speed; a second out of it does not end one."""
    for first, last in _stretches(fits):
        begin = first
        while last - begin >= least:
            end = _one_speed(grid, begin, last)
            if end - begin >= least:
                speed = grid.speed_kt[begin : end + 1]
                climb = float(np.mean(grid.climb_fpm[begin : end + 1]))
                what = (
                    "throttle closed"
                    if kind == "glide"
                    else "climb power"
                    if grid.power_unit
                    else "power not in the log"
                )
                why = f"{what}, {np.mean(speed):.0f} kt held within {0.5 * np.ptp(speed):.1f} kt, {climb:+.0f} ft/min"
                time = float(grid.time_s[begin])
                words, setup = configuration.words_at(time), configuration.setup_at(time)
                yield Proposal(
                    kind, time, float(grid.time_s[end]), "", words, why, 0.8 if grid.power_unit else 0.55, setup
                )
            begin = end + 1


def _one_speed(grid: FlightGrid, first: int, last: int) -> int:
    """Return how far from a step on the speed stays within `_STEADY_KT` of one value."""
    low = high = float(grid.speed_kt[first])
    for j in range(first + 1, last + 1):
        low, high = min(low, float(grid.speed_kt[j])), max(high, float(grid.speed_kt[j]))
        if high - low > 2.0 * _STEADY_KT:
            return j - 1
    return last


def _stretches(fits: BoolArray) -> list[tuple[int, int]]:
    """Return (first, last) of the stretches where a condition holds, holes of up to two steps filled."""
    filled = fits.copy()
    for width in (1, 2):
        inside = fits[: -width - 1] & fits[width + 1 :]
        for k in range(1, width + 1):
            filled[k : k + inside.size] |= inside
    edges = np.flatnonzero(np.diff(np.concatenate(([False], filled, [False])).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in edges.reshape(-1, 2)]


def go_arounds(grid: FlightGrid, moves: Sequence[Move], configuration: Configuration) -> list[Proposal]:
    """Return descents broken off in a climb, slow and dirty, with gear or flaps coming in within a minute."""
    if not grid.height_name:
        return []
    descending = grid.climb_fpm < -200.0
    climbing = grid.climb_fpm > 200.0
    found: list[Proposal] = []
    starts = np.flatnonzero(climbing & ~np.concatenate(([True], climbing[:-1])))
    for at in starts.tolist():
        before = descending[max(at - 60, 0) : at]
        if before[-40:].sum() < 15 or not descending[max(at - 15, 0) : at].any():
            continue
        turned = at - 1 - int(np.argmax(descending[max(at - 60, 0) : at][::-1]))
        time = float(grid.time_s[turned])
        gear, flaps = configuration.at(time - _HANDS_BEFORE_S)
        dirty = gear == "down" or flaps not in {"", "0", "up"}
        coming = [m for m in moves if time - _HANDS_BEFORE_S <= m.time_s <= time + 60.0 and not m.out]
        if grid.power_unit and not grid.power[min(turned + 5, at)] > grid.power[max(turned - 20, 0)] + grid.power_band:
            continue
        if (moves and not (dirty and coming)) or (found and time < found[-1].to_s):
            continue
        last = min(turned + 45, grid.time_s.size - 1)
        if coming:
            last = min(max(last, grid.at(coming[-1].time_s) + 10), grid.time_s.size - 1)
        hands = ", then " + ", ".join(m.words for m in coming) if coming else ""
        lost = float(np.max(grid.height_ft[max(turned - 60, 0) : turned + 1]) - grid.height_ft[turned])
        why = f"a descent of {lost:.0f} ft turns into a climb at {time:.0f} s at {grid.speed_kt[turned]:.0f} kt{hands}"
        start = max(turned - int(_HANDS_BEFORE_S), 0)
        found.append(
            Proposal(
                GO_AROUND,
                float(grid.time_s[start]),
                float(grid.time_s[last]),
                coming[0].device if coming else "",
                configuration.words_at(time - _HANDS_BEFORE_S),
                why,
                0.85 if coming else 0.5,
            )
        )
    return found
