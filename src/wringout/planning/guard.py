"""The limits guard: a whole plan against the limits of its airplane, before anything of it is printed."""

from __future__ import annotations

from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError
from wringout.planning.checks import Check, Level
from wringout.planning.guard_flight import flight_checks, point_checks
from wringout.planning.guard_speeds import speed_checks
from wringout.planning.phases import phases_of
from wringout.planning.plan import Point, TestPlan

_OVERLAPS = ("VNE", "VFE", "VLE", "VLO", "stall", "floor", "height above ground", "maximum weight")


def guard(plan: TestPlan, beliefs: Beliefs) -> tuple[Check, ...]:
    """Return every check of a plan: of the flight, then point by point.

    A point whose words cannot be read comes out as violated, with the sentence that says why, so that the other points
    are still checked.
    """
    out = flight_checks(plan, beliefs)
    for point in plan.points:
        out += _point(point, plan, beliefs)
    return tuple(out)


def _point(point: Point, plan: TestPlan, beliefs: Beliefs) -> list[Check]:
    try:
        phases = phases_of(point, beliefs)
        found = speed_checks(point, phases, beliefs, plan.flight.isa_deviation_k)
        found += point_checks(point, plan, beliefs)
        notices = point.method.guard(beliefs, dict(point.words))
    except BadInputError as error:
        return [Check(point.key, "words", Level.VIOLATED, str(error))]
    known = [c for c in found if c.level is Level.VIOLATED]
    for notice in notices:
        level = Level.VIOLATED if notice.blocking else Level.THIN
        if notice.blocking and known:
            continue  # the same limit is told above, with its number
        if not notice.blocking and any(word in notice.sentence for word in _OVERLAPS):
            continue
        found.append(Check(point.key, point.method.title.lower(), level, _sentence(notice.sentence)))
    return found


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
