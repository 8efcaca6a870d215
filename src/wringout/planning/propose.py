"""From what is believed of an airplane to a flight: which points, at which speeds, in which order, how often."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from wringout.airplane.beliefs import Beliefs
from wringout.planning.document import PointSection
from wringout.planning.stall_margin import believed_stall_ias_mps
from wringout.units import FOOT, KNOT

BELOW_LIMIT_KT = 10.0
"""How far below the lowest limit speed an entry is planned (judged, no source)."""
STALL_FACTORS = (1.3, 1.6, 2.0)
"""Speeds of glides and climbs over the believed stall speed: near the slow end, best glide and faster (judged)."""
ENTRY_STALL_FACTOR = 1.5
ABOVE_FLOOR_FT = 2500.0
LEAST_ALTITUDE_FT = 5000.0
WORTH_FLYING = 0.01
"""A kind of point that takes away less than this share of the deciding variance is left out."""
MINUTES: Mapping[str, float] = {
    "level deceleration": 6.0,
    "out and back": 9.0,
    "stall series": 15.0,
    "transit timing": 10.0,
    "glide": 12.0,
    "climb": 12.0,
}


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the user asks of a proposal. ``worth`` is the share each kind of point teaches, by its name, if known."""

    repeats: int = 2
    altitude_ft: float | None = None
    ground_ft: float = 0.0
    floor_ft: float = 3000.0
    worth: Mapping[str, float] | None = None
    isa_deviation_k: float = 0.0
    mass_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of point: its name, the letter its points are numbered with, and the point without a number."""

    name: str
    letter: str
    point: PointSection
    repeated: bool


def kinds(beliefs: Beliefs, wishes: Wishes) -> tuple[Kind, ...]:
    """Return every kind of point that could help to decide a go-around question, most useful order of flying."""
    altitude = f"{altitude_ft(wishes):,.0f} ft"
    out: list[Kind] = []

    def add(name: str, letter: str, method: str, words: Mapping[str, str], repeated: bool) -> None:
        section = PointSection(
            key=letter, method=method, words={**words, "altitude": altitude}, minutes=MINUTES[method]
        )
        out.append(Kind(name, letter, section, repeated))

    if beliefs.retractable:
        entry = _entry(beliefs, "", wishes)
        back = entry_back(beliefs, wishes)
        add("gear", "G", "out and back", {"device": "gear", "entry speed": entry, "settled speed": back}, True)
    for index, setting in reversed(list(enumerate(beliefs.settings[1:], start=1))):
        letter = "F" if index == len(beliefs.settings) - 1 else "H" if len(beliefs.settings) == 3 else f"H{index}-"
        words = {"device": "flaps", "to": setting.name, "entry speed": _entry(beliefs, setting.name, wishes)}
        add(f"flaps {setting.name}", letter, "level deceleration", words, True)
    if beliefs.retractable:
        full = beliefs.settings[-1].name
        words = {"device": "flaps", "to": full, "entry gear": "down", "entry speed": _entry(beliefs, full, wishes)}
        add("flaps with the gear down", "B", "level deceleration", words, True)
    add("stalls", "S", "stall series", {"entry speed": _stall_entry(beliefs, wishes)}, False)
    slow = _rounded(min(_lowest_limit_kt(beliefs) - BELOW_LIMIT_KT, 1.5 * _stall_kt(beliefs, wishes)))
    add("timings", "T", "transit timing", {"speed": f"{slow:.0f} kt"}, False)
    speeds = ", ".join(f"{_rounded(k * _stall_kt(beliefs, wishes)):.0f}" for k in STALL_FACTORS)
    add("glides", "L", "glide", {"speeds": f"{speeds} kt", "power": "idle"}, False)
    add("climbs", "C", "climb", {"speeds": f"{speeds} kt", "power": "full"}, False)
    return tuple(out)


def propose(beliefs: Beliefs, wishes: Wishes) -> tuple[PointSection, ...]:
    """Return the points of a flight in the order they are flown.

    Each repeated kind is flown ``repeats`` times; passes through the kinds go forward and backward in turn, so that
    what drifts with fuel burn falls on all kinds alike (A B C, C B A); what is flown once stands in the middle; the
    first point is flown again at the very end, to show whether anything has drifted.
    """
    offered = [k for k in kinds(beliefs, wishes) if _worth(k, wishes)]
    repeated, once = [k for k in offered if k.repeated], [k for k in offered if not k.repeated]
    passes = [repeated if i % 2 == 0 else repeated[::-1] for i in range(max(wishes.repeats, 1))]
    middle = math.ceil(len(passes) / 2)
    order = [k for one in passes[:middle] for k in one] + once + [k for one in passes[middle:] for k in one]
    if order and order[0].repeated and order[-1] is not order[0]:
        order.append(order[0])
    return numbered(order)


def numbered(order: Sequence[Kind]) -> tuple[PointSection, ...]:
    """Return points with keys numbered by their kind: G1, F1, F2, G2."""
    seen: dict[str, int] = {}
    out = []
    for kind in order:
        seen[kind.letter] = seen.get(kind.letter, 0) + 1
        out.append(kind.point.model_copy(update={"key": f"{kind.letter}{seen[kind.letter]}"}))
    return tuple(out)


def altitude_ft(wishes: Wishes) -> float:
    """Return the pressure altitude of the points, ft: as wished, else well above floor and ground, in whole 500 ft."""
    if wishes.altitude_ft is not None:
        return wishes.altitude_ft
    least = max(wishes.ground_ft + wishes.floor_ft + ABOVE_FLOOR_FT, LEAST_ALTITUDE_FT)
    return 500.0 * math.ceil(least / 500.0 - 1e-9)


def with_repeats(beliefs: Beliefs, wishes: Wishes, repeats: int) -> tuple[PointSection, ...]:
    """Return the proposal with another number of repeats."""
    return propose(beliefs, replace(wishes, repeats=repeats))


def _worth(kind: Kind, wishes: Wishes) -> bool:
    return wishes.worth is None or wishes.worth.get(kind.name, 1.0) >= WORTH_FLYING


def _rounded(speed_kt: float) -> float:
    """Return a speed rounded down to whole 5 kt, as people fly them."""
    return 5.0 * math.floor(speed_kt / 5.0 + 1e-9)


def _stall_kt(beliefs: Beliefs, wishes: Wishes, flap_rad: float = 0.0) -> float:
    mass = beliefs.limits.max_mass_kg if wishes.mass_kg is None else wishes.mass_kg
    altitude = altitude_ft(wishes) * FOOT
    return believed_stall_ias_mps(beliefs, flap_rad, 0.0, mass, 0.0, altitude, wishes.isa_deviation_k) / KNOT


def _lowest_limit_kt(beliefs: Beliefs) -> float:
    limits = beliefs.limits
    known = [
        limits.never_exceed_mps,
        limits.maneuvering_mps,
        *(limits.flap_limit(s.name) for s in beliefs.settings[1:]),
        limits.gear_operate_mps,
        limits.gear_retract_mps,
        limits.gear_extended_mps,
    ]
    return min((x for x in known if x is not None), default=2.0 * 60.0 * KNOT) / KNOT


def _entry(beliefs: Beliefs, flaps: str, wishes: Wishes) -> str:
    """Return an entry speed below every limit of the device by the usual margin, and not below 1.5 times the stall.

    Where nothing is known of the limits, twice the believed stall speed.
    """
    limits = beliefs.limits
    known = [limits.never_exceed_mps, limits.maneuvering_mps]
    known += [limits.flap_limit(flaps)] if flaps else [limits.gear_operate_mps, limits.gear_extended_mps]
    stated = [x / KNOT - BELOW_LIMIT_KT for x in known if x is not None]
    fastest = min([*stated, 2.0 * _stall_kt(beliefs, wishes)])
    return f"{_rounded(fastest):.0f} kt"


def entry_back(beliefs: Beliefs, wishes: Wishes) -> str:
    """Return the speed, in words, at which the gear is planned to come up again: below its limit for that."""
    limits = beliefs.limits
    stated = [x / KNOT - BELOW_LIMIT_KT for x in (limits.gear_retract_mps, limits.gear_operate_mps) if x is not None]
    fastest = min([*stated, 1.5 * _stall_kt(beliefs, wishes)])
    return f"{_rounded(fastest):.0f} kt"


def _stall_entry(beliefs: Beliefs, wishes: Wishes) -> str:
    limits = [beliefs.limits.flap_limit(s.name) for s in beliefs.settings[1:]]
    stated = [x / KNOT - BELOW_LIMIT_KT for x in limits if x is not None]
    fastest = min([*stated, ENTRY_STALL_FACTOR * _stall_kt(beliefs, wishes)])
    return f"{_rounded(fastest):.0f} kt"
