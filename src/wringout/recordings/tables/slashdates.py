"""Dates with slashes: ``5/13/2026`` month first, as panels in the United States write them, or ``13/5/2026`` day first.

The file itself says which where one number is above 12, or where only one order keeps the flight within two days.
Where nothing decides, the month is taken first, because that is who writes slashes (common practice, no source), and a
caution says so.
"""

from __future__ import annotations

import datetime

import numpy as np
import polars as pl

from wringout.recordings.types import FloatArray, Notice, Severity

SLASHED = r"^\s*(\d{1,2})/(\d{1,2})/(\d{4}|\d{2})(?:[ T,]\s*(\S.*))?\s*$"
LONGEST_FLIGHT_DAYS = 2
_EPOCH = datetime.date(1970, 1, 1).toordinal()


def slash_days(text: pl.Series, column: str) -> tuple[FloatArray, list[Notice]] | None:
    """Return days since 1970-01-01 of cells that begin with a date with slashes, NaN for others, and what was noticed.

    None where most cells are no such dates, or where neither order makes dates of all of them.
    """
    fields = text.str.extract_groups(SLASHED).struct.unnest()
    dates = pl.DataFrame({name: fields.to_series(i).cast(pl.Int64) for i, name in enumerate(("a", "b", "y"))})
    seen = dates.drop_nulls().unique(maintain_order=True)
    if 2 * dates.drop_nulls().height <= int(text.is_not_null().sum()):
        return None
    tried = {first: _numbers(seen, month_first=first == "month") for first in ("month", "day")}
    whole = {first: days for first, days in tried.items() if None not in days}
    if not whole:
        return None
    first, notices = _order(whole, seen, column)
    table = dict(zip(seen.rows(), whole[first], strict=True))
    days = np.array([table.get(row, np.nan) for row in dates.rows()], dtype=np.float64)
    return days, notices


def behind_the_date(text: pl.Series) -> pl.Series:
    """Return what stands behind a date with slashes in the same cell, null where nothing does."""
    return text.str.extract(SLASHED, 4)


def _numbers(seen: pl.DataFrame, *, month_first: bool) -> list[int | None]:
    return [_number(y, *((a, b) if month_first else (b, a))) for a, b, y in seen.rows()]


def _number(year: int, month: int, day: int) -> int | None:
    full = year if year >= 100 else 2000 + year if year < 80 else 1900 + year
    try:
        return datetime.date(full, month, day).toordinal() - _EPOCH
    except ValueError:
        return None


def _order(whole: dict[str, list[int | None]], seen: pl.DataFrame, column: str) -> tuple[str, list[Notice]]:
    """Return which number of a date comes first, "month" or "day"."""
    if len(whole) == 1:
        return next(iter(whole)), []
    near = [first for first, days in whole.items() if _span(days) <= LONGEST_FLIGHT_DAYS]
    if len(near) == 1:
        return near[0], []
    if whole["month"] == whole["day"]:
        return "month", []
    a, b, year = seen.row(0)
    days = whole["month"][0]
    read = datetime.date.fromordinal(_EPOCH + (days or 0)).isoformat()
    sentence = (
        f"column {column!r}: {a}/{b}/{year} may begin with the month or the day; it is read month first, as {read}; "
        "write dates as 2026-05-04 where that is wrong"
    )
    return "month", [Notice(Severity.CAUTION, sentence, 0, column)]


def _span(days: list[int | None]) -> int:
    known = [day for day in days if day is not None]
    return max(known) - min(known)
