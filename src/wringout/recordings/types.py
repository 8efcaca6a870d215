"""What a flight recording is once it has been read: channels, marks and what was noticed on the way.

A recording is never changed. Readers build one of these from its bytes; everything downstream keeps the source row
of every number, so a finding can be walked back to the line somebody wrote down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Device(StrEnum):
    """A device whose drag is asked about."""

    GEAR = "gear"
    FLAPS = "flaps"


class EventKind(StrEnum):
    """What a mark says happened."""

    SELECTED = "selected"  # the handle or switch was moved
    ARRIVED = "arrived"  # the device was seen to stop (down and locked, flaps stopped)
    STABLE = "stable"  # the speed was called stable
    POWER = "power"  # power was set or changed
    NOTE = "note"  # anything else; kept, not interpreted


class Severity(StrEnum):
    """How much a notice matters."""

    NOTE = "note"
    CAUTION = "caution"
    QUESTION = "question"  # the user must answer before the values are used


@dataclass(frozen=True, slots=True)
class Event:
    """The meaning of a mark. ``target`` is the words for the new position ("down", "full", "20"), or ""."""

    kind: EventKind
    device: Device | None = None
    target: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """A timed event. ``time_s`` is seconds on the recording's own clock; ``row`` is the 1-based line of the file."""

    time_s: float
    label: str
    row: int
    event: Event


@dataclass(frozen=True, slots=True)
class Notice:
    """One thing a reader noticed: a clear sentence, with the row (0 = whole file) and field it is about."""

    severity: Severity
    sentence: str
    row: int = 0
    field: str = ""


@dataclass(frozen=True, slots=True)
class Channel:
    """One measured quantity over the rows of a recording.

    ``values`` are SI floats, shape (n,), NaN where the cell was blank or unreadable. ``quantity`` is one of the
    names in ``recordings.mapping.QUANTITIES`` (for example ``ias``, ``altitude``, ``oat``, ``flap``, ``gear``).
    """

    quantity: str
    values: FloatArray
    column: str
    unit: str


@dataclass(frozen=True, slots=True)
class Recording:
    """A flight recording as read: aligned rows of channels and texts, with marks, header lines and notices.

    ``time_s`` has shape (n,), seconds from the first row, or is None for a table without a time column (a list of
    stalls, a list of transit timings). ``rows`` has shape (n,): 1-based line numbers in the file. ``kind`` is
    ``called`` (hand-called readings), ``logger`` (a logger's table), or a list without time: ``stalls``, ``transits``,
    ``legs`` (of ground speed and track) or ``pairs`` (of go-arounds).

    ``clock_zero_s`` is what the file's own clock said at ``time_s`` zero [s], so that ``time_s + clock_zero_s`` is
    the time as written.
    """

    name: str
    sha256: str
    kind: str
    rows: IntArray
    time_s: FloatArray | None
    channels: Mapping[str, Channel]
    texts: Mapping[str, tuple[str, ...]]
    marks: tuple[Mark, ...]
    header: Mapping[str, str]
    notices: tuple[Notice, ...]
    clock_zero_s: float = 0.0

    def __len__(self) -> int:
        """Return the number of rows."""
        return int(self.rows.size)
