"""Hand-called readings: what somebody called out or typed from a video, a row for each call.

The format is described in ``docs/recordings.md``. Nothing that was written is lost: a row out of order, a repeated
call or a cell that cannot be read is kept or quoted, and a notice says so.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wringout.errors import BadInputError
from wringout.recordings.clocks import (
    ClockTime,
    TimeStyle,
    likelier_astray,
    missing_time,
    out_of_order,
    read_time,
    unroll,
    write_time,
)
from wringout.recordings.columns.mapping import Mapping
from wringout.recordings.columns.plan import ColumnPlan, HeaderPlace, plan_columns, unknown_columns_notice
from wringout.recordings.marks import split_mark, uninterpreted
from wringout.recordings.tables.cells import BLANKS, channel_cells
from wringout.recordings.tables.lines import ONE_BLANK, Layout, Source, find_layout, quoted, split_cells, take_apart
from wringout.recordings.tables.lists import is_list, read_list
from wringout.recordings.types import EventKind, FloatArray, Mark, Notice, Recording, Severity
from wringout.units import find_unit

_MARK_ROLES = frozenset({"mark", "note"})
_WORD_COLUMNS = frozenset({"flap", "gear"})
_GAP_STEPS = 2.5
_ADVICE = "one row for each call, such as 0:06, 118, gear down"


@dataclass(frozen=True, slots=True)
class _Call:
    """One row: its line, its time, its cells, and the words of its marks."""

    row: int
    time: ClockTime
    cells: tuple[str, ...]
    labels: tuple[str, ...]


def read_called(text: str, file: str, sha256: str, mapping: Mapping | None = None) -> Recording:
    """Read hand-called readings, or a hand-written list without times (stalls, transit timings).

    Args:
        text: the whole file.
        file: its name, for sentences.
        sha256: hash of its bytes.
        mapping: says what columns are, where their names do not.

    Returns:
        A recording of kind ``called``, ``stalls`` or ``transits``. Times start at zero at the earliest row.

    Raises:
        BadInputError: no rows, no row with a time, columns that look swapped, or a unit that cannot be right.
    """
    source = take_apart(text, file)
    if not source.lines:
        raise BadInputError("there are no readings in this file", file, f"write {_ADVICE}")
    layout = find_layout(source.lines)
    if layout is None:
        raise BadInputError(
            f"no row reads as a time and a speed, the first is {quoted(source.lines[0].text)}",
            f"{file}, row {source.lines[0].row}",
            f"write {_ADVICE}",
        )
    row = source.lines[layout.header_at].row if layout.header_at >= 0 else 0
    plans, notices = plan_columns(layout.names, (), mapping, HeaderPlace(file, row), called=True)
    if is_list(plans):
        return read_list(source, layout, plans, notices, file, sha256)
    if not any(plan.meaning == "time" for plan in plans):
        raise BadInputError(
            f"there is no time column among {', '.join(layout.names)}",
            f"{file}, row {row}",
            "name one column time; a list of stalls needs flap and speed, a list of timings device and seconds",
        )
    if layout.header_at == len(source.lines) - 1:
        raise BadInputError("there are column names but no rows", file, f"write {_ADVICE}")
    if layout.header_at >= 0:
        notices += unknown_columns_notice(plans, row)
    return _read_calls(source, layout, plans, notices, file, sha256)


def _read_calls(
    source: Source, layout: Layout, plans: Sequence[ColumnPlan], notices: list[Notice], file: str, sha256: str
) -> Recording:
    calls, more = _calls(source, layout, plans)
    _refuse_swapped(source, layout, plans, file)
    if not calls:
        raise BadInputError("no row has a time that can be read", file, "write times as 72, 1:12 or 0:01:12")
    calls, more_about_marks = _take_words_from_speed(calls, plans)
    times, order, in_time = _put_in_order(calls, plans)
    calls = [calls[i] for i in order]
    zero_s = float(times[0])
    rows = np.array([call.row for call in calls], dtype=np.int64)
    channels, in_cells = channel_cells(
        [plan for plan in plans if plan.is_quantity and plan.meaning not in _WORD_COLUMNS],
        [call.cells for call in calls],
        rows,
        layout.separator,
    )
    marks, in_marks = _marks(calls, times - zero_s)
    texts = {
        plan.meaning: tuple(call.cells[plan.position] for call in calls)
        for plan in plans
        if plan.meaning in _WORD_COLUMNS
    }
    everything = (*source.notices, *notices, *more, *more_about_marks, *in_time, *in_cells, *in_marks)
    says_something = channels or texts or any(mark.event.kind is not EventKind.NOTE for mark in marks)
    if not says_something and all(notice.severity is not Severity.QUESTION for notice in everything):
        raise BadInputError("no row has a speed that can be read", file, f"write {_ADVICE}")
    return Recording(
        file, sha256, "called", rows, times - zero_s, channels, texts, marks, source.header, everything, zero_s
    )


def _calls(source: Source, layout: Layout, plans: Sequence[ColumnPlan]) -> tuple[list[_Call], list[Notice]]:
    """Read the time, the cells and the mark of every row; quote rows that have no readable time."""
    time_plan = next(plan for plan in plans if plan.meaning == "time")
    unit = find_unit(time_plan.unit) if time_plan.unit else None
    calls: list[_Call] = []
    notices: list[Notice] = []
    for i, line in enumerate(source.lines):
        if i == layout.header_at:
            continue
        text, comment = _without_comment(line.text)
        cells, labels = _cells_and_labels(text, layout, plans)
        if comment:
            labels = [*labels, comment]
        time = read_time(cells[time_plan.position], unit.factor if unit else 1.0)
        if time is None:
            written = cells[time_plan.position]
            what = f"{written!r} is not a time" if written else "there is no time"
            notices.append(
                Notice(
                    Severity.CAUTION,
                    f"row {line.row}, time: {what}, so the row {quoted(line.text)} is not used; "
                    "write 72, 1:12 or 0:01:12",
                    line.row,
                    "time",
                )
            )
            continue
        calls.append(_Call(line.row, time, tuple(cells), tuple(labels)))
    return calls, notices


def _cells_and_labels(text: str, layout: Layout, plans: Sequence[ColumnPlan]) -> tuple[list[str], list[str]]:
    """Return exactly as many cells as there are columns, and the words of the marks; extra cells are words too."""
    cells = split_cells(text, layout.separator, len(plans))
    if layout.separator == ONE_BLANK and plans[0].meaning == "time" and _is_words(" ".join(cells[1:2])):
        cells = [cells[0], " ".join(cells[1:])]
    extra = [cell for cell in cells[len(plans) :] if cell]
    cells = (cells + [""] * len(plans))[: len(plans)]
    labels = [cells[plan.position] for plan in plans if plan.meaning in _MARK_ROLES and cells[plan.position]]
    if extra and labels and plans[-1].meaning in _MARK_ROLES:
        labels[-1] = ", ".join([labels[-1], *extra])
    else:
        labels += extra
    return cells, labels


def _is_words(cell: str) -> bool:
    """Return whether a cell that should hold a number holds words: it begins with a letter and is no blank."""
    return re.match(r"[^\W\d]", cell) is not None and cell.casefold() not in {*BLANKS, "nan", "inf"}


def _without_comment(text: str) -> tuple[str, str]:
    """Separate a comment written behind the cells of a row."""
    match = re.match(r"(.*?\S)\s+#\s*(.*)$", text) if "#" in text else None
    return (match.group(1), match.group(2).strip()) if match else (text, "")


def _take_words_from_speed(calls: Sequence[_Call], plans: Sequence[ColumnPlan]) -> tuple[list[_Call], list[Notice]]:
    """Read words that stand where the speed belongs (``0:14, gear down``) as the words of a mark."""
    speed = next((plan for plan in plans if plan.meaning == "ias"), None)
    if speed is None:
        return list(calls), []
    taken, notices = [], []
    for call in calls:
        cell = call.cells[speed.position]
        if not _is_words(cell):
            taken.append(call)
            continue
        cells = tuple("" if i == speed.position else other for i, other in enumerate(call.cells))
        words = ", ".join([cell, *call.labels])
        understood = any(event.kind is not EventKind.NOTE for _, event in split_mark(words))
        labels = (words,) if understood and len(split_mark(words)) != 1 + len(call.labels) else (cell, *call.labels)
        taken.append(_Call(call.row, call.time, cells, labels))
        if not understood:
            sentence = f"row {call.row}, {speed.column}: {quoted(cell)} is not a number; it is kept as a note"
            notices.append(Notice(Severity.CAUTION, sentence, call.row, speed.column))
    return taken, notices


def _refuse_swapped(source: Source, layout: Layout, plans: Sequence[ColumnPlan], file: str) -> None:
    """Refuse a file whose times look like speeds while its speeds run like a clock."""
    time = next(plan for plan in plans if plan.meaning == "time")
    speed = next((plan for plan in plans if plan.meaning == "ias"), None)
    if speed is None:
        return
    pairs = []
    for i, line in enumerate(source.lines):
        cells = split_cells(line.text, layout.separator, len(plans))
        if i != layout.header_at and len(cells) > max(time.position, speed.position):
            pairs.append((cells[time.position], cells[speed.position]))
    clocks = sum(":" in right and read_time(right) is not None and ":" not in left for left, right in pairs)
    if 2 * clocks > len(pairs) or _runs_like_a_clock(pairs):
        raise BadInputError(
            "the columns look swapped: the times read like speeds and the speeds rise like a clock",
            file,
            "put the time first, or name the columns in a first row such as speed, time",
        )


def _runs_like_a_clock(pairs: Sequence[tuple[str, str]]) -> bool:
    """Return whether the right column counts up evenly like seconds while the left one holds speeds."""
    both = [(read_time(left), read_time(right)) for left, right in pairs if left and right]
    numbers = [
        (a.seconds, b.seconds)
        for a, b in both
        if a and b and a.style is TimeStyle.SECONDS and b.style is TimeStyle.SECONDS
    ]
    if len(numbers) < 4 or len(numbers) < 0.8 * len(pairs):
        return False
    left, right = np.diff(np.array(numbers), axis=0).T
    if not (np.all(right > 0.0) and np.any(left <= 0.0) and all(20.0 <= a <= 400.0 for a, _ in numbers)):
        return False
    newest_first = bool(np.all(left < 0.0)) and np.ptp(left) < np.ptp(right)
    return not newest_first


def _put_in_order(calls: Sequence[_Call], plans: Sequence[ColumnPlan]) -> tuple[FloatArray, list[int], list[Notice]]:
    """Carry the clock over where it starts again, sort the rows by time, and say what was out of order.

    Returns:
        Sorted times on the file's clock [s], the order of the calls, and notices.
    """
    written = [call.time.seconds for call in calls]
    style = max(call.time.style for call in calls)
    notices: list[Notice] = []
    times = np.array(written, dtype=np.float64)
    if min(written) >= 0.0 and max(written) < style:
        times, rounds = unroll(written, float(style))
        notices += [_round_notice(calls[i], style) for i in rounds]
    astray = list(dict.fromkeys(likelier_astray(times, i) for i in out_of_order(times)))
    if 2 * len(astray) > len(calls):
        notices.append(Notice(Severity.CAUTION, "most times run backwards; the rows are kept and sorted by time"))
    else:
        notices += [_astray_notice(calls, times, i, style) for i in astray]
    order = np.argsort(times, kind="stable").tolist()
    ordered = [calls[i] for i in order]
    return times[order], order, [*notices, *_repeats_and_gaps(ordered, times[order], plans, style)]


def _round_notice(call: _Call, style: TimeStyle) -> Notice:
    what = {TimeStyle.SECONDS: "minute", TimeStyle.MINUTES: "hour", TimeStyle.HOURS: "day"}[style]
    severity = Severity.CAUTION if style is TimeStyle.SECONDS else Severity.NOTE
    return Notice(
        severity,
        f"row {call.row}, time: the clock starts again here and is carried into the next {what}",
        call.row,
        "time",
    )


def _astray_notice(calls: Sequence[_Call], times: FloatArray, i: int, style: TimeStyle) -> Notice:
    call = calls[i]
    at, against = write_time(float(times[i]), style), "out of order"
    if i > 0 and times[i] < times[i - 1]:
        against = f"earlier than the row before it ({write_time(float(times[i - 1]), style)}, row {calls[i - 1].row})"
    elif i + 1 < times.size and times[i] > times[i + 1]:
        against = f"later than the row after it ({write_time(float(times[i + 1]), style)}, row {calls[i + 1].row})"
    sentence = f"row {call.row}, time: {at} is {against}; the row is kept and sorted by time"
    due = missing_time(times, i)
    if due is not None:
        sentence += f", but it looks like a mistyped time: a call is missing near {write_time(due, style)}"
    return Notice(Severity.CAUTION, sentence, call.row, "time")


def _repeats_and_gaps(
    calls: Sequence[_Call], times: FloatArray, plans: Sequence[ColumnPlan], style: TimeStyle
) -> list[Notice]:
    """Name calls that repeat a time, and steps much longer than usual, among rows that hold a reading."""
    spoken = [plan.position for plan in plans if plan.is_quantity]
    read = [i for i, call in enumerate(calls) if any(call.cells[p].casefold() not in BLANKS for p in spoken)]
    steps = np.diff(times[read])
    usual = float(np.median(steps[steps > 0.0])) if np.any(steps > 0.0) else 0.0
    notices = []
    for before, after, step in zip(read, read[1:], steps.tolist(), strict=False):
        at = write_time(float(times[after]), style)
        row = calls[after].row
        if step == 0.0:
            notices.append(
                Notice(
                    Severity.NOTE,
                    f"row {row}, time: {at} is called a second time (also in row {calls[before].row}); both are kept",
                    row,
                    "time",
                )
            )
        elif len(read) >= 4 and step > _GAP_STEPS * usual:
            notices.append(
                Notice(
                    Severity.NOTE,
                    f"row {row}, time: nothing is called for {step:g} s before {at}, the usual step is {usual:g} s",
                    row,
                    "time",
                )
            )
    return notices


def _marks(calls: Sequence[_Call], times_s: FloatArray) -> tuple[tuple[Mark, ...], list[Notice]]:
    marks: list[Mark] = []
    notices: list[Notice] = []
    for call, time_s in zip(calls, times_s.tolist(), strict=True):
        for label in call.labels:
            for words, event in split_mark(label):
                marks.append(Mark(time_s, words, call.row, event))
                notices += uninterpreted(words, event, call.row)
    return tuple(marks), notices
