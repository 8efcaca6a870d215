"""What a plan may say beyond the usual: how firmly the pilot flies, what does not move, and the runway; in TOML and SI.

Each section is optional. A go-around that says more about devices or the runway is flown as the procedure it is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from pydantic import BaseModel, ConfigDict

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import Quantity
from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError
from wringout.methods.setup_words import flap_setting
from wringout.techniques.stated.go_arounds import go_around
from wringout.techniques.stated.procedure import Ground, Procedure, Travel
from wringout.techniques.stated.types import GoAround, Handling, Law, Range
from wringout.units import DEGREE

MOVES, STUCK = "moves", "stuck"
_STOPS: Final = re.compile(r"stops at (.+)", re.IGNORECASE)
_FARTHEST_FLAP_RAD: Final = 2.0
_LONGEST_HAND_S: Final = 30.0


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class PilotSection(_Section):
    """How firmly the pilot pitches, and how long the hand stays on a lever; what is left out is as usual."""

    load_factor: tuple[float, float] | None = None
    pitch_rate: Quantity | None = None
    path_rate: Quantity | None = None
    hand: Quantity | None = None


class DevicesSection(_Section):
    """What does not move as it should: "moves", "stuck", "stops at 40 %" (gear) or "stops at 10 deg" (flaps)."""

    gear: str = MOVES
    flaps: str = MOVES
    engine_drag: Quantity | None = None


class GroundSection(_Section):
    """The runway: wheels that touch and roll, and ground effect; without it the procedure has the one it usually has.

    ``wing_height`` is that of the wing with the wheels on the runway, ``friction`` the rolling friction over weight.
    """

    runway: bool = True
    wing_height: Quantity = "1 m"
    friction: float = 0.04


@dataclass(frozen=True, slots=True)
class Details:
    """The optional sections of a plan; None for one that is not written."""

    pilot: PilotSection | None = None
    devices: DevicesSection | None = None
    ground: GroundSection | None = None


def detailed(
    by_law: Mapping[Law, GoAround | Procedure], details: Details, beliefs: Beliefs, name: str
) -> dict[Law, GoAround | Procedure]:
    """Return what is flown under each law with the details of a plan.

    Raises:
        BadInputError: a quantity or a device cannot be read, or lies out of its range, naming the field.
    """
    found = dict(by_law)
    if details.pilot is not None:
        handling = _handling(details.pilot, f"{name}, pilot")
        found = {law: replace(flown, handling=handling) for law, flown in found.items()}
    if details.devices is None and details.ground is None:
        return found
    procedures = {law: _procedure(flown, law) for law, flown in found.items()}
    if details.devices is not None:
        procedures = {law: _failing(one, details.devices, beliefs, name) for law, one in procedures.items()}
    if details.ground is not None:
        ground = _ground(details.ground, f"{name}, ground")
        procedures = {law: replace(one, ground=ground) for law, one in procedures.items()}
    return dict(procedures)


def _procedure(flown: GoAround | Procedure, law: Law) -> Procedure:
    return replace(go_around(flown, law), by_law=True) if isinstance(flown, GoAround) else flown


def hand_s(details: Details, name: str) -> float:
    """Return how long the hand stays on each lever, s; raises BadInputError where it cannot be read."""
    if details.pilot is None or details.pilot.hand is None:
        return 0.0
    where = f"{name}, pilot.hand"
    return _within(details.pilot.hand, "time", where, "1 s", 0.0, _LONGEST_HAND_S, 1.0, "s")


def _within(
    text: Quantity, dimension: str, where: str, example: str, low: float, high: float, size: float, unit: str
) -> float:
    value = parse_measured(text, dimension, where, example)[0]
    if not low <= value / size <= high:
        raise BadInputError(f"{text} is out of range", where, f"{low:g} to {high:g} {unit}, for example {example}")
    return value


def _handling(section: PilotSection, where: str) -> Handling:
    made = Handling()
    if section.load_factor is not None:
        low, high = section.load_factor
        if not 0.0 <= low < 1.0 < high <= 3.0:
            raise BadInputError(
                f"load factors of {low:g} to {high:g} cannot be flown",
                f"{where}.load_factor",
                "lowest first, 0 to below 1 and above 1 to 3, for example [0.8, 1.2]",
            )
        made = replace(made, load_factor=(low, high))
    if section.pitch_rate is not None:
        at, eg = f"{where}.pitch_rate", "3 deg/s"
        rate = _within(section.pitch_rate, "angular rate", at, eg, 0.1, 30.0, DEGREE, "deg/s")
        made = replace(made, pitch_rate_rps=rate)
    if section.path_rate is not None:
        at, eg = f"{where}.path_rate", "4 deg/s"
        rate = _within(section.path_rate, "angular rate", at, eg, 0.1, 90.0, DEGREE, "deg/s")
        made = replace(made, path_rate_rps=rate)
    return made


def _failing(flown: Procedure, section: DevicesSection, beliefs: Beliefs, name: str) -> Procedure:
    where = f"{name}, devices"
    travel = Travel()
    if section.gear != MOVES:
        if not beliefs.retractable:
            raise BadInputError("the gear of this airplane does not move", f"{where}.gear", "leave it out")
        travel = replace(travel, gear=_gear_travel(section.gear, flown.start_gear, f"{where}.gear"))
    if section.flaps != MOVES:
        travel = replace(travel, flap_rad=_flap_travel(section.flaps, flown.start_flap_rad, beliefs, f"{where}.flaps"))
    flown = replace(flown, travel=travel)
    if section.engine_drag is None:
        return flown
    at = f"{where}.engine_drag"
    if not any(not move.by_hand for move in flown.power):
        raise BadInputError(f"no engine fails in “{flown.title}”", at, "leave it out")
    return replace(flown, dead_area_m2=parse_measured(section.engine_drag, "area", at, "0.5 ft2")[0])


def _gear_travel(text: str, start: float, where: str) -> Range:
    if text.lower() == STUCK:
        return (start, start)
    found = _STOPS.fullmatch(text)
    share = parse_measured(found[1], "ratio", where, "stops at 40 %")[0] if found else -1.0
    if not 0.0 <= share <= 1.0:
        raise BadInputError(f"{text[:40]!r} is nothing the gear does", where, 'write "stuck" or "stops at 40 %"')
    return (min(share, start), max(share, start))


def _flap_travel(text: str, start_rad: float, beliefs: Beliefs, where: str) -> Range:
    if text.lower() == STUCK:
        return (start_rad, start_rad)
    found = _STOPS.fullmatch(text)
    if not found:
        raise BadInputError(f"{text[:40]!r} is nothing flaps do", where, 'write "stuck" or "stops at 10 deg"')
    stop = flap_angle(found[1], beliefs, where)
    return (stop, _FARTHEST_FLAP_RAD) if stop < start_rad else (0.0, stop)


def flap_angle(text: str, beliefs: Beliefs, where: str) -> float:
    """Return the angle, rad, of a flap setting by its name, or of an angle with its unit between up and full.

    Raises:
        BadInputError: it is neither.
    """
    if text.strip().lower() == "up":
        return 0.0
    if not re.search(r"\d\s*(deg|°|rad)", text):
        return flap_setting(text, beliefs, where).angle_rad
    angle, full = parse_measured(text, "angle", where, "10 deg")[0], beliefs.settings[-1].angle_rad
    if not 0.0 <= angle <= full + 1e-6:
        raise BadInputError(f"{text} is beyond the travel of the flaps", where, f"0 to {full / DEGREE:.0f} deg")
    return angle


def _ground(section: GroundSection, where: str) -> Ground | None:
    if not section.runway:
        return None
    height = _within(section.wing_height, "length", f"{where}.wing_height", "1 m", 0.1, 6.0, 1.0, "m")
    if not 0.0 <= section.friction <= 0.5:
        at = f"{where}.friction"
        raise BadInputError(f"a rolling friction of {section.friction:g} is out of range", at, "0 to 0.5, as 0.04")
    return Ground(height, section.friction)


def details_sentences(details: Details) -> list[str]:
    """Say what a plan states beyond the usual, a sentence each."""
    said = [] if details.pilot is None else _pilot_sentence(details.pilot)
    if details.devices is not None:
        said += _device_sentence(details.devices.gear, "The gear is stuck where it is", "The gear stops")
        said += _device_sentence(details.devices.flaps, "The flaps are stuck where they are", "The flaps stop")
        if details.devices.engine_drag is not None:
            said.append(f"The dead engine adds {details.devices.engine_drag} of drag area.")
    if details.ground is not None:
        near = "The wheels meet the runway, and induced drag is what it is near the ground."
        said.append(near if details.ground.runway else "No runway is met, and no ground effect is felt.")
    return said


def _pilot_sentence(pilot: PilotSection) -> list[str]:
    parts = []
    if pilot.load_factor is not None:
        parts.append(f"uses load factors of {pilot.load_factor[0]:g} to {pilot.load_factor[1]:g}")
    if pilot.pitch_rate is not None:
        parts.append(f"pitches at {pilot.pitch_rate}")
    if pilot.path_rate is not None:
        parts.append(f"bends the path by no more than {pilot.path_rate}")
    if pilot.hand is not None:
        parts.append(f"keeps the hand on a lever for {pilot.hand}")
    return [f"The pilot {', '.join(parts)}."] if parts else []


def _device_sentence(state: str, stuck: str, stops: str) -> list[str]:
    if state == MOVES:
        return []
    if state.lower() == STUCK:
        return [f"{stuck}; the lever is moved all the same."]
    return [f"{stops} at {state[len('stops at ') :]}, however far the lever is moved."]
