"""The time axis of a logger's table: clock columns in several styles, midnight, gaps, repeats and disorder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from wringout.errors import BadInputError
from wringout.recordings.clocks import TimeStyle, out_of_order, unroll
from wringout.recordings.columns import ColumnPlan
from wringout.recordings.numbers import numbers_of
from wringout.recordings.types import FloatArray, IntArray, Notice, Severity
from wringout.units import find_unit

_CLOCK = r"^\s*(?:(\d{1,3}):)?(\d{1,4}):(\d{1,2}(?:[.,]\d+)?)\s*(?:([AaPp])\.?[Mm]\.?)?\s*(?:Z|z|UTC|utc)?\s*$"
_DATED = (
    r"^\s*(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})[T ]\s*(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?\s*"
    r"(?:Z|z|UTC|([+-])(\d{2}):?(\d{2})?)?\s*$"
)
_DATE = r"^\s*(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})\s*$"
_DATE_GERMAN = r"^\s*(\d{1,2})\.(\d{1,2})\.(\d{4})\s*$"

_DAY_S = 86400.0
_GAP_STEPS = 5.0
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


def read_timeline(
    table: pl.DataFrame, plans: Sequence[ColumnPlan], rows: IntArray, separator: str, file: str
) -> Timeline:
    """Read the time of every row.

    Args:
        table: cells as text, columns named by `ColumnPlan.cell_name`, n rows.
        plans: what the columns are; one must be ``time``, one may be ``date``.
        rows: 1-based lines of the file, shape (n,).
        separator: of the file.
        file: its name, for sentences.

    Raises:
        BadInputError: no time column, hardly any readable time, or two recordings one behind the other in one file.
    """
    plan = next((plan for plan in plans if plan.meaning == "time"), None)
    if plan is None:
        raise BadInputError(
            "there is no column that is known to be the time", file, "name one column time, or map one to time"
        )
    text = table[plan.cell_name]
    date = next((table[other.cell_name] for other in plans if other.meaning == "date"), None)
    times, notices = _seconds(text, date, plan, rows, separator)
    good = np.flatnonzero(np.isfinite(times))
    if 2 * good.size < times.size or good.size == 0:
        bad = int(np.flatnonzero(~np.isfinite(times))[0])
        raise BadInputError(
            f"{_cell(text, bad)} is not a time, nor are most cells of this column",
            f"{file}, row {rows[bad]}, {plan.column}",
            "write seconds, h:mm:ss or dates and times such as 2026-05-04T10:15:30",
        )
    notices += _without_time(times, text, plan, rows)
    kept, in_order = _ordered(times[good], rows[good], plan.column, file)
    good = good[kept]
    ordered = times[good]
    notices += in_order + _steps(ordered, rows[good], plan)
    return Timeline(good, ordered - ordered[0], float(ordered[0]), tuple(notices))


def _seconds(
    text: pl.Series, date: pl.Series | None, plan: ColumnPlan, rows: IntArray, separator: str
) -> tuple[FloatArray, list[Notice]]:
    """Return times [s] in the style most cells are written in, NaN for the others."""
    written = max(1, int(text.is_not_null().sum()))
    unit = find_unit(plan.unit) if plan.unit else None
    plain = numbers_of(text, separator)
    if 2 * int(np.isfinite(plain).sum()) > written:
        return np.where(np.abs(plain) < 1e15, plain, np.nan) * (unit.factor if unit else 1.0), []
    dated = _dated_seconds(text)
    if 2 * int(np.isfinite(dated).sum()) > written:
        return dated, []
    clock, span_s = _clock_seconds(text)
    days = _day_numbers(date) if date is not None else None
    if days is not None:
        return clock + _DAY_S * (days - np.nanmin(days)), []
    return _carried(clock, span_s, rows, plan.column)


def _groups(text: pl.Series, pattern: str) -> list[FloatArray]:
    """Return the groups of a pattern as numbers, NaN where a cell does not match or a group is missing."""
    fields = text.str.extract_groups(pattern).struct.unnest()
    return [_floats(fields.to_series(i)) for i in range(fields.width)]


def _floats(cells: pl.Series) -> FloatArray:
    column = cells.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    return column.fill_null(np.nan).to_numpy().astype(np.float64)


def _clock_seconds(text: pl.Series) -> tuple[FloatArray, float]:
    """Return seconds of ``m:ss`` or ``h:mm:ss`` cells, and the span after which such a clock starts again [s]."""
    hours, minutes, seconds, _ = _groups(text, _CLOCK)
    half = text.str.extract(_CLOCK, 4).str.to_lowercase()
    afternoon, morning = ((half == letter).fill_null(False).to_numpy() for letter in ("p", "a"))
    hours = np.where((afternoon | morning) & (hours == 12.0), 0.0, hours) + 12.0 * afternoon
    with_hours = np.isfinite(hours)
    wrong = (seconds >= 60.0) | (with_hours & (minutes >= 60.0))
    times = np.where(with_hours, 3600.0 * np.nan_to_num(hours), 0.0) + 60.0 * minutes + seconds
    times[wrong] = np.nan
    return times, float(TimeStyle.HOURS if np.any(with_hours) else TimeStyle.MINUTES)


def _dated_seconds(text: pl.Series) -> FloatArray:
    """Return seconds since 1970-01-01 of ISO 8601 cells; a zone offset is taken off, no zone counts as UTC."""
    year, month, day, hour, minute, second, _, zone_hour, zone_minute = _groups(text, _DATED)
    sign = text.str.extract(_DATED, 7).replace_strict({"+": 1.0, "-": -1.0}, default=0.0, return_dtype=pl.Float64)
    zone = sign.fill_null(0.0).to_numpy() * (3600.0 * np.nan_to_num(zone_hour) + 60.0 * np.nan_to_num(zone_minute))
    clock = 3600.0 * hour + 60.0 * minute + np.nan_to_num(second)
    clock[(hour > 24.0) | (minute >= 60.0) | (np.nan_to_num(second) >= 61.0)] = np.nan
    return _days(year, month, day) * _DAY_S + clock - zone


def _days(year: FloatArray, month: FloatArray, day: FloatArray) -> FloatArray:
    """Return days since 1970-01-01 in the Gregorian calendar, NaN for a date that does not exist."""
    frame = pl.DataFrame({"y": year, "m": month, "d": day}).fill_nan(None)
    texts = frame.select(
        pl.concat_str(
            pl.col("y").cast(pl.Int64).cast(pl.String),
            pl.col("m").cast(pl.Int64).cast(pl.String).str.zfill(2),
            pl.col("d").cast(pl.Int64).cast(pl.String).str.zfill(2),
            separator="-",
        )
    ).to_series()
    dates = texts.str.to_date("%Y-%m-%d", strict=False).cast(pl.Int32).cast(pl.Float64)
    return dates.fill_null(np.nan).to_numpy().astype(np.float64)


def _day_numbers(date: pl.Series) -> FloatArray | None:
    """Return day numbers of a date column, or None if any date is missing or could be read in two ways."""
    for pattern, order in ((_DATE, (0, 1, 2)), (_DATE_GERMAN, (2, 1, 0))):
        parts = _groups(date, pattern)
        days = _days(*(parts[i] for i in order))
        if days.size and np.all(np.isfinite(days)):
            return days
    return None


def _carried(clock: FloatArray, span_s: float, rows: IntArray, column: str) -> tuple[FloatArray, list[Notice]]:
    """Carry a clock past midnight (or past the full hour, if hours are not written)."""
    good = np.flatnonzero(np.isfinite(clock))
    if good.size == 0 or float(np.max(clock[good])) >= span_s:
        return clock, []
    times = clock.copy()
    times[good], rounds = unroll(clock[good], span_s, longest_step_s=0.5 * span_s)
    what = "day" if span_s == _DAY_S else "hour"
    return times, [
        Notice(
            Severity.NOTE,
            f"row {rows[good[i]]}, {column}: the clock starts again here and is carried into the next {what}",
            int(rows[good[i]]),
            column,
        )
        for i in rounds[:20]
    ]


def _without_time(times: FloatArray, text: pl.Series, plan: ColumnPlan, rows: IntArray) -> list[Notice]:
    missing = np.flatnonzero(~np.isfinite(times))
    if missing.size == 0:
        return []
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


def _ordered(times: FloatArray, rows: IntArray, column: str, file: str) -> tuple[IntArray, list[Notice]]:
    """Return the order that sorts times, and a notice on the rows that were out of order.

    Raises:
        BadInputError: the clock falls back and runs on from there, as where two recordings are joined.
    """
    falls = np.flatnonzero(np.diff(times) < 0.0)
    if falls.size == 0:
        return np.arange(times.size, dtype=np.int64), []
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
    return np.argsort(times, kind="stable").astype(np.int64), [notice]


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
        notices.append(
            Notice(
                Severity.CAUTION,
                f"{count} in time, the longest is {steps[at]:g} s before row {rows[at + 1]} where the "
                f"usual step is {usual:.3g} s",
                int(rows[at + 1]),
                plan.column,
            )
        )
    if usual > _LONGEST_PLAIN_STEP_S:
        notices.append(
            Notice(
                Severity.CAUTION,
                f"the rows are {usual:g} s apart, which is long for a logger; if the times are not in "
                "seconds, map the column with its unit",
                0,
                plan.column,
            )
        )
    return notices


def _cell(text: pl.Series, i: int) -> str:
    value = text[i]
    return "a blank cell" if value is None else repr(str(value))
