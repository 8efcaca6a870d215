"""Whole flights of airplanes nobody here wrote, as a logger would keep them, with what was really flown beside them.

A flight is a list of `Piece`s, flown one after the other by the pilot of `pilot` in one JSBSim model, without a break:
power and devices move in time, speeds and heights are sought between the pieces. `fly_log` gives a `Log`: columns at
20 Hz, the `Segment`s (kind, from when to when) and every `Move` of a lever. `Log.table` and `Log.text` are what a
logger writes of it at a slower rate, with reading errors. Whole flights stand in `sorties`.

Wind is steady and added to what is flown in still air, which is exact: it carries the whole flight along.
Nothing of the package under test is imported here.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .airplanes import STEP_S, Array, Outside
from .flight_dynamics_model import entry_throttle
from .log_book import COLUMNS, RECORD_EVERY, Book, Move, Piece, Segment
from .log_pieces import KINDS
from .pilot import Gusts, gusts_on, take_off

LOGGED = {  # column of a log: name written, digits after the point, usual reading error (one standard deviation)
    "ias_kt": ("IAS (kt)", 1, 0.3),
    "tas_kt": ("TAS (kt)", 1, 0.3),
    "altitude_ft": ("Pressure Altitude (ft)", 0, 4.0),
    "climb_fpm": ("VS (ft/min)", 0, 30.0),
    "ground_kt": ("GS (kt)", 1, 0.2),
    "track_deg": ("Track (deg)", 1, 0.3),
    "heading_deg": ("Heading (deg)", 1, 0.3),
    "pitch_deg": ("Pitch (deg)", 1, 0.2),
    "roll_deg": ("Roll (deg)", 1, 0.3),
    "flap_deg": ("Flap (deg)", 1, 0.0),
    "gear": ("Gear", 2, 0.0),
    "rpm": ("RPM", 0, 5.0),
    "manifold_inhg": ("MAP (inHg)", 1, 0.05),
}
USUAL = ("ias_kt", "altitude_ft", "ground_kt", "track_deg", "flap_deg", "gear", "rpm", "manifold_inhg")


@dataclass(frozen=True, slots=True)
class Log:
    """One flight; ``columns`` are those of `COLUMNS` and ground speed and track, arrays at 20 Hz."""

    airplane: Outside
    columns: dict[str, Array]
    segments: tuple[Segment, ...]
    moves: tuple[Move, ...]

    @property
    def time_s(self) -> Array:
        """Time from the first record, seconds."""
        return self.columns["time_s"]

    def of_kind(self, kind: str) -> tuple[Segment, ...]:
        """Return the segments of one kind, in order of time."""
        return tuple(s for s in self.segments if s.kind == kind)

    def table(self, every_s: float = 1.0, names: Sequence[str] = USUAL, seed: int | None = 1) -> dict[str, Array]:
        """Return columns at a slower rate, with reading errors of `LOGGED` (``seed`` None: without), rounded."""
        at = np.arange(0, self.time_s.size, max(round(every_s / (RECORD_EVERY * STEP_S)), 1))
        rng = None if seed is None else np.random.default_rng(seed)
        out = {"time_s": np.round(self.time_s[at], 2)}
        for name in names:
            values = self.columns[name][at]
            _, digits, sd = LOGGED[name]
            noise = 0.0 if rng is None else sd * rng.standard_normal(at.size)
            out[name] = np.round(values + noise, digits) + 0.0
        return out

    def text(self, every_s: float = 1.0, names: Sequence[str] = USUAL, seed: int | None = 1) -> str:
        """Return that table as delimited text; a column the airplane has not (no manifold pressure) is left out."""
        table = self.table(every_s, names, seed)
        kept = [n for n in names if np.isfinite(table[n]).all()]
        head = ", ".join(["Time (s)", *(LOGGED[n][0] for n in kept)])
        digits = [2, *(LOGGED[n][1] for n in kept)]
        rows = zip(*(table[n] for n in ("time_s", *kept)), strict=True)
        lines = (", ".join(f"{x:.{d}f}" for x, d in zip(row, digits, strict=True)) for row in rows)
        return "\n".join([head, *lines, ""])


# --- flights ---------------------------------------------------------------------------------------------------


@functools.cache
def fly_log(
    airplane: Outside,
    pieces: tuple[Piece, ...],
    *,
    kias: float,
    altitude_ft: float,
    wind_kt: tuple[float, float] = (0.0, 0.0),
    heading_deg: float = 0.0,
    gusts: Gusts | None = None,
) -> Log:
    """Fly pieces one after the other and return the log.

    Args:
        airplane: the model flown.
        pieces: what is flown, in order.
        kias, altitude_ft, heading_deg: where the flight starts, level and clean.
        wind_kt: the wind's speed towards north and east.
        gusts: rough air from the start on.

    Raises:
        ValueError: a piece of an unknown kind, or a start that cannot be flown.
    """
    for piece in pieces:
        if piece.kind not in KINDS:
            raise ValueError(f"{piece.kind!r} is no piece of a flight; there are {', '.join(KINDS)}")
    throttle = entry_throttle(kias, altitude_ft, airplane)
    pilot = take_off(airplane, kias, altitude_ft, throttle=throttle, heading_deg=heading_deg)
    gusts_on(pilot, gusts)
    book = Book(pilot, altitude_ft, power_sum=throttle)
    for piece in pieces:
        KINDS[piece.kind](book, piece)
    columns = dict(zip(COLUMNS, np.array(book.rows).T, strict=True))
    north, east = columns["north_kt"] + wind_kt[0], columns["east_kt"] + wind_kt[1]
    columns["ground_kt"] = np.hypot(north, east)
    columns["track_deg"] = np.degrees(np.arctan2(east, north)) % 360.0
    for column in columns.values():
        column.setflags(write=False)  # logs are cached and shared
    return Log(airplane, columns, _with_gaps(book.segments, book.now_s), _with_arrivals(book.moves, columns))


def _with_gaps(segments: Sequence[Segment], end_s: float) -> tuple[Segment, ...]:
    """Put "in between" where no segment is."""
    out: list[Segment] = []
    last = 0.0
    for segment in sorted(segments, key=lambda s: s.start_s):
        if segment.start_s > last + 1e-9:
            out.append(Segment("in between", last, segment.start_s, Piece("in between")))
        out.append(segment)
        last = segment.end_s
    if end_s > last + 1e-9:
        out.append(Segment("in between", last, end_s, Piece("in between")))
    return tuple(out)


def _with_arrivals(moves: Sequence[Move], columns: dict[str, Array]) -> tuple[Move, ...]:
    """Find when each device stood where it was sent, before it was sent elsewhere."""
    out = []
    for i, move in enumerate(moves):
        end = next((m.time_s for m in moves[i + 1 :] if m.device == move.device), math.inf)
        position = columns["gear" if move.device == "gear" else "flap_deg"]
        there = np.abs(position - move.target) < 1e-3 * (1.0 if move.device == "gear" else 30.0)
        there &= (columns["time_s"] >= move.time_s) & (columns["time_s"] < end)
        out.append(replace(move, arrived_s=float(columns["time_s"][np.argmax(there)]) if there.any() else None))
    return tuple(out)
