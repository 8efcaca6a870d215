"""A planned point as the run it will be: the file the crew would bring home, read by the same reader and method.

The numbers in that file stand for nothing but times, configurations and steps of reading; ``Method.simulate`` puts what
an airplane would show in their place.
"""

from __future__ import annotations

import math
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
TRACKS_DEG, WIND_KT, WIND_TO_DEG = (40, 160, 280), 12.0, 95.0


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

    Raises BadInputError for a method that has no template, or words that cannot be read.
    """
    key = point.method.key
    if key not in _WRITERS:
        raise BadInputError(
            f"points of {key} cannot be simulated in a plan", f"point {point.key}", f"use {', '.join(_WRITERS)}"
        )
    head = [f"# method: {key}"]
    altitude = "6000 ft" if point.altitude_m is None else f"{point.altitude_m:.3f} m"
    head += [f"# altitude: {altitude}", f"# weight: {point.mass_kg:.3f} kg"]
    own = _WORDS_IN_ROWS.get(key, ())
    head += [f"# {word}: {point.words[word]}" for word in _HEADER_WORDS if word in point.words and word not in own]
    try:
        text = "\n".join((*head, *_WRITERS[key](point.words, beliefs, readings))) + "\n"
        recording = read_recording(text.encode(), f"{point.key}.csv")
        runs = point.method.from_recording(point.key, recording, {}, beliefs)
    except BadInputError as error:
        raise error.at(f"point {point.key}") from None
    return runs[0]


_HEADER_WORDS = ("device", "entry flaps", "entry gear", "altitude held", "temperature", "isa deviation", "power")
_WORDS_IN_ROWS: Mapping[str, tuple[str, ...]] = {"level power": ("power",), "slow down": ("device",)}
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


def _configured(words: Mapping[str, str], beliefs: Beliefs, usual_power: str) -> list[str]:
    """Return the header lines of a timed run in one configuration."""
    lines = [f"# entry flaps: {words.get('flaps', 'up')}"]
    lines += [f"# entry gear: {words.get('gear', 'up')}"] if beliefs.retractable else []
    return lines if "power" in words else [*lines, f"# power: {usual_power}"]


def _between(first_kt: float, last_kt: float, until_s: float, readings: Readings) -> list[tuple[float, str]]:
    """Return times and speeds that run evenly from one speed to another."""
    count = int(until_s // readings.every_s)
    times = [i * readings.every_s for i in range(count + 1)]
    return [(t, _shown(round(first_kt + (last_kt - first_kt) * t / times[-1]), readings)) for t in times]


def _acceleration(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:
    speeds = [speed / KNOT for speed in planned_speeds(dict(words), "speeds", "75, 140 kt")]
    rows = [f"{t:g}, {speed}" for t, speed in _between(min(speeds), max(speeds), LONGEST_S, readings)]
    return [*_configured(words, beliefs, "full"), "time, speed", *rows]


def _slow_down(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:
    fast, slow = (float(_entry_kt(words, key, CALLED)) for key in ("from speed", "to speed"))
    lever = float(_entry_kt(words, "device speed", CALLED)) if "device speed" in words else fast
    at_s = LONGEST_S / 2.0 * min(max((fast - lever) / max(fast - slow, 1.0), 0.0), 1.0)
    moves = [f"flaps {words['flaps']}"] if words.get("flaps", "up") not in ("up", beliefs.settings[0].name) else []
    moves += ["gear down"] if beliefs.retractable and words.get("gear", "up") == "down" else []
    rows = [f"{t:g}, {speed}," for t, speed in _between(fast, slow, LONGEST_S, readings)]
    rows += [f"{at_s + 0.1:.1f}, , {mark}" for mark in moves]
    rows.sort(key=lambda row: float(row.split(",")[0]))
    return [*([] if "power" in words else ["# power: idle"]), "time, speed, mark", *rows]


def _level_power(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:  # noqa: ARG001
    flaps, gear = words.get("flaps", "up"), words.get("gear", "up")
    speeds = planned_speeds(dict(words), "speeds", "80, 100, 120 kt")
    rows = [f"{flaps}, {gear}, {_shown(round(x / KNOT), readings)}, {100 + 10 * i}" for i, x in enumerate(speeds)]
    return ["flap, gear, speed, power (hp)", *rows]


def _legs(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:  # noqa: ARG001
    """Return the legs of one speed, flown on three tracks and on the first again, in a wind."""
    speed_kt = float(_entry_kt(words, "speed", CALLED))
    flaps, gear = words.get("flaps", "up"), words.get("gear", "up")
    rows = [
        f"{flaps}, {gear}, {_shown(speed_kt, readings)}, {_ground_speed_kt(1.1 * speed_kt, track):.0f}, {track}"
        for track in (*TRACKS_DEG, TRACKS_DEG[0])
    ]
    return ["flap, gear, speed, ground speed, track", *rows]


def _ground_speed_kt(true_kt: float, track_deg: float) -> float:
    """Return the ground speed on a track in the template's wind (the triangle of velocities)."""
    along = WIND_KT * math.cos(math.radians(track_deg - WIND_TO_DEG))
    across = WIND_KT * math.sin(math.radians(track_deg - WIND_TO_DEG))
    return along + math.sqrt(true_kt**2 - across**2)


def _pairs(words: Mapping[str, str], beliefs: Beliefs, readings: Readings) -> list[str]:  # noqa: ARG001
    entry = _entry_kt(words, "entry speed", CALLED)
    lost = (100, 90, 95, 105, 85, 100)
    rows = [
        f"{i + 1}, {name}, {entry}, 500, {lost[i] + 10 * k}, {5.0 + k / 2:.1f}"
        for i in range(len(lost))
        for k, name in enumerate(("the first", "the second"))
    ]
    head = "pair, technique, entry speed (kt), entry descent (ft/min), height lost (ft), time to climb (s)"
    return [head, *rows]


_WRITERS: Mapping[str, Writer] = {
    "level deceleration": _deceleration,
    "out and back": _out_and_back,
    "stall series": _stalls,
    "transit timing": _timings,
    "glide": _glides,
    "climb": _climbs,
    "level acceleration": _acceleration,
    "slow down": _slow_down,
    "level power": _level_power,
    "airspeed calibration": _legs,
    "go around pairs": _pairs,
}
SIMULATED = frozenset(_WRITERS)
"""Keys of the methods whose points a plan can simulate: every one (a test holds it to the register)."""
