"""Times out of the cells of clock columns: plain numbers, clocks, dates, ISO 8601, local time with its offset."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import polars as pl

from wringout.recordings.clocks import LEAP_SECOND_S, TimeStyle, unroll
from wringout.recordings.columns.plan import ColumnPlan
from wringout.recordings.tables.body import Body
from wringout.recordings.tables.slashdates import behind_the_date, slash_days
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
_ZONE = r"^\s*(?:UTC|GMT|Z)?\s*([+-]?)(\d{1,2})(?::?(\d{2}))?\s*$"
_PLAIN_ISO = re.compile(r"\d{4}-\d\d-\d\d([T ])\d\d:\d\d:\d\d(\.\d+)?(Z?)")
_NANO = 1e-9


def seconds_of(body: Body, plans: Sequence[ColumnPlan], plan: ColumnPlan) -> tuple[FloatArray, list[Notice]]:
    """Return times [s] in the style most cells are written in, NaN for the others, and what was noticed.

    Dates count from 1970-01-01. A column of offsets from UTC (``-05:00``) makes UTC of a local date and time.
    """
    unit = find_unit(plan.unit) if plan.unit else None
    plain = body.numbers(plan.position)
    if body.plain(plan.position) is not None:
        return np.where(np.abs(plain) < 1e15, plain, np.nan) * (unit.factor if unit else 1.0), []
    text = body.text(plan.position)
    date = next((body.text(other.position) for other in plans if other.meaning == "date"), None)
    written = max(1, int(text.is_not_null().sum()))
    if 2 * int(np.isfinite(plain).sum()) > written:
        return np.where(np.abs(plain) < 1e15, plain, np.nan) * (unit.factor if unit else 1.0), []
    dated = _plain_dated_seconds(text)
    dated = _dated_seconds(text) if dated is None else dated
    if 2 * int(np.isfinite(dated).sum()) > written:
        zone, notices = _zone_seconds(body, plans) if not _names_zone(text) else (0.0, [])
        return dated - zone, notices
    slashed = slash_days(text, plan.column)
    clock, span_s = _clock_seconds(text if slashed is None else behind_the_date(text))
    days = slashed or (_day_numbers(date, _date_column(plans)) if date is not None else None)
    if days is not None:
        zone, notices = _zone_seconds(body, plans)
        return clock + _DAY_S * days[0] - zone, [*days[1], *notices]
    return _carried(clock, span_s, body.rows, plan.column)


def _groups(text: pl.Series, pattern: str) -> list[FloatArray]:
    """Return the groups of a pattern as numbers, NaN where a cell does not match or a group is missing."""
    fields = text.str.extract_groups(pattern).struct.unnest()
    return [_floats(fields.to_series(i)) for i in range(fields.width)]


def _floats(cells: pl.Series) -> FloatArray:
    column = cells.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    return column.fill_null(np.nan).to_numpy().astype(np.float64)


def _clock_seconds(text: pl.Series) -> tuple[FloatArray, float]:
    """Return seconds of ``m:ss`` or ``h:mm:ss`` cells, and the span after which such a clock starts again [s]."""
    quick = _plain_clock_seconds(text)
    if quick is not None:
        return quick, float(TimeStyle.HOURS)
    hours, minutes, seconds, _ = _groups(text, _CLOCK)
    half = text.str.extract(_CLOCK, 4).str.to_lowercase()
    afternoon, morning = ((half == letter).fill_null(False).to_numpy() for letter in ("p", "a"))
    hours = np.where((afternoon | morning) & (hours == 12.0), 0.0, hours) + 12.0 * afternoon
    with_hours = np.isfinite(hours)
    leap = (seconds >= 60.0) & (seconds < 61.0) & (minutes == 59.0) & with_hours
    seconds = np.where(leap, LEAP_SECOND_S, seconds)
    wrong = (seconds >= 60.0) | (with_hours & (minutes >= 60.0))
    times = np.where(with_hours, 3600.0 * np.nan_to_num(hours), 0.0) + 60.0 * minutes + seconds
    times[wrong] = np.nan
    return times, float(TimeStyle.HOURS if np.any(with_hours) else TimeStyle.MINUTES)


def _plain_clock_seconds(text: pl.Series) -> FloatArray | None:
    """Return seconds of a column that is nothing but ``h:mm:ss`` of one day, read the quick way; None for others."""
    first = text.drop_nulls().head(1).to_list()
    if not first or first[0].count(":") != 2 or bool(text.str.contains(":60", literal=True).any()):
        return None
    times = text.str.to_time("%H:%M:%S%.f", strict=False)
    if times.null_count() != text.null_count():
        return None
    return times.cast(pl.Int64).cast(pl.Float64).fill_null(np.nan).to_numpy() * _NANO


def _plain_dated_seconds(text: pl.Series) -> FloatArray | None:
    """Return seconds since 1970 of a column that is ISO 8601 in one style, read the quick way; None for others."""
    first = text.drop_nulls().head(1).to_list()
    match = _PLAIN_ISO.fullmatch(first[0]) if first else None
    if match is None or bool(text.str.contains(":60", literal=True).any()):
        return None
    style = f"%Y-%m-%d{match.group(1)}%H:%M:%S%.f{match.group(3)}"
    times = text.str.to_datetime(style, strict=False, time_unit="us")
    if times.null_count() != text.null_count():
        return None
    return times.cast(pl.Int64).cast(pl.Float64).fill_null(np.nan).to_numpy() * 1e-6


def _names_zone(text: pl.Series) -> bool:
    return bool(text.str.contains(r"(?:Z|z|UTC|[+-]\d{2}:?\d{2})\s*$").any())


def _zone_seconds(body: Body, plans: Sequence[ColumnPlan]) -> tuple[FloatArray | float, list[Notice]]:
    """Return how far local time is ahead of UTC [s], row by row, from a column of offsets; 0 without one."""
    plan = next((plan for plan in plans if plan.meaning == "zone"), None)
    if plan is None:
        return 0.0, []
    cells = body.text(plan.position)
    if cells.null_count() == cells.len():
        return 0.0, []
    cells = cells.fill_null(strategy="forward").fill_null(strategy="backward")
    unique = {cell: _zone(cell) for cell in cells.unique().to_list()}
    if any(offset is None for offset in unique.values()):
        odd = next(cell for cell, offset in unique.items() if offset is None)
        sentence = f"column {plan.column!r}: {odd!r} is no offset from UTC such as -05:00; times are taken as written"
        return 0.0, [Notice(Severity.CAUTION, sentence, 0, plan.column)]
    offsets = cells.replace_strict(unique, return_dtype=pl.Float64).to_numpy()
    changes = np.flatnonzero(np.diff(offsets) != 0.0)
    notices = [
        Notice(
            Severity.NOTE,
            f"row {body.rows[i + 1]}, {plan.column}: local time goes from {cells[i]} to {cells[i + 1]} of UTC here, as "
            "where daylight saving or a time zone changes; times are UTC and run on",
            int(body.rows[i + 1]),
            plan.column,
        )
        for i in changes[:20].tolist()
    ]
    return offsets, notices


def _zone(cell: str) -> float | None:
    match = re.fullmatch(_ZONE, cell)
    if match is None:
        return 0.0 if cell.strip().upper() in {"Z", "UTC", "GMT"} else None
    sign, hours, minutes = match.groups()
    seconds = 3600.0 * int(hours) + 60.0 * int(minutes or 0)
    return None if seconds > 14.0 * 3600.0 else -seconds if sign == "-" else seconds


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


def _date_column(plans: Sequence[ColumnPlan]) -> str:
    return next(plan.column for plan in plans if plan.meaning == "date")


def _day_numbers(date: pl.Series, column: str) -> tuple[FloatArray, list[Notice]] | None:
    """Return day numbers of a date column and what was noticed, or None if any date is missing or cannot be read."""
    for pattern, order in ((_DATE, (0, 1, 2)), (_DATE_GERMAN, (2, 1, 0))):
        parts = _groups(date, pattern)
        days = _days(*(parts[i] for i in order))
        if days.size and np.all(np.isfinite(days)):
            return days, []
    slashed = slash_days(date, column)
    return slashed if slashed is not None and np.all(np.isfinite(slashed[0])) else None


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
