"""Weight and balance: weight and centre of gravity from stations and fuel, and the envelope check."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Station:
    """A place that carries mass. ``arm_m`` is measured from the manual's datum, positive aft."""

    name: str
    arm_m: float
    mass_kg: float


@dataclass(frozen=True, slots=True)
class Loading:
    """The weighed airplane and its envelope.

    ``envelope`` is a closed polygon of (arm m, mass kg) corners as the manual prints it; empty when none is given.
    ``fuel_density_kgm3`` turns fuel volume into mass.
    """

    empty_mass_kg: float
    empty_arm_m: float
    fuel_arm_m: float
    fuel_density_kgm3: float
    stations: tuple[Station, ...] = ()
    envelope: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Balance:
    """Mass, kg, and centre of gravity, m aft of datum; ``inside`` is None when the manual's envelope is not given."""

    mass_kg: float
    arm_m: float
    inside: bool | None


_BORDER = 1e-9
"""Distance from the border, as a share of the envelope's size, within which a point is on it: sums of pounds and inches
turned into kilograms and metres reach a limit only to the last digit."""


def inside_polygon(arm_m: float, mass_kg: float, corners: Sequence[tuple[float, float]]) -> bool:
    """Return whether a point lies in a polygon, its border included (even-odd crossing rule)."""
    across = max(x for x, _ in corners) - min(x for x, _ in corners) or 1.0
    high = max(y for _, y in corners) - min(y for _, y in corners) or 1.0
    scaled = [((x - arm_m) / across, (y - mass_kg) / high) for x, y in corners]  # the point at the origin
    inside = False
    for (x0, y0), (x1, y1) in zip(scaled, (*scaled[1:], scaled[0]), strict=True):
        if _distance_to_edge(x0, y0, x1, y1) <= _BORDER:
            return True
        if (y0 > 0.0) != (y1 > 0.0) and x0 - y0 / (y1 - y0) * (x1 - x0) > 0.0:
            inside = not inside
    return inside


def _distance_to_edge(x0: float, y0: float, x1: float, y1: float) -> float:
    """Return the distance of the origin from the edge between two points."""
    dx, dy = x1 - x0, y1 - y0
    squared = dx * dx + dy * dy
    along = 0.0 if squared == 0.0 else min(max(-(x0 * dx + y0 * dy) / squared, 0.0), 1.0)
    return math.hypot(x0 + along * dx, y0 + along * dy)


def balance(loading: Loading, load_kg: Mapping[str, float], fuel_m3: float) -> Balance:
    """Return mass and centre of gravity with ``load_kg`` on named stations and ``fuel_m3`` of fuel.

    Raises KeyError for a station the loading does not have, ValueError for a negative load.
    """
    arms = {station.name: station.arm_m for station in loading.stations}
    fuel_kg = fuel_m3 * loading.fuel_density_kgm3
    parts = [(loading.empty_mass_kg, loading.empty_arm_m), (fuel_kg, loading.fuel_arm_m)]
    parts += [(mass, arms[name]) for name, mass in load_kg.items()]
    if any(mass < 0.0 for mass, _ in parts):
        raise ValueError("a load is negative")
    mass_kg = sum(mass for mass, _ in parts)
    arm_m = sum(mass * arm for mass, arm in parts) / mass_kg
    inside = inside_polygon(arm_m, mass_kg, loading.envelope) if loading.envelope else None
    return Balance(mass_kg, arm_m, inside)


def mass_after_burn(start_mass_kg: float, fuel_flow_m3ps: float, elapsed_s: float, fuel_density_kgm3: float) -> float:
    """Return mass, kg, after burning fuel at a steady flow for ``elapsed_s``; raises ValueError if time is negative."""
    if elapsed_s < 0.0:
        raise ValueError("elapsed time is negative")
    return start_mass_kg - fuel_flow_m3ps * fuel_density_kgm3 * elapsed_s
