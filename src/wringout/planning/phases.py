"""What a planned point asks of the airplane: its configurations, each with its fastest and slowest planned speed."""

from __future__ import annotations

from dataclasses import dataclass

from wringout.airplane.beliefs import Beliefs, FlapSetting
from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError
from wringout.methods.setup_words import flap_setting, gear_position
from wringout.methods.steady_words import planned_speeds
from wringout.planning.plan import Point


@dataclass(frozen=True, slots=True)
class Phase:
    """One configuration of a point. Speeds are planned indicated airspeeds, m/s; ``slowest_mps`` None: not planned.

    ``gear_moves`` is "down", "up" or "" for how the gear moves at ``fastest_mps``; ``stalls`` is True where the stall
    itself is the purpose.
    """

    name: str
    setting: FlapSetting
    gear: float
    fastest_mps: float
    slowest_mps: float | None
    gear_moves: str = ""
    stalls: bool = False


def phases_of(point: Point, beliefs: Beliefs) -> tuple[Phase, ...]:
    """Return the configurations of a point; raises BadInputError naming the point and the word that cannot be read."""
    words, key = dict(point.words), point.method.key
    try:
        if key in ("level deceleration", "out and back"):
            return _device(words, beliefs, both_ways=key == "out and back")
        if key == "stall series":
            return _stalls(words, beliefs)
        if key == "transit timing":
            return _transits(words, beliefs)
        if key == "slow down":
            return _slow_down(words, beliefs)
        if key == "go around pairs":
            return _pairs(words, beliefs)
        return _steady(words, beliefs, "speed" if key == "airspeed calibration" else "speeds")
    except BadInputError as error:
        raise error.at(f"point {point.key}") from None


def _speed(words: dict[str, str], key: str, example: str) -> float:
    return parse_measured(words.get(key, ""), "speed", f"card, {key}", example)[0]


def _device(words: dict[str, str], beliefs: Beliefs, *, both_ways: bool) -> tuple[Phase, ...]:
    entry = _speed(words, "entry speed", "110 kt")
    slow = _speed(words, "settled speed", "80 kt") if "settled speed" in words else None
    start = flap_setting(words.get("entry flaps", "up"), beliefs, "card, entry flaps")
    gear = gear_position(words.get("entry gear", "up"), "card, entry gear") if beliefs.retractable else 1.0
    phases = [Phase("entry", start, gear, entry, entry)]
    if words.get("device", "gear") == "gear":
        phases.append(Phase("gear down", start, 1.0, entry, slow, "down"))
        if both_ways:
            back = slow if slow is not None else entry
            phases.append(Phase("gear up again", start, 1.0, back, None, "up"))
        return tuple(phases)
    setting = flap_setting(words.get("to", "full"), beliefs, "card, to")
    phases.append(Phase(f"flaps {setting.name}", setting, gear, entry, slow))
    return tuple(phases)


def _stalls(words: dict[str, str], beliefs: Beliefs) -> tuple[Phase, ...]:
    names = [text for text in words.get("flaps", "").replace(";", ",").split(",") if text.strip()]
    settings = [flap_setting(name, beliefs, "card, flaps") for name in names] or list(beliefs.settings)
    gear = gear_position(words.get("gear", "up"), "card, gear") if beliefs.retractable else 1.0
    entry = _speed(words, "entry speed", "85 kt")
    return tuple(Phase(f"stall, flaps {s.name}", s, gear, entry, None, stalls=True) for s in settings)


def _transits(words: dict[str, str], beliefs: Beliefs) -> tuple[Phase, ...]:
    speed, device = _speed(words, "speed", "90 kt"), words.get("device", "gear and flaps")
    up, out = beliefs.settings[0], []
    if "gear" in device and beliefs.retractable:
        out += [
            Phase("gear down", up, 1.0, speed, speed, "down"),
            Phase("gear up again", up, 1.0, speed, speed, "up"),
        ]
    if "flap" in device:
        out.append(Phase(f"flaps {beliefs.settings[-1].name}", beliefs.settings[-1], 0.0, speed, speed))
    return tuple(out)


def _configuration(words: dict[str, str], beliefs: Beliefs) -> tuple[FlapSetting, float]:
    setting = flap_setting(words.get("flaps", "up"), beliefs, "card, flaps")
    return setting, gear_position(words.get("gear", "up"), "card, gear") if beliefs.retractable else 1.0


def _steady(words: dict[str, str], beliefs: Beliefs, word: str) -> tuple[Phase, ...]:
    setting, gear = _configuration(words, beliefs)
    speeds = planned_speeds(words, word, "75, 90, 105 kt")
    return (Phase("steady", setting, gear, max(speeds), min(speeds)),)


def _slow_down(words: dict[str, str], beliefs: Beliefs) -> tuple[Phase, ...]:
    fast, slow = _speed(words, "from speed", "140 kt"), _speed(words, "to speed", "90 kt")
    setting, gear = _configuration(words, beliefs)
    at = _speed(words, "device speed", "105 kt") if "device speed" in words else fast
    out = [Phase("start", beliefs.settings[0], 0.0 if beliefs.retractable else 1.0, fast, None)]
    moves = "down" if gear > 0.0 and beliefs.retractable else ""
    return (*out, Phase("slowing", setting, gear, at if setting.angle_rad > 0.0 or moves else fast, slow, moves))


def _pairs(words: dict[str, str], beliefs: Beliefs) -> tuple[Phase, ...]:
    entry = _speed(words, "entry speed", "75 kt")
    setting = flap_setting(words.get("entry flaps", "full"), beliefs, "card, entry flaps")
    return (Phase("approach", setting, 1.0, entry, entry, "up" if beliefs.retractable else ""),)
