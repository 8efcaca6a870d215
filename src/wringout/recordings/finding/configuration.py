"""Where gear and flaps stood, from the marks of a log: moves in order, and the configuration at a time in words."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wringout.recordings.types import Device, EventKind, Mark, Recording
from wringout.units import DEGREE

_SAME_MOVE_S = 3.0
_SIZES = {"up": 0.0, "down": 1.0, "full": 1.0, "half": 0.5, "approach": 0.5, "takeoff": 0.3, "landing": 1.0}


@dataclass(frozen=True, slots=True)
class Move:
    """A device set moving: when [s], where to, whether that is outwards, and whether columns (not words) showed it."""

    time_s: float
    device: str
    target: str
    out: bool
    from_columns: bool

    @property
    def words(self) -> str:
        """What moved, in words."""
        goal = self.target or ("out" if self.out else "in")
        return f"{self.device} to {goal}" + (" degrees" if self.device == "flaps" and goal.isdigit() else "")


@dataclass(frozen=True, slots=True)
class Configuration:
    """Moves in order of time, and the positions before the first of them ("" where not known)."""

    moves: tuple[Move, ...]
    first_gear: str
    first_flaps: str

    def at(self, time_s: float) -> tuple[str, str]:
        """Return (gear, flaps) in words at a time, "" for what is not known."""
        gear, flaps = self.first_gear, self.first_flaps
        for move in self.moves[: bisect_right([move.time_s for move in self.moves], time_s)]:
            if move.device == "gear":
                gear = move.target
            else:
                flaps = move.target
        return gear, flaps

    def words_at(self, time_s: float) -> str:
        """Return the configuration at a time in words: "gear up, flaps 0"."""
        gear, flaps = self.at(time_s)
        return ", ".join(word for word in (gear and f"gear {gear}", flaps and f"flaps {flaps}") if word)

    def setup_at(self, time_s: float) -> dict[str, str]:
        """Return the set-up words of a run that begins at a time and not clean."""
        gear, flaps = self.at(time_s)
        words = {"entry gear": gear} if gear == "down" else {}
        if flaps not in {"", "0", "up", "0%"}:
            words["entry flaps"] = f"{flaps} deg" if flaps.isdigit() else flaps
        return words


def configuration_of(recording: Recording, marks: Sequence[Mark]) -> Configuration:
    """Return the moves of a log: those its columns show, and those its marks say where no column shows the device."""
    first = {"gear": _first_gear(recording), "flaps": _first_flaps(recording)}
    in_columns = {
        "gear": "gear" in recording.channels or "gear" in recording.texts,
        "flaps": any(name in recording.channels or name in recording.texts for name in ("flap", "flap_fraction")),
    }
    stood = {device: _size(position) for device, position in first.items()}
    said = {id(mark) for mark in recording.marks}
    moves: list[Move] = []
    for mark in marks:
        event = mark.event
        if event.kind is not EventKind.SELECTED or event.device is None:
            continue
        device = "gear" if event.device is Device.GEAR else "flaps"
        by_column = id(mark) not in said
        if in_columns[device] != by_column:
            continue
        if moves and moves[-1].device == device and mark.time_s - moves[-1].time_s < _SAME_MOVE_S and not by_column:
            continue
        size = _size(event.target)
        known = size is not None and stood[device] is not None
        out = size > stood[device] if known else (stood[device] or 0.0) < 0.5  # type: ignore[operator]
        moves.append(Move(mark.time_s, device, event.target, bool(out), by_column))
        stood[device] = size
    return Configuration(tuple(moves), first["gear"], first["flaps"])


def _size(position: str) -> float | None:
    """Return how far out a position is, 0 for up: only to be compared with others of the same device."""
    if position in _SIZES:
        return _SIZES[position]
    number = re.match(r"\d+", position.removeprefix("notch "))
    return None if number is None else int(number.group()) / 40.0


def _first_gear(recording: Recording) -> str:
    if "gear" in recording.channels:
        values = recording.channels["gear"].values
        good = values[np.isfinite(values)][:20]
        return "" if not good.size else ("down" if float(np.median(good)) > 0.5 else "up")
    words = [word for word in recording.texts.get("gear", ()) if word.strip()]
    return "" if not words else ("down" if words[0].casefold() in {"down", "dn", "extended", "1"} else "up")


def _first_flaps(recording: Recording) -> str:
    for name, unit in (("flap", DEGREE), ("flap_fraction", 0.01)):
        if name in recording.channels:
            values = recording.channels[name].values
            good = values[np.isfinite(values)][:20]
            return f"{abs(round(float(np.median(good)) / unit))}" if good.size else ""
    words = [word for word in recording.texts.get("flap", ()) if word.strip()]
    return words[0].casefold() if words else ""
