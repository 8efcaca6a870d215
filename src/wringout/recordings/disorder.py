"""Rows whose clock does not run on evenly: out of order, set back, started again, joined in the wrong order."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.clocks import out_of_order
from wringout.recordings.types import FloatArray, IntArray, Notice, Severity

RESET_PAUSE_S = 60.0
"""How far apart two stretches are put where a logger's clock started again and the pause is not known [s]."""

_STEP_BACK_S = 600.0  # a clock is not corrected by more than this in flight (judged)
_HOUR_S = 3600.0
_NEAR_ZERO_S = 60.0  # a clock that counts from when the logger was switched on
_MOST_STRETCHES = 50
_FEWEST_ROWS = 10


def in_order(times: FloatArray, rows: IntArray, column: str, file: str) -> tuple[IntArray, FloatArray, list[Notice]]:
    """Return the order that sorts times, the times in that order, and what was noticed.

    - Single rows out of order are sorted.
    - A clock that starts again where it began is carried on, `RESET_PAUSE_S` behind the row before.
    - A clock that is set back in flight is taken as right from there on; the rows before are moved to run up to it.
    - A clock that falls back by an hour is carried on, as where daylight saving ends.
    - Stretches joined in the wrong order are put in order.

    Args:
        times: as written, shape (n,) [s].
        rows: 1-based lines, shape (n,).
        column, file: for sentences.

    Raises:
        BadInputError: the clock falls back and runs on over times it showed before, as in two joined recordings.
    """
    falls = np.flatnonzero(np.diff(times) < 0.0)
    if falls.size == 0:
        return np.arange(times.size, dtype=np.int64), times, []
    mended = _mended(times, rows, falls, column)
    if mended is not None:
        moved, notices = mended
        order = np.argsort(moved, kind="stable").astype(np.int64)
        return order, moved[order], notices
    astray = out_of_order(times)
    if len(astray) > max(10, times.size // 100):
        worst = int(falls[np.argmin(np.diff(times)[falls])])
        raise BadInputError(
            f"the time falls back by {times[worst] - times[worst + 1]:g} s and runs on from there, as if two "
            "recordings were joined",
            f"{file}, row {rows[worst + 1]}, {column}",
            "split the file at that row and take in both parts",
        )
    first = astray[0]
    count = "1 row is" if len(astray) == 1 else f"{len(astray)} rows are"
    notice = Notice(
        Severity.CAUTION,
        f"{count} out of order, the first is row {rows[first]}; all are kept and sorted by time",
        int(rows[first]),
        column,
    )
    order = np.argsort(times, kind="stable").astype(np.int64)
    return order, times[order], [notice]


def _mended(times: FloatArray, rows: IntArray, falls: IntArray, column: str) -> tuple[FloatArray, list[Notice]] | None:
    """Return times that run on over every fall, where each stretch between falls is even in itself; else None."""
    bounds = [0, *(falls + 1).tolist(), times.size]
    stretches = [times[a:b] for a, b in itertools.pairwise(bounds)]
    if len(stretches) > _MOST_STRETCHES or any(part.size < _FEWEST_ROWS for part in stretches):
        return None
    steps = np.diff(times)
    usual = float(np.median(steps[steps > 0.0])) if np.any(steps > 0.0) else 0.0
    if usual <= 0.0:
        return None
    moved = [stretches[0]]
    notices: list[Notice] = []
    for part, begin in zip(stretches[1:], bounds[1:], strict=False):
        row, last = int(rows[begin]), float(moved[-1][-1])
        fall = float(times[begin - 1] - part[0])
        if abs(fall - _HOUR_S) <= 2.0 * usual + 1.0:
            part = part + _HOUR_S + (last - times[begin - 1])
            words = "the clock falls back by an hour here, as where daylight saving ends, and is carried on"
        elif part[0] < _NEAR_ZERO_S or abs(part[0] - times[0]) <= 2.0 * usual:
            part = part - part[0] + last + RESET_PAUSE_S
            words = (
                f"the clock starts again here, from {times[begin - 1]:g} to {times[begin]:g} s; the rows from here on "
                f"are put {RESET_PAUSE_S:g} s behind those before, since the true pause is not known: let no run "
                "cross this row"
            )
        elif fall <= _STEP_BACK_S and _even(stretches, usual):
            shift = fall + usual
            moved = [earlier - shift for earlier in moved]
            words = (
                f"the clock is set back by {fall + usual:g} s here and taken as right from here on; the rows before "
                "are moved by as much"
            )
        else:
            return _sorted_stretches(times, stretches, row, column)
        notices.append(Notice(Severity.CAUTION, f"row {row}, {column}: {words}", row, column))
        moved.append(part)
    return np.concatenate(moved), notices


def _even(stretches: Sequence[FloatArray], usual: float) -> bool:
    return all(float(np.max(np.diff(part))) <= 5.0 * usual for part in stretches)


def _sorted_stretches(
    times: FloatArray, stretches: Sequence[FloatArray], row: int, column: str
) -> tuple[FloatArray, list[Notice]] | None:
    """Return the times as they are where the stretches do not overlap, so that sorting puts them in order."""
    spans = sorted((float(part[0]), float(part[-1])) for part in stretches)
    if any(later[0] <= earlier[1] for earlier, later in itertools.pairwise(spans)):
        return None
    words = f"row {row}, {column}: the {len(stretches)} stretches of this file stand in another order; they are sorted"
    return times, [Notice(Severity.CAUTION, words, row, column)]
