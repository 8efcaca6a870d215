"""Runs of the airplane of a published flight measurement, integrated here in this file's own words.

Source: U.S. Naval Academy technical note, "Flight Determination of Partial Span Flap Parasite Drag With Flap
Deflection": a retractable single at 3,300 lb, sea level, equivalent parasite areas from Tables 1 and 2 (gear down with
cowl flaps open; the 7.593 printed at flap 0 contradicts its own slope and its own difference, 7.411 agrees with both).
The note gives areas, not runs: span 33.5 ft is used with a span efficiency of 0.6 (assumed), and the runs are made here
with scipy.integrate.solve_ivp and an ideal propeller disk. Nothing of the package is imported.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

Array = NDArray[np.float64]

FT2, KT, FT, LB, INCH = 0.09290304, 1852.0 / 3600.0, 0.3048, 0.45359237, 0.0254
RHO, GRAVITY = 1.225, 9.80665

CLEAN_FT2 = 3.125
GEAR_FT2 = 7.411 - 3.125
FLAP_FT2 = 9.825 - 3.125  # 32 degrees
BOTH_FT2 = 12.717 - 3.125
MASS_KG = 3300.0 * LB
SPAN_M = 33.5 * FT
EFFICIENCY = 0.6
DISK_M2 = math.pi * (76.0 * INCH) ** 2 / 4.0
GEAR_S, FLAP_S = 7.0, 6.0  # travel times, invented


@dataclass(frozen=True, slots=True)
class Plan:
    """A run to be integrated: entry speed, what is out before, what goes out at time zero."""

    entry_kt: float
    gear_before: bool
    device: str

    @property
    def before_ft2(self) -> float:
        """Added area at entry."""
        return GEAR_FT2 if self.gear_before else 0.0

    @property
    def after_ft2(self) -> float:
        """Added area at the end."""
        if self.gear_before:
            return BOTH_FT2
        return GEAR_FT2 if self.device == "gear" else FLAP_FT2


def added_ft2(plan: Plan, time_s: float) -> float:
    """Return the area added to clean: the gear's grows with travel, the flap's with the square of its angle."""
    share = min(max(time_s / (GEAR_S if plan.device == "gear" else FLAP_S), 0.0), 1.0)
    if plan.device == "gear":
        return plan.before_ft2 + share * (plan.after_ft2 - plan.before_ft2)
    flap = FLAP_FT2 * share**2
    shielded = (FLAP_FT2 + GEAR_FT2 - BOTH_FT2) * share if plan.gear_before else 0.0
    return plan.before_ft2 + flap - shielded


def drag_n(speed: float, area_ft2: float) -> float:
    """Return drag in level flight: parasite area and an elliptic-like induced part."""
    q = 0.5 * RHO * speed**2
    return q * area_ft2 * FT2 + (MASS_KG * GRAVITY) ** 2 / (q * math.pi * EFFICIENCY * SPAN_M**2)


def power_for(thrust: float, speed: float) -> float:
    """Return the ideal disk's power: thrust times the speed through the disk, ``V/2 + sqrt(V^2/4 + T/(2 rho A))``."""
    return thrust * (speed / 2.0 + math.sqrt(speed**2 / 4.0 + thrust / (2.0 * RHO * DISK_M2)))


def thrust_n(power: float, speed: float) -> float:
    """Return the ideal disk's thrust at a power, by bisection of :func:`power_for`."""
    return float(brentq(lambda t: power_for(t, speed) - power, 1e-3, power / speed, xtol=1e-10, rtol=1e-13))


def settled_kt(plan: Plan) -> float:
    """Return the speed at which thrust meets drag again with the device out, on the front side of the power curve."""
    power = power_for(drag_n(plan.entry_kt * KT, CLEAN_FT2 + plan.before_ft2), plan.entry_kt * KT)

    def lacking(speed: float) -> float:
        return drag_n(speed, CLEAN_FT2 + plan.after_ft2) - thrust_n(power, speed)

    speeds = np.arange(plan.entry_kt * KT, 50.0 * KT, -0.25)
    values = np.array([lacking(float(s)) for s in speeds])
    first = int(np.argmax(values < 0.0))
    return float(brentq(lacking, speeds[first], speeds[first - 1], xtol=1e-12)) / KT


def speeds_kt(plan: Plan, times_s: Array) -> Array:
    """Return true airspeed at rising times; the device starts at time zero, the power stays as set at entry."""
    entry = plan.entry_kt * KT
    power = power_for(drag_n(entry, CLEAN_FT2 + plan.before_ft2), entry)

    def slope(t: float, state: Array) -> list[float]:
        v = float(state[0])
        return [(thrust_n(power, v) - drag_n(v, CLEAN_FT2 + added_ft2(plan, t))) / MASS_KG]

    solved = solve_ivp(
        slope, (times_s[0], times_s[-1]), [entry], t_eval=times_s, rtol=1e-8, atol=1e-8, max_step=1.0, method="RK45"
    )
    return np.asarray(solved.y[0] / KT)


def written_down(plan: Plan, rng: np.random.Generator, until_s: float = 120.0) -> str:
    """Return the recording of a run: whole knots every 6 s, read with 1 kt of noise and 0.5 s of timing error."""
    planned = np.arange(-18.0, until_s + 1.0, 6.0)
    looked = np.clip(planned + rng.normal(0.0, 0.5, planned.size), planned[0], planned[-1])
    order = np.argsort(looked)
    seen = np.empty(planned.size)
    seen[order] = speeds_kt(plan, looked[order])
    calls = np.round(seen + rng.normal(0.0, 1.0, planned.size))
    said = "gear down" if plan.device == "gear" else "flaps full"
    rows = [f"{t + 18.0:g}, {c:.0f}{f', {said}' if t == 0.0 else ''}" for t, c in zip(planned, calls, strict=True)]
    head = [
        "# method: level deceleration",
        f"# entry gear: {'down' if plan.gear_before else 'up'}",
        "# altitude: 0 ft",
        "# weight: 3300 lb",
        "# altitude held: 20 ft",
        "time, speed, mark",
    ]
    return "\n".join([*head, *rows]) + "\n"


def travel_times(rng: np.random.Generator) -> str:
    """Return three timings of each device, with a reaction of 0.3 s."""
    rows = [f"gear, up, down, {GEAR_S + rng.normal(0.0, 0.3):.1f}" for _ in range(3)]
    rows += [f"flaps, up, full, {FLAP_S + rng.normal(0.0, 0.3):.1f}" for _ in range(3)]
    return "# method: transit timing\ndevice, from, to, seconds\n" + "\n".join(rows) + "\n"
