"""The speeds of an airplane on one scale: what it stalls at in each setting, and the limits of its manual."""

from __future__ import annotations

from dataclasses import dataclass

from wringout.airplane.quantity import parse_measured
from wringout.services.airplane.airplanes import StudyAirplane
from wringout.units import KNOT

Kind = str
"""``stall``, ``flaps``, ``gear`` or ``limit``."""


@dataclass(frozen=True, slots=True)
class SpeedMark:
    """One speed, kt. ``spread_kt`` is its standard deviation where it is believed and not a limit."""

    label: str
    speed_kt: float
    kind: Kind
    spread_kt: float = 0.0


@dataclass(frozen=True, slots=True)
class SpeedSketch:
    """Every speed of an airplane file.

    The white arc runs from the stall in the landing setting at maximum weight to the flaps-extended limit, the green
    arc from the stall with flaps up (14 CFR 23.1545, amendment 23-62, and its Part 25 and CS counterparts). The green
    arc ends at VNO, which the airplane file does not hold, so its upper end is left open and no yellow arc is drawn.
    """

    marks: tuple[SpeedMark, ...]
    white: tuple[float, float] | None
    green_from: float | None
    never_exceed: float | None


def speed_sketch(found: StudyAirplane) -> SpeedSketch:
    """Return the speeds of an airplane, those of its file, before any run."""
    document, limits = found.document, found.beliefs.limits
    marks: list[SpeedMark] = []
    stalls: list[float] = []
    named = [("flaps up", document.stall_speed_clean), *((f"flaps {f.name}", f.stall_speed) for f in document.flaps)]
    for label, text in named:
        if text is None:
            continue
        value, spread = parse_measured(text, "speed", f"airplane.toml, stall speed, {label}", "61 ± 2 kt")
        stalls.append(value / KNOT)
        marks.append(SpeedMark(f"stall, {label}", value / KNOT, "stall", (spread or 0.0) / KNOT))
    for name, limit in limits.flaps_extended_mps.items():
        marks.append(SpeedMark(f"VFE {name}", limit / KNOT, "flaps"))
    gear = [
        ("VLO extend", limits.gear_operate_mps),
        ("VLO retract", limits.gear_retract_mps),
        ("VLE", limits.gear_extended_mps),
    ]
    marks += [SpeedMark(label, speed / KNOT, "gear") for label, speed in gear if speed is not None]
    others = [("VA", limits.maneuvering_mps), ("VNE", limits.never_exceed_mps)]
    marks += [SpeedMark(label, speed / KNOT, "limit") for label, speed in others if speed is not None]
    full = document.flaps[-1]
    landing = limits.flaps_extended_mps.get(full.name)
    has_full = full.stall_speed is not None and landing is not None
    never = limits.never_exceed_mps
    return SpeedSketch(
        tuple(marks),
        (stalls[-1], landing / KNOT) if has_full and landing is not None else None,
        stalls[0] if document.stall_speed_clean is not None else None,
        None if never is None else never / KNOT,
    )
