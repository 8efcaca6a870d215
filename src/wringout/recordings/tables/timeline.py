"""The time axis of a logger's table: clock columns in several styles, midnight, gaps, repeats and disorder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from wringout.advice import Way
from wringout.errors import BadInputError
from wringout.recordings.columns.plan import ColumnPlan
from wringout.recordings.disorder import in_order
from wringout.recordings.tables.body import Body
from wringout.recordings.tables.clockcells import seconds_of
from wringout.recordings.types import FloatArray, IntArray, Notice, Severity

_GAP_STEPS = 5.0
_HOUR_S = 3600.0
_LONGEST_PLAIN_STEP_S = 30.0


@dataclass(frozen=True, slots=True)
class Timeline:
    """Times of the rows that have one.

    Attributes:
        kept: positions in the table of the rows used, in order of time, shape (m,).
        time_s: seconds from the earliest row, shape (m,).
        zero_s: what the file's clock said at zero [s].
        notices: what was noticed.
    """

    kept: IntArray
    time_s: FloatArray
    zero_s: float
    notices: tuple[Notice, ...]


def read_timeline(body: Body, plans: Sequence[ColumnPlan], file: str) -> Timeline:
    """Read the time of every row.

    Args:
        body: the cells of n rows.
        plans: what the columns are; one must be ``time``, one may be ``date``.
        file: its name, for sentences.

    Raises:
        BadInputError: no time column, hardly any readable time, or two recordings one behind the other in one file.
    """
    plan = next((plan for plan in plans if plan.meaning == "time"), None)
    if plan is None:
        raise BadInputError(
            "there is no column that is known to be the time", file, f"name one column time, or {Way.COLUMNS}"
        )
    rows = body.rows
    times, notices = seconds_of(body, plans, plan)
    good = np.flatnonzero(np.isfinite(times))
    if 2 * good.size < times.size or good.size == 0:
        bad = int(np.flatnonzero(~np.isfinite(times))[0])
        raise BadInputError(
            f"{_cell(body.text(plan.position), bad)} is not a time, nor are most cells of this column",
            f"{file}, row {rows[bad]}, {plan.column}",
            "write seconds, h:mm:ss or dates and times such as 2026-05-04T10:15:30",
        )
    notices += _without_time(times, body, plan)
    kept, ordered, in_disorder = in_order(times[good], rows[good], plan.column, file)
    good = good[kept]
    notices += in_disorder + _steps(ordered, rows[good], plan)
    return Timeline(good, ordered - ordered[0], float(ordered[0]), tuple(notices))


def _without_time(times: FloatArray, body: Body, plan: ColumnPlan) -> list[Notice]:
    missing = np.flatnonzero(~np.isfinite(times))
    if missing.size == 0:
        return []
    text, rows = body.text(plan.position), body.rows
    first = int(missing[0])
    count = "1 row has" if missing.size == 1 else f"{missing.size} rows have"
    return [
        Notice(
            Severity.CAUTION,
            f"{count} no time that can be read and are not used, the first is row {rows[first]} with "
            f"{_cell(text, first)}",
            int(rows[first]),
            plan.column,
        )
    ]


def _steps(times: FloatArray, rows: IntArray, plan: ColumnPlan) -> list[Notice]:
    """Notice repeated times, gaps, and a step so long that the unit of time is in doubt."""
    steps = np.diff(times)
    notices = []
    repeats = np.flatnonzero(steps == 0.0)
    if repeats.size:
        row = int(rows[repeats[0] + 1])
        count = "1 row has" if repeats.size == 1 else f"{repeats.size} rows have"
        notices.append(
            Notice(
                Severity.NOTE,
                f"{count} the same time as the row before, the first is row {row}; all are kept",
                row,
                plan.column,
            )
        )
    moving = steps[steps > 0.0]
    usual = float(np.median(moving)) if moving.size else 0.0
    gaps = np.flatnonzero(steps > _GAP_STEPS * usual) if usual > 0.0 else np.empty(0, dtype=np.int64)
    if gaps.size:
        at = int(gaps[np.argmax(steps[gaps])])
        count = "1 gap" if gaps.size == 1 else f"{gaps.size} gaps"
        hour = abs(steps[at] - usual - _HOUR_S) <= 2.0 * max(usual, 0.5)
        forward = "; a clock set forward by an hour (daylight saving, another time zone) looks the same" if hour else ""
        notices.append(
            Notice(
                Severity.CAUTION,
                f"{count} in time, the longest is {steps[at]:g} s before row {rows[at + 1]} where the "
                f"usual step is {usual:.3g} s{forward}",
                int(rows[at + 1]),
                plan.column,
            )
        )
    if usual > _LONGEST_PLAIN_STEP_S:
        notices.append(
            Notice(
                Severity.CAUTION,
                f"the rows are {usual:g} s apart, which is long for a logger; if the times are not in "
                f"seconds, {Way.COLUMNS}",
                0,
                plan.column,
            )
        )
    return notices


def _cell(text: pl.Series, i: int) -> str:
    value = text[i]
    return "a blank cell" if value is None else repr(str(value))
