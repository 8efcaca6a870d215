"""One lot of an archive: its files read one after the other, by whichever worker it was handed to."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import polars as pl

from wringout.errors import WringoutError
from wringout.fleet.go_arounds import configuration_changes, find_go_arounds
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Severity
from wringout.units import FOOT, KNOT

LARGEST_FILE_BYTES = 256 << 20

FILE_SCHEMA: dict[str, Any] = {
    "path": pl.String,
    "size_bytes": pl.Int64,
    "changed_ns": pl.Int64,
    "sha256": pl.String,
    "kind": pl.String,
    "rows": pl.Int64,
    "duration_s": pl.Float64,
    "channels": pl.List(pl.String),
    "go_arounds": pl.Int64,
    "changes": pl.Int64,
    "questions": pl.Int64,
    "problem": pl.String,
}
"""Columns of the table of files. ``questions``: of the reader, unanswered; ``problem``: why it was not read."""

EVENT_SCHEMA: dict[str, Any] = {
    "path": pl.String,
    "changed_ns": pl.Int64,
    "kind": pl.String,
    "time_s": pl.Float64,
    "row": pl.Int64,
    "device": pl.String,
    "target": pl.String,
    "order": pl.String,
    "lowest_ft": pl.Float64,
    "height_channel": pl.String,
    "descended_ft": pl.Float64,
    "climbed_ft": pl.Float64,
    "speed_kt": pl.Float64,
    "speed_channel": pl.String,
    "confidence": pl.String,
    "why": pl.String,
}
"""Columns of the table of events: ``kind`` is "go-around" or "change" (of gear or flaps)."""


@dataclass(frozen=True, slots=True)
class Lot:
    """Files for one worker: path, size in bytes, time of change in ns. ``name`` is the same for the same files."""

    name: str
    source: str
    files: tuple[tuple[str, int, int], ...]


@dataclass(frozen=True, slots=True)
class LotResult:
    """Rows of the tables of files and of events, and sums."""

    name: str
    table: list[tuple[Any, ...]]
    events: list[tuple[Any, ...]]
    files: int
    unread: int
    rows: int
    size_bytes: int


def scan_lot(lot: Lot) -> LotResult:
    """Read a lot's files one after the other; what cannot be read is said in its row."""
    table: list[tuple[Any, ...]] = []
    events: list[tuple[Any, ...]] = []
    unread = rows = 0
    for path, size, at in lot.files:
        row, found = _scan_file(path, size, at)
        table.append(row)
        events += found
        unread += row[-1] is not None
        rows += row[5] or 0
    return LotResult(lot.name, table, events, len(table), unread, rows, sum(size for _, size, _ in lot.files))


def _scan_file(path: str, size: int, at: int) -> tuple[tuple[Any, ...], list[tuple[Any, ...]]]:
    name = Path(path).name
    head = (path, size, at)
    if size > LARGEST_FILE_BYTES:
        return (*head, *_unread(f"{name}: the file is larger than {LARGEST_FILE_BYTES >> 20} MB; split it.")), []
    try:
        data = Path(path).read_bytes()
    except OSError as error:
        return (*head, *_unread(f"{name}: the file cannot be read ({error.strerror or error}).")), []
    try:
        recording = read_recording(data, name)
        go_arounds, changes = find_go_arounds(recording), configuration_changes(recording)
    except WringoutError as error:
        return (*head, *_unread(str(error))), []
    except Exception as error:  # one odd file of thousands must not end the scan; it is named in the table
        return (*head, *_unread(f"{name}: something unexpected went wrong ({type(error).__name__}: {error}).")), []
    time = recording.time_s
    row = (
        *head,
        hashlib.sha256(data).hexdigest(),
        recording.kind,
        len(recording),
        None if time is None or time.size == 0 else float(time[-1] - time[0]),
        sorted(recording.channels),
        len(go_arounds),
        len(changes),
        sum(notice.severity is Severity.QUESTION for notice in recording.notices),
        None,
    )
    blank: tuple[None, ...] = (None,) * 8
    events: list[tuple[Any, ...]] = [
        (path, at, "change", c.time_s, c.row, c.device, c.target, None, *blank) for c in changes
    ]
    events += [
        (
            path,
            at,
            "go-around",
            g.time_s,
            g.row,
            None,
            None,
            g.order,
            g.lowest_m / FOOT,
            g.height_channel,
            g.descended_m / FOOT,
            g.climbed_m / FOOT,
            None if math.isnan(g.speed_mps) else g.speed_mps / KNOT,
            g.speed_channel,
            g.confidence,
            g.why,
        )
        for g in go_arounds
    ]
    return row, events


def _unread(problem: str) -> tuple[Any, ...]:
    return (None, None, None, None, [], 0, 0, 0, problem)
