"""Batches of trajectories: any range of cases of a grid, in float64 or float32, on any number of threads.

A grid is procedures x cells x draws x techniques. A case is a number in it, so a range of cases can be flown anywhere
and gives the same bits: the pieces a map is cut into, their order and the number of threads change nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wringout.errors import BadInputError
from wringout.techniques.flying import kernel
from wringout.techniques.flying import lane_rows as r
from wringout.techniques.flying import layout as k
from wringout.techniques.flying.devices import Tables
from wringout.techniques.flying.limits import NO_LIMITS, limits_row
from wringout.techniques.flying.pace import QUIET, STEP_S, pace_of
from wringout.techniques.flying.scores import SCORE_COUNT
from wringout.techniques.stated.procedure import Procedure
from wringout.techniques.stated.types import FlightLimits, FloatArray, IntArray, Technique

Scores = NDArray[np.floating]


_CACHE_LINE_BYTES = 64


class Precision(StrEnum):
    """The numbers a batch is flown in: float64 for results that are kept, float32 for maps of very many."""

    FLOAT64 = "float64"
    FLOAT32 = "float32"


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """A grid of cases as tables; see `wringout.techniques.flying.layout`. Made by :meth:`paired` or :meth:`crossed`.

    ``shape`` is (procedures, cells, draws, techniques); 0 cells means that each draw has conditions of its own.
    """

    tables: Tables
    shape: IntArray

    @staticmethod
    def paired(
        rows: FloatArray,
        procedures: Sequence[Procedure],
        conditions: FloatArray,
        techniques: Sequence[Technique],
        limits: FlightLimits = NO_LIMITS,
    ) -> Batch:
        """Return a grid in which draw i meets conditions i.

        Args:
            rows: parameter rows, shape (draws, SIZE). conditions: shape (draws, C_SIZE), reactions in it.
        """
        extras = np.tile((0.0, 1.0, 1.0), (len(rows), 1))
        reactions = conditions[:, k.C_REACTIONS :]
        return _batch(rows, procedures, conditions, extras, reactions, techniques, limits, 0)

    @staticmethod
    def crossed(
        rows: FloatArray,
        procedures: Sequence[Procedure],
        conditions: FloatArray,
        reactions: FloatArray,
        techniques: Sequence[Technique],
        limits: FlightLimits = NO_LIMITS,
        extras: FloatArray | None = None,
    ) -> Batch:
        """Return a grid in which every draw meets the conditions of every cell.

        Args:
            rows: parameter rows, shape (draws, SIZE).
            conditions: one row per cell, shape (cells, C_SIZE); reactions in it are not used.
            reactions: of each draw, s, shape (draws, MAX_ACTIONS).
            extras: what a cell adds, shape (cells, 3): seconds on every reaction, factors on gear and flap transit.
        """
        more = np.tile((0.0, 1.0, 1.0), (len(conditions), 1)) if extras is None else extras
        return _batch(rows, procedures, conditions, more, reactions, techniques, limits, len(conditions))

    def __len__(self) -> int:
        """Return the number of cases."""
        return int(np.prod(np.maximum(self.shape, 1)))


def _batch(
    rows: FloatArray,
    procedures: Sequence[Procedure],
    conditions: FloatArray,
    extras: FloatArray,
    reactions: FloatArray,
    techniques: Sequence[Technique],
    limits: FlightLimits,
    cells: int,
) -> Batch:
    tables = Tables(
        _table(rows),
        _table(np.array([k.procedure_row(p) for p in procedures])),
        _table(np.array([k.stage_rows(p) for p in procedures])),
        _table(np.array([k.move_rows(p) for p in procedures])),
        _table(conditions),
        _table(extras),
        _table(reactions),
        _table(k.technique_rows(techniques)),
        _table(limits_row(limits, rows[0])),
    )
    return Batch(tables, np.array([len(procedures), cells, len(rows), len(techniques)], dtype=np.int64))


def _table(values: FloatArray) -> FloatArray:
    return np.ascontiguousarray(values, dtype=np.float64)


def fly_cases(
    batch: Batch,
    first: int,
    last: int,
    longest_step_s: float = STEP_S,
    quiet: float = QUIET,
    precision: Precision = Precision.FLOAT64,
    made: FloatArray | None = None,
    trace: FloatArray | None = None,
) -> tuple[Scores, int]:
    """Fly the cases from ``first`` up to but not including ``last``, in their order, on the calling thread.

    Args:
        batch: the grid.
        longest_step_s: longest step while anything moves; quiet: factor on it once nothing has for a while.
        precision: numbers flown in.
        made, trace: see `kernel.fly`; for a single case.

    Returns:
        Scores, shape (last - first, SCORE_COUNT), of the precision's type, and the number of nodes in the trace.

    Raises:
        BadInputError: cases that the grid does not have.
    """
    if not 0 <= first <= last <= len(batch):
        raise BadInputError(f"cases {first} to {last} are not in a grid of {len(batch)}", "cases", "start from zero")
    real: Any = np.float64 if precision is Precision.FLOAT64 else np.float32
    out = np.empty((last - first, SCORE_COUNT), real)
    if first == last:
        return out, 0
    count = kernel.fly(
        batch.tables,
        batch.shape,
        first,
        last,
        pace_of(longest_step_s, quiet, real),
        _buffer(real),
        out,
        np.empty(0) if made is None else made,
        np.empty((0, kernel.NODE_SIZE)) if trace is None else trace,
    )
    return out, int(count)


def _buffer(real: Any) -> Any:
    """Return an empty buffer for the lanes that starts where a line of the cache does: registers are filled faster."""
    room = np.empty(r.SIZE + _CACHE_LINE_BYTES, real)
    ahead: int = -room.ctypes.data % _CACHE_LINE_BYTES // room.itemsize
    return room[ahead : ahead + r.SIZE]


def fly_pieces(
    batch: Batch,
    piece: int,
    threads: int = 2,
    precision: Precision = Precision.FLOAT32,
    start: int = 0,
    stop: int | None = None,
) -> Iterator[tuple[int, Scores]]:
    """Fly a range of cases in pieces, several at a time, and yield ``(first case, scores)`` in order.

    At most ``2 * threads`` pieces are in memory, so memory stays flat however many cases there are; stop iterating to
    cancel.

    Args:
        piece: cases in a piece. threads: worker threads. start, stop: the range; all cases if not given.

    Raises:
        BadInputError: a piece or a number of threads below one.
    """
    if piece < 1 or threads < 1:
        raise BadInputError(f"pieces of {piece} on {threads} threads cannot do any work", "batch", "give one or more")
    end = len(batch) if stop is None else stop
    waiting: list[tuple[int, Future[tuple[Scores, int]]]] = []
    with ThreadPoolExecutor(threads) as pool:
        try:
            for first in range(start, end, piece):
                last = min(first + piece, end)
                waiting.append((first, pool.submit(fly_cases, batch, first, last, precision=precision)))
                if len(waiting) >= 2 * threads:
                    begun, done = waiting.pop(0)
                    yield begun, done.result()[0]
            while waiting:
                begun, done = waiting.pop(0)
                yield begun, done.result()[0]
        finally:
            pool.shutdown(cancel_futures=True)


def summarise(
    batch: Batch,
    piece: int,
    take: Callable[[int, Scores], None],
    threads: int = 2,
    precision: Precision = Precision.FLOAT32,
) -> None:
    """Fly all cases in pieces and hand each to ``take(first case, scores)``, in order, on the calling thread."""
    for first, scores in fly_pieces(batch, piece, threads, precision):
        take(first, scores)
