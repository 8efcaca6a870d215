"""Loggers' tables: delimited text with a head, 1 to 10 rows a second, hours long."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import polars as pl

from wringout.advice import Way
from wringout.errors import BadInputError
from wringout.recordings.columns.mapping import Mapping
from wringout.recordings.columns.plan import ColumnPlan, HeaderPlace, plan_columns, unknown_columns_notice
from wringout.recordings.columns.plausible import channel_from, summary_notices
from wringout.recordings.columns.quantities import QUANTITIES
from wringout.recordings.marks import split_mark, uninterpreted
from wringout.recordings.tables.body import Body, read_body
from wringout.recordings.tables.head import TableHead
from wringout.recordings.tables.lines import quoted
from wringout.recordings.tables.numbers import unreadable
from wringout.recordings.tables.timeline import Timeline, read_timeline
from wringout.recordings.types import Channel, FloatArray, IntArray, Mark, Notice, Recording, Severity

_WORD_COLUMNS = frozenset({"flap", "gear"})
_MARK_ROLES = frozenset({"mark", "note"})


def read_table(text: str, file: str, sha256: str, head: TableHead, mapping: Mapping | None = None) -> Recording:
    """Read a logger's table.

    Args:
        text: the whole file.
        file: its name, for sentences.
        sha256: hash of its bytes.
        head: its head, from `wringout.recordings.tables.head.find_head`.
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
            f"write a first row of names, or {Way.COLUMNS} ('#1' is the first)",
        )
    notices += unknown_columns_notice(plans, head.names_row)
    wanted = [plan.position for plan in plans if plan.meaning not in {"", "ignore"}] or [0]
    body = read_body(text, head, width, wanted, file)
    timeline = read_timeline(body, plans, file)
    body.keep(timeline.kept)
    rows = body.rows
    channels, texts, in_values = _values(body, plans)
    if not channels and not texts and not any(n.severity is Severity.QUESTION for n in [*notices, *in_values]):
        raise BadInputError(
            f"no column of {', '.join(names[:12])} is known besides the time",
            file,
            f"name columns such as IAS (kt), or {Way.COLUMNS}",
        )
    marks, in_marks = _marks(body, plans, timeline)
    everything = (*head.notices, *notices, *body.notices, *timeline.notices, *in_values, *in_marks)
    return Recording(
        file, sha256, "logger", rows, timeline.time_s, channels, texts, marks, head.header, everything, timeline.zero_s
    )


def _width_of_data(text: str, head: TableHead) -> int:
    line = text.replace("\r\n", "\n").replace("\r", "\n").split("\n", head.data_row)[head.data_row - 1]
    return line.count(head.separator) + 1


def _values(
    body: Body, plans: Sequence[ColumnPlan]
) -> tuple[dict[str, Channel], dict[str, tuple[str, ...]], list[Notice]]:
    channels: dict[str, Channel] = {}
    texts: dict[str, tuple[str, ...]] = {}
    notices: list[Notice] = []
    for plan in plans:
        if not plan.is_quantity:
            continue
        raw = body.numbers(plan.position, QUANTITIES[plan.meaning].dimension)
        if body.plain(plan.position) is None:
            text = body.text(plan.position)
            odd = unreadable(text, raw)
            if plan.meaning in _WORD_COLUMNS and 2 * odd.size > int(text.is_not_null().sum()):
                texts[plan.meaning] = tuple(text.fill_null("").to_list())
                continue
            notices += _unreadable_notices(plan, text, odd, body.rows)
        channel, more = channel_from(_with_handle_unit(plan, raw), raw, body.rows, _quoting(body, plan.position))
        notices += more
        if channel is not None:
            channels[channel.quantity] = channel
    return channels, texts, notices


def _quoting(body: Body, position: int) -> Callable[[int], str]:
    return lambda i: str(body.text(position)[i])


def _with_handle_unit(plan: ColumnPlan, raw: FloatArray) -> ColumnPlan:
    """Take a gear column of nothing but numbers from 0 to 1 as the position it plainly is."""
    if plan.meaning != "gear" or plan.unit.strip("- "):
        return plan
    finite = raw[np.isfinite(raw)]
    if finite.size > 0 and bool(np.all((finite >= 0.0) & (finite <= 1.0))):
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


def _marks(body: Body, plans: Sequence[ColumnPlan], timeline: Timeline) -> tuple[tuple[Mark, ...], list[Notice]]:
    """Read the columns of marks; a label that stays for several rows is one mark, and 0 is none."""
    marks: list[Mark] = []
    notices: list[Notice] = []
    for plan in plans:
        if plan.meaning not in _MARK_ROLES:
            continue
        text = body.text(plan.position).fill_null("").replace("0", "")
        starts = np.flatnonzero(((text != text.shift(1, fill_value="")) & (text != "")).to_numpy())
        for i in starts.tolist():
            for words, event in split_mark(text[i]):
                marks.append(Mark(float(timeline.time_s[i]), words, int(body.rows[i]), event))
                notices += uninterpreted(words, event, int(body.rows[i]))
    return tuple(sorted(marks, key=lambda mark: mark.time_s)), notices
