"""Loggers' tables: delimited text with a head, 1 to 10 rows a second, hours long."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import polars as pl

from wringout.errors import BadInputError
from wringout.recordings.columns import ColumnPlan, HeaderPlace, plan_columns, unknown_columns_notice
from wringout.recordings.lines import COMMENT_SIGNS, quoted
from wringout.recordings.mapping import Mapping
from wringout.recordings.marks import split_mark, uninterpreted
from wringout.recordings.numbers import numbers_of, unreadable
from wringout.recordings.plausible import channel_from, summary_notices
from wringout.recordings.quantities import QUANTITIES
from wringout.recordings.tablehead import TableHead
from wringout.recordings.timeline import Timeline, read_timeline
from wringout.recordings.types import Channel, FloatArray, IntArray, Mark, Notice, Recording, Severity

_WORD_COLUMNS = frozenset({"flap", "gear"})
_MARK_ROLES = frozenset({"mark", "note"})
_COMMENT_BYTES = tuple(sign.encode() for sign in COMMENT_SIGNS)


def read_table(text: str, file: str, sha256: str, head: TableHead, mapping: Mapping | None = None) -> Recording:
    """Read a logger's table.

    Args:
        text: the whole file.
        file: its name, for sentences.
        sha256: hash of its bytes.
        head: its head, from `wringout.recordings.tablehead.find_head`.
        mapping: says what columns are, where their names and units do not.

    Returns:
        A recording of kind ``logger``, rows in order of time. A flap or gear column of words (UP, DOWN) is in
        ``texts``; one of numbers is a channel.

    Raises:
        BadInputError: no time column, unreadable times, two recordings in one file, or no column that can be used.
    """
    width = len(head.names) or _width_of_data(text, head)
    names = head.names or tuple(f"#{i + 1}" for i in range(width))
    plans, notices = plan_columns(names, head.units, mapping, HeaderPlace(file, head.names_row), called=False)
    if not head.names and not any(plan.meaning for plan in plans):
        raise BadInputError(
            "the table has no column names",
            file,
            'write a first row of names, or map columns by their position, such as "#1"',
        )
    notices += unknown_columns_notice(plans, head.names_row)
    table, rows, in_body = _body(text, head, width, plans, file)
    timeline = read_timeline(table, plans, rows, head.separator, file)
    table, rows = table[timeline.kept.tolist()], rows[timeline.kept]
    channels, texts, in_values = _values(table, plans, rows, head.separator)
    if not channels and not texts and not any(n.severity is Severity.QUESTION for n in [*notices, *in_values]):
        raise BadInputError(
            "no column is known besides the time",
            file,
            "name columns such as IAS (kt), or map them: " + ", ".join(names[:12]),
        )
    marks, in_marks = _marks(table, plans, rows, timeline)
    everything = (*head.notices, *notices, *in_body, *timeline.notices, *in_values, *in_marks)
    return Recording(
        file, sha256, "logger", rows, timeline.time_s, channels, texts, marks, head.header, everything, timeline.zero_s
    )


def _width_of_data(text: str, head: TableHead) -> int:
    line = text.replace("\r\n", "\n").replace("\r", "\n").split("\n", head.data_row)[head.data_row - 1]
    return line.count(head.separator) + 1


def _body(
    text: str, head: TableHead, width: int, plans: Sequence[ColumnPlan], file: str
) -> tuple[pl.DataFrame, IntArray, list[Notice]]:
    """Return the cells of the known columns as text, blank cells null, with the 1-based line of each row."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").encode().split(b"\n")
    blank = b" \t\r\f\v,;"
    kept = [
        i
        for i in range(head.data_row - 1, len(lines))
        if (line := lines[i].strip(blank)) and not line.startswith(_COMMENT_BYTES)
    ]
    notices: list[Notice] = []
    separator = head.separator.encode()
    counts = np.array([lines[i].count(separator) for i in kept]) + 1
    quoted = any(b'"' in lines[i] for i in kept)
    if lines[-1] and kept[-1] == len(lines) - 1 and counts[-1] < min(width, int(np.median(counts))) and len(kept) > 1:
        notices.append(
            Notice(
                Severity.CAUTION,
                f"row {len(lines)}, the last of the file, breaks off in the middle and is not used: "
                f"{lines[-1][-60:].decode(errors='replace')!r}",
                len(lines),
            )
        )
        kept, counts = kept[:-1], counts[:-1]
    notices += [] if quoted else _ragged(counts, kept, width)
    rows = np.array(kept, dtype=np.int64) + 1
    wanted = [plan.position for plan in plans if plan.meaning not in {"", "ignore"}] or [0]
    return _parse([lines[i] for i in kept], head.separator, width, wanted, quoted, file), rows, notices


def _ragged(counts: IntArray, kept: Sequence[int], width: int) -> list[Notice]:
    """Notice rows with more or fewer cells than there are columns (one separator too many at the end is usual)."""
    odd = np.flatnonzero((counts != width) & (counts != width + 1))
    if odd.size == 0:
        return []
    first = int(odd[0])
    count = "1 row has" if odd.size == 1 else f"{odd.size} rows have"
    return [
        Notice(
            Severity.CAUTION,
            f"{count} another number of cells than the {width} columns, the first is row "
            f"{kept[first] + 1} with {counts[first]}; missing cells are blank, extra cells are not used",
            kept[first] + 1,
        )
    ]


def _parse(
    lines: Sequence[bytes], separator: str, width: int, wanted: list[int], quoted: bool, file: str
) -> pl.DataFrame:
    """Parse lines of ``width`` columns into stripped text, the wanted columns only.

    A full row is put in front to fix the width, and taken off again.
    """
    names = [f"c{i}" for i in range(width)]
    full = separator.join(["0"] * width).encode()
    source = b"\n".join([full, *lines, b""])
    for quote in ('"', None) if quoted else (None,):
        try:
            table = pl.read_csv(
                source,
                has_header=False,
                schema=dict.fromkeys(names, pl.String),
                columns=wanted,
                separator=separator,
                quote_char=quote,
                truncate_ragged_lines=True,
            )
        except pl.exceptions.PolarsError:
            continue
        if table.height == len(lines) + 1:
            bare = pl.all().str.strip_chars(' \t"')
            return table.slice(1).select(pl.when(bare.str.len_bytes() > 0).then(bare).name.keep())
    raise BadInputError(
        "the rows cannot be taken apart into columns",
        file,
        "write one row a line, with quotes only in pairs around a whole cell",
    )


def _values(
    table: pl.DataFrame, plans: Sequence[ColumnPlan], rows: IntArray, separator: str
) -> tuple[dict[str, Channel], dict[str, tuple[str, ...]], list[Notice]]:
    channels: dict[str, Channel] = {}
    texts: dict[str, tuple[str, ...]] = {}
    notices: list[Notice] = []
    for plan in plans:
        if not plan.is_quantity:
            continue
        text = table[plan.cell_name]
        raw = numbers_of(text, separator, QUANTITIES[plan.meaning].dimension)
        odd = unreadable(text, raw)
        if plan.meaning in _WORD_COLUMNS and 2 * odd.size > int(text.is_not_null().sum()):
            texts[plan.meaning] = tuple(text.fill_null("").to_list())
            continue
        notices += _unreadable_notices(plan, text, odd, rows)
        channel, more = channel_from(_with_handle_unit(plan, raw), raw, rows, text.__getitem__)
        notices += more
        if channel is not None:
            channels[channel.quantity] = channel
    return channels, texts, notices


def _with_handle_unit(plan: ColumnPlan, raw: FloatArray) -> ColumnPlan:
    """Take a gear column of nothing but 0 and 1 as the position it plainly is."""
    finite = raw[np.isfinite(raw)]
    plain = finite.size > 0 and bool(np.all((finite == 0.0) | (finite == 1.0)))
    if plan.meaning == "gear" and not plan.unit.strip("- ") and plain:
        return ColumnPlan(plan.position, plan.column, plan.meaning, "1", plan.confirmed, plan.rank)
    return plan


def _unreadable_notices(plan: ColumnPlan, text: pl.Series, odd: IntArray, rows: IntArray) -> list[Notice]:
    return summary_notices(
        odd,
        rows,
        plan.column,
        lambda i: f"row {rows[i]}, {plan.column}: {quoted(text[i])} is not a number and is left blank",
        lambda n, i: (
            f"{plan.column}: {n} cells are not numbers and are left blank, the first is {quoted(text[i])} "
            f"in row {rows[i]}"
        ),
    )


def _marks(
    table: pl.DataFrame, plans: Sequence[ColumnPlan], rows: IntArray, timeline: Timeline
) -> tuple[tuple[Mark, ...], list[Notice]]:
    """Read the columns of marks; a label that stays for several rows is one mark, and 0 is none."""
    marks: list[Mark] = []
    notices: list[Notice] = []
    for plan in plans:
        if plan.meaning not in _MARK_ROLES:
            continue
        text = table[plan.cell_name].fill_null("")
        text = text.replace("0", "")
        starts = np.flatnonzero(((text != text.shift(1, fill_value="")) & (text != "")).to_numpy())
        for i in starts.tolist():
            for words, event in split_mark(text[i]):
                marks.append(Mark(float(timeline.time_s[i]), words, int(rows[i]), event))
                notices += uninterpreted(words, event, int(rows[i]))
    return tuple(sorted(marks, key=lambda mark: mark.time_s)), notices
