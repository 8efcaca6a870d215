"""Sunrise, sunset and civil twilight of the day of a flight (astral: NOAA's solar equations)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from astral import Observer
from astral.sun import dawn, dusk, elevation


@dataclass(frozen=True, slots=True)
class Daylight:
    """The day around a flight: civil dawn and dusk (the sun 6 degrees below the horizon), UTC; None: it never is."""

    dawn: datetime | None
    dusk: datetime | None


CIVIL_DEG = 6.0


def daylight(latitude_deg: float, longitude_deg: float, at: datetime) -> Daylight:
    """Return the civil dawn before a moment and the dusk after it, as far as they lie within a day of it.

    In summer or winter of high latitudes the sun may not cross the edge; then both are None.
    """
    observer = Observer(latitude_deg, longitude_deg)
    dawns: list[datetime] = []
    dusks: list[datetime] = []
    for off in (-1, 0, 1):
        day = (at.astimezone(UTC) + timedelta(days=off)).date()
        for find, kept in ((dawn, dawns), (dusk, dusks)):
            try:
                kept.append(find(observer, date=day, depression=CIVIL_DEG, tzinfo=UTC))
            except ValueError:  # the sun does not reach that depression on that day
                continue
    before = [x for x in dawns if x <= at]
    after = [x for x in dusks if x > max(before)] if before else [x for x in dusks if x > at]
    return Daylight(max(before) if before else None, min(after) if after else None)


def sun_elevation_deg(latitude_deg: float, longitude_deg: float, at: datetime) -> float:
    """Return the height of the sun's centre above the horizon, degrees, without refraction."""
    return float(elevation(Observer(latitude_deg, longitude_deg), at.astimezone(UTC), with_refraction=False))
