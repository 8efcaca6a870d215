"""Weight and balance: weight and centre of gravity from stations and fuel, and the envelope check."""

from __future__ import annotations

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


def inside_polygon(arm_m: float, mass_kg: float, corners: Sequence[tuple[float, float]]) -> bool:
    """Return whether a point lies in a polygon, its border included (even-odd crossing rule)."""
    inside = False
    for (x0, y0), (x1, y1) in zip(corners, (*corners[1:], corners[0]), strict=True):
        cross = (x1 - x0) * (mass_kg - y0) - (y1 - y0) * (arm_m - x0)
        span = abs(x1 - x0) * abs(y1 - y0) + 1e-9
        if abs(cross) <= 1e-9 * span and min(x0, x1) <= arm_m <= max(x0, x1) and min(y0, y1) <= mass_kg <= max(y0, y1):
            return True
        if (y0 > mass_kg) != (y1 > mass_kg) and arm_m < x0 + (mass_kg - y0) / (y1 - y0) * (x1 - x0):
            inside = not inside
    return inside


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
