"""A planned point as the run it will be: the file the crew would bring home, read by the same reader and method.

The numbers in that file stand for nothing but times, configurations and steps of reading; ``Method.simulate`` puts what
an airplane would show in their place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError
from wringout.methods.setup_words import flap_setting
from wringout.methods.steady_words import planned_speeds
from wringout.planning.plan import Point
from wringout.recordings.reader import read_recording
from wringout.units import KNOT

STALLS_OF_EACH, TIMINGS_OF_EACH = 3, 3
BEFORE_S, LONGEST_S = 12.0, 102.0
"""A device moves 12 s after the first reading; a leg is read for 90 s from then on (what the cards ask for)."""


@dataclass(frozen=True, slots=True)
class Readings:
    """How often and how finely a run is read: seconds between readings, and a fraction of a knot on the dial."""

    every_s: float
    fraction_kt: float


CALLED = Readings(6.0, 0.0)
LOGGED = Readings(2.0, 0.37)
"""A logger's rows arrive averaged over two seconds, as the reader of decelerations does; the odd fraction tells the
reader that this dial is not read in whole knots."""


def template_run(point: Point, beliefs: Beliefs, readings: Readings) -> Any:
    """Return the run that a point will be, of the method's own type.

    Raises BadInputError for a method whose points cannot be simulated yet, or words that cannot be read.
    """
    key = point.method.key
    if key not in _WRITERS:
        raise BadInputError(
            f"points of {key} cannot be simulated in a plan yet", f"point {point.key}", f"use {', '.join(_WRITERS)}"
        )
    head = [f"# method: {key}"]
    altitude = "6000 ft" if point.altitude_m is None else f"{point.altitude_m:.3f} m"
    head += [f"# altitude: {altitude}", f"# weight: {point.mass_kg:.3f} kg"]
    head += [f"# {word}: {point.words[word]}" for word in _HEADER_WORDS if word in point.words]
    try:
        text = "\n".join((*head, *_WRITERS[key](point.words, beliefs, readings))) + "\n"
        recording = read_recording(text.encode(), f"{point.key}.csv")
        runs = point.method.from_recording(point.key, recording, {}, beliefs)
    except BadInputError as error:
        raise error.at(f"point {point.key}") from None
    return runs[0]


_HEADER_WORDS = ("device", "entry flaps", "entry gear", "altitude held", "temperature", "isa deviation", "power")
Writer = Callable[[Mapping[str, str], Beliefs, Readings], list[str]]


def _entry_kt(words: Mapping[str, str], key: str, readings: Readings) -> str:
    speed, _ = parse_measured(words.get(key, ""), "speed", f"card, {key}", "110 kt")
    return _shown(round(speed / KNOT), readings)


def _shown(speed_kt: float, readings: Readings) -> str:
    return f"{speed_kt + readings.fraction_kt:g}"


def _target(words: Mapping[str, str]) -> tuple[str, str, str]:
    """Return the device with the words of its marks going out and in again."""
    if words.get("device", "gear") == "gear":
        return "gear", "gear down", "gear up"
    return "flaps", f"flaps {words.get('to', 'full')}", f"flaps {words.get('back to', 'up')}"


def _rows(words: Mapping[str, str], readings: Readings, marks: Mapping[float, str], last_s: float) -> list[str]:
    speed, out, when = _entry_kt(words, "entry speed", readings), ["time, speed, mark"], 0.0
    while when <= last_s + 1e-9:
        out.append(f"{int(when // 60)}:{when % 60:04.1f}, {speed}, {marks.get(when, '')}".rstrip(", "))
        when += readings.every_s
    return out


def _deceleration(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:  # noqa: ARG001
    _, goes_out, _ = _target(words)
    return _rows(words, readings, {BEFORE_S: goes_out}, LONGEST_S)


def _out_and_back(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:  # noqa: ARG001
    _, goes_out, goes_in = _target(words)
    return _rows(words, readings, {BEFORE_S: goes_out, LONGEST_S: goes_in}, 2.0 * LONGEST_S - BEFORE_S)


def _stalls(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:
    names = [name.strip() for name in words.get("flaps", "").replace(";", ",").split(",") if name.strip()]
    settings = [flap_setting(name, beliefs, "card, flaps") for name in names] or list(beliefs.settings)
    gear = f", {words.get('gear', 'up')}" if beliefs.retractable else ""
    rows = [f"{s.name}, {_shown(60, readings)}, 1{gear}" for s in settings for _ in range(STALLS_OF_EACH)]
    return [f"flap, speed, entry rate{', gear' if gear else ''}", *rows]


def _timings(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:  # noqa: ARG001
    device, rows = words.get("device", "gear and flaps"), []
    if "gear" in device and beliefs.retractable:
        rows += ["gear, up, down, 6.1", "gear, down, up, 6.2"] * TIMINGS_OF_EACH
    if "flap" in device:
        rows += ["flaps, up, full, 6.3", "flaps, full, up, 6.4"] * TIMINGS_OF_EACH
    return ["device, from, to, seconds", *rows]


def _steady(words: Mapping[str, str], readings: Readings, rate_fpm: int, speed_factor: float) -> list[str]:
    flaps, gear = words.get("flaps", "up"), words.get("gear", "up")
    rows = [
        f"{flaps}, {gear}, {_shown(round(speed / KNOT), readings)}, {rate_fpm + 5 * i + round(speed_factor * speed)}"
        for i, speed in enumerate(planned_speeds(dict(words), "speeds", "75, 90, 105 kt"))
    ]
    return ["flap, gear, speed, vertical speed", *rows]


def _glides(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:  # noqa: ARG001
    extra = [] if "power" in words else ["# power: idle"]
    return [*extra, *_steady(words, readings, -400, -10.0)]


def _climbs(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:  # noqa: ARG001
    extra = [] if "power" in words else ["# power: full"]
    return [*extra, *_steady(words, readings, 700, 0.0)]


_WRITERS: Mapping[str, Writer] = {
    "level deceleration": _deceleration,
    "out and back": _out_and_back,
    "stall series": _stalls,
    "transit timing": _timings,
    "glide": _glides,
    "climb": _climbs,
}
SIMULATED = frozenset(_WRITERS)
"""Keys of the methods whose points a plan can simulate."""
