"""The whole flight and each point against weight, balance, fuel, floor, density altitude, engine and daylight."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.atmosphere import density_altitude_m, temperature_k
from wringout.planning.checks import Check, Level, against, missing
from wringout.planning.daylight import CIVIL_DEG, daylight, sun_elevation_deg
from wringout.planning.loading import cg_margin_m, zero_fuel
from wringout.planning.plan import Moment, Point, TestPlan
from wringout.units import FOOT, INCH, INCH_OF_MERCURY, POUND, RPM, US_GALLON

THIN_WEIGHT_LB, THIN_HEIGHT_FT, THIN_CG_IN = 30.0, 500.0, 0.3
THIN_DAYLIGHT_MIN, THIN_FUEL_GAL, THIN_RPM, THIN_INHG = 30.0, 2.0, 50.0, 0.5
THIN_DENSITY_FT = 1000.0
"""Margins below which a warning is given (judged, no source)."""
STALL_FLOOR_FT = 3000.0
"""Least height above ground to have recovered by (common practice, no source; the instructor's comes first)."""
RECOVERY_FT = 1000.0
"""Height kept for a recovery above the floor in points near the stall (judged, no source)."""


def flight_checks(plan: TestPlan, beliefs: Beliefs) -> list[Check]:
    """Return the checks that are of no single point: fuel, load at both ends, daylight, engine limits not stated."""
    return [*_fuel(plan), *_load(plan, beliefs), *_daylight(plan), *_engine_stated(plan)]


def point_checks(point: Point, plan: TestPlan, beliefs: Beliefs) -> list[Check]:
    """Return the checks of one point other than its speeds."""
    out = [*_floor(point, plan), *_density(point, plan), *_engine(point, plan)]
    heaviest = beliefs.limits.max_mass_kg
    words = "weight planned" if point.mass_is_stated else "weight assumed"
    out.append(
        against(
            point.key,
            "the maximum weight",
            point.mass_kg / POUND,
            heaviest / POUND,
            "lb",
            THIN_WEIGHT_LB,
            words,
            "plan a lower weight",
        )
    )
    return out


def _fuel(plan: TestPlan) -> Iterator[Check]:
    flight, left = plan.flight, plan.landing.fuel_m3
    if left is None or flight.fuel_flow_m3ps is None or flight.fuel_reserve_m3 is None:
        yield missing("", "fuel", "Fuel on board, fuel flow and reserve are not all stated: the fuel was not checked.")
        return
    used = flight.fuel_flow_m3ps * plan.landing.elapsed_s
    remains = ((flight.fuel_m3 or 0.0) - used) / US_GALLON
    yield against(
        "",
        "the reserve",
        remains,
        flight.fuel_reserve_m3 / US_GALLON,
        "gal",
        THIN_FUEL_GAL,
        "fuel left at the end",
        "take more fuel or fly fewer points",
        upper=False,
        places=1,
    )


def _load(plan: TestPlan, beliefs: Beliefs) -> Iterator[Check]:
    ends = (("at take-off", plan.takeoff), ("at landing", plan.landing))
    if beliefs.loading is None or plan.takeoff.balance is None:
        yield missing(
            "", "weight and c.g.", "Loading or fuel is not stated: weight and centre of gravity were not checked."
        )
        return
    heaviest = beliefs.limits.max_mass_kg / POUND
    for when, moment in ends:
        if moment.balance is not None:
            yield against(
                "",
                "the maximum weight",
                moment.balance.mass_kg / POUND,
                heaviest,
                "lb",
                THIN_WEIGHT_LB,
                f"weight {when}",
                "take less fuel or load",
            )
            yield _centre(moment, when, beliefs)
    empty = zero_fuel(beliefs.loading, plan.flight.load_kg)
    if empty.inside is False:
        yield Check(
            "",
            "the c.g. envelope",
            Level.THIN,
            f"With empty tanks the centre of gravity would stand at {empty.arm_m / INCH:.1f} in, outside the envelope.",
        )


def _centre(moment: Moment, when: str, beliefs: Beliefs) -> Check:
    found, loading = moment.balance, beliefs.loading
    if found is None or loading is None or found.inside is None:
        return missing("", "the c.g. envelope", f"No c.g. envelope in the airplane file: not checked {when}.")
    margin = cg_margin_m(loading, found) / INCH
    said = f"Centre of gravity {when} {found.arm_m / INCH:.1f} in at {found.mass_kg / POUND:,.0f} lb"
    if not found.inside:
        return Check(
            "",
            "the c.g. envelope",
            Level.VIOLATED,
            f"{said}: outside the envelope; move load or fuel.",
            found.arm_m / INCH,
            None,
            "in",
        )
    level = Level.THIN if margin < THIN_CG_IN else Level.HELD
    only = "only " if level is Level.THIN else ""
    return Check("", "the c.g. envelope", level, f"{said}: {only}{margin:.1f} in inside the envelope.")


def _floor(point: Point, plan: TestPlan) -> Iterator[Check]:
    floor = plan.flight.floor_m / FOOT
    if point.above_ground_m is None:
        yield missing(
            point.key,
            "the altitude floor",
            "The height above ground is not known: state the altitude of the point and "
            "the elevation of the ground below it.",
        )
        return
    stalls = point.method.key in ("stall series", "go around pairs")
    lowest = max(floor, STALL_FLOOR_FT) if stalls else floor
    lost = RECOVERY_FT if stalls else 0.0
    words = f"height above ground{f' less {RECOVERY_FT:,.0f} ft to recover in' if stalls else ''}"
    yield against(
        point.key,
        "the altitude floor",
        point.above_ground_m / FOOT - lost,
        lowest,
        "ft",
        THIN_HEIGHT_FT,
        words,
        "plan it higher",
        upper=False,
    )


def _density(point: Point, plan: TestPlan) -> Iterator[Check]:
    if point.altitude_m is None:
        yield missing(point.key, "density altitude", "The altitude is not stated: density altitude was not checked.")
        return
    kelvin = float(temperature_k(point.altitude_m, plan.flight.isa_deviation_k))
    density = float(density_altitude_m(point.altitude_m, kelvin)) / FOOT
    limit = plan.document.engine.highest_density_altitude
    if limit is None:
        yield Check(
            point.key,
            "density altitude",
            Level.HELD,
            f"Density altitude {density:,.0f} ft; no limit of it is stated.",
            density,
            None,
            "ft",
        )
        return
    highest = parse_measured(limit, "length", "test plan, engine.highest_density_altitude", "10000 ft")[0] / FOOT
    yield against(
        point.key,
        "the highest density altitude",
        density,
        highest,
        "ft",
        THIN_DENSITY_FT,
        "density altitude",
        "plan it lower or on a cooler day",
    )


def _engine_stated(plan: TestPlan) -> Iterator[Check]:
    engine = plan.document.engine
    if engine.highest_rpm is None and engine.highest_manifold_pressure is None and not engine.other:
        yield missing(
            "",
            "engine limits",
            "No engine limit is stated: write those of the approved manual into the plan or on the cards.",
        )


_RPM = re.compile(r"(?<![\d,.])(\d{1,2},?\d{3}|\d{3})(?:\.\d+)?\s*rpm", re.IGNORECASE)
_MANIFOLD = re.compile(r"(?<![\d,.])(\d{1,2}(?:\.\d+)?)\s*(?:inhg|in\s*hg|inches|in)\b", re.IGNORECASE)


def _engine(point: Point, plan: TestPlan) -> Iterator[Check]:
    """Hold the power of a point against the engine limits that are stated; a power that cannot be read is said so."""
    engine, power = plan.document.engine, point.words.get("power", "")
    rpm, manifold = _RPM.search(power), _MANIFOLD.search(power)
    if engine.highest_rpm is not None and power:
        limit = (
            parse_measured(engine.highest_rpm, "rotation rate", "test plan, engine.highest_rpm", "2700 rpm")[0] / RPM
        )
        seen = None if rpm is None else float(rpm[1].replace(",", ""))
        yield _power(point, "the highest rpm", seen, limit, "rpm", THIN_RPM)
    if engine.highest_manifold_pressure is not None and power:
        where = "test plan, engine.highest_manifold_pressure"
        limit = parse_measured(engine.highest_manifold_pressure, "pressure", where, "29 inHg")[0] / INCH_OF_MERCURY
        seen = None if manifold is None else float(manifold[1])
        yield _power(point, "the highest manifold pressure", seen, limit, "inHg", THIN_INHG)


def _power(point: Point, subject: str, seen: float | None, limit: float, unit: str, thin: float) -> Check:
    if seen is None:
        said = f"The power {point.words['power']!r} names no {unit}: not checked against {subject} {limit:,.0f} {unit}."
        return missing(point.key, subject, said)
    places = 0 if unit == "rpm" else 1
    return against(point.key, subject, seen, limit, unit, thin, "power planned at", f"plan fewer {unit}", places=places)


def _daylight(plan: TestPlan) -> Iterator[Check]:
    flight, end = plan.flight, plan.landing.at
    if flight.start is None or flight.latitude_deg is None or flight.longitude_deg is None or end is None:
        yield missing("", "daylight", "Start, latitude and longitude are not all stated: daylight was not checked.")
        return
    dark = [
        when
        for when in (flight.start, end)
        if sun_elevation_deg(flight.latitude_deg, flight.longitude_deg, when) < -CIVIL_DEG
    ]
    sun = daylight(flight.latitude_deg, flight.longitude_deg, flight.start)
    if dark or (sun.dusk is not None and end > sun.dusk):
        said = f"; dusk is at {sun.dusk.astimezone(UTC):%H:%M} UTC" if sun.dusk else ""
        yield Check(
            "",
            "daylight",
            Level.VIOLATED,
            f"The flight from {flight.start.astimezone(UTC):%H:%M} to {end.astimezone(UTC):%H:%M} UTC is not all "
            f"between civil dawn and dusk{said}; start at another time or fly fewer points.",
        )
        return
    if sun.dusk is None:
        yield Check("", "daylight", Level.HELD, "The sun does not go 6 degrees below the horizon on that day.")
        return
    spare = (sun.dusk - end).total_seconds() / 60.0
    level = Level.THIN if spare < THIN_DAYLIGHT_MIN else Level.HELD
    only = "only " if level is Level.THIN else ""
    yield Check(
        "",
        "daylight",
        level,
        f"The flight ends at {end.astimezone(UTC):%H:%M} UTC, {only}{spare:.0f} min before the end of civil twilight "
        f"at {sun.dusk.astimezone(UTC):%H:%M} UTC.",
    )
