"""The airplane once more, in plain library calls and other words, to hold the compiled equations against.

Nothing here is taken from the package but the layout of a parameter row: drag is written from the polar, thrust is
solved from the actuator-disk power balance by bracketing, and the motion is left to a general-purpose integrator.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from wringout.airplane import vector as v

G = 9.80665
FT2 = 0.3048**2
KT = 1852.0 / 3600.0
LB = 0.45359237
DEG = np.pi / 180.0
RHO0 = 1.225
SLOWEST = 25.0  # m/s; where the integration ends, since no model holds there


@dataclass
class OwnAirplane:
    """Numbers of an airplane, SI; flap tables begin with up. ``power_exponent`` and ``polar_b`` are the propeller's."""

    wing: float = 174.0 * FT2
    span: float = 33.5 * 0.3048
    e: float = 0.75
    clean: float = 3.9 * FT2
    lean: float = 0.0
    gear: float = 4.2 * FT2
    bump: float = 0.0
    shielding: float = 0.3
    angles: list[float] = field(default_factory=lambda: [0.0, 20.0 * DEG, 40.0 * DEG])
    areas: list[float] = field(default_factory=lambda: [0.0, 2.4 * FT2, 6.2 * FT2])
    slopes: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    floors: list[float] = field(default_factory=list)
    lifts: list[float] = field(default_factory=lambda: [1.4, 1.85, 2.05])
    cl_of_areas: float = 0.5
    disk: float = np.pi * (76.0 * 0.0254) ** 2 / 4.0
    fixed_pitch: bool = False
    propeller: float = 0.1
    v_ref: float = 45.0
    travel: tuple[float, float, float, float] = (7.0, 6.0, 6.0, 5.0)

    def __post_init__(self) -> None:
        self.floors = self.floors or [0.0] * len(self.angles)

    def row(self) -> np.ndarray:
        """Return the same airplane as a parameter row."""
        a = np.zeros(v.SIZE)
        for place, value in (
            (v.WING_AREA, self.wing), (v.SPAN, self.span), (v.OSWALD, self.e), (v.F_CLEAN, self.clean),
            (v.F_GEAR, self.gear), (v.GEAR_BUMP, self.bump), (v.KAPPA, self.shielding), (v.DISK_AREA, self.disk),
            (v.PROPELLER_LAW, float(self.fixed_pitch)), (v.CL_REFERENCE, self.cl_of_areas), (v.MASS_FACTOR, 1.0),
            (v.EFFICIENCY_SLOPE, self.propeller), (v.EFFICIENCY_SPEED, self.v_ref), (v.LIFT_SLOPE, 4.5),
            (v.GEAR_DOWN_TIME, self.travel[0]), (v.GEAR_UP_TIME, self.travel[1]),
            (v.FLAP_DOWN_TIME, self.travel[2]), (v.FLAP_UP_TIME, self.travel[3]), (v.CLEAN_SLOPE, self.lean),
        ):  # fmt: skip
            a[place] = value
        return v.with_flap_tables(a, self.angles, self.areas, self.lifts, self.slopes, self.floors)

    def flap_area(self, flap: float, cl: float) -> float:
        """Drag area of the flaps: by squares of the angle between settings, moved along by the lift coefficient."""
        at_reference = np.interp(flap**2, np.square(self.angles), self.areas)
        straight = at_reference + np.interp(flap, self.angles, self.slopes) * (cl - self.cl_of_areas)
        return float(np.maximum(straight, np.interp(flap**2, np.square(self.angles), self.floors)))

    def drag(self, speed: float, density: float, weight: float, gear: float, flap: float) -> float:
        """Drag [N] in level flight."""
        q = density * speed**2 / 2.0
        cl = weight / q / self.wing
        doors = gear + self.bump * (1.0 - (2.0 * gear - 1.0) ** 2)
        shielded = self.gear * doors * (1.0 - self.shielding * flap / self.angles[-1])
        induced = cl**2 / (np.pi * self.e * self.span**2 / self.wing)
        clean = max(self.clean + self.lean * (cl - self.cl_of_areas), self.clean / 5.0)
        return float(q * (clean + shielded + self.flap_area(flap, cl)) + q * self.wing * induced)

    def _power(self, thrust: float, speed: float, density: float) -> float:
        wake = -speed / 2.0 + np.sqrt(speed**2 / 4.0 + thrust / (2.0 * density * self.disk))
        return float(thrust * (speed + wake))

    def _thrust_of_disk(self, power: float, speed: float, density: float) -> float:
        return float(brentq(lambda t: self._power(t, speed, density) - power, 0.0, 1e5, xtol=1e-9))

    def thrust_law(self, thrust: float, speed: float, density: float) -> Callable[[float], float]:
        """Thrust [N] against speed at levers that give ``thrust`` at ``speed``."""
        if self.fixed_pitch:
            squared = 4.0 * self.disk / np.pi
            static = thrust + self.propeller * density * squared * speed**2
            return lambda now: max(static - self.propeller * density * squared * now**2, 0.0)
        here = self._power(thrust, speed, density)

        def law(now: float) -> float:
            factor = (max(now / self.v_ref, 0.4) / max(speed / self.v_ref, 0.4)) ** self.propeller
            return self._thrust_of_disk(here * factor, now, density)

        return law

    def speeds(
        self,
        times: np.ndarray,
        entry: float,
        mass: float,
        density: float,
        gear: Callable[[float], float],
        flap: Callable[[float], float],
        climb: Callable[[float], float] = lambda _: 0.0,
        acceleration: float = 0.0,
    ) -> np.ndarray:
        """True airspeeds [m/s] at rising times, power frozen as at times[0]; ends early below SLOWEST."""
        weight = mass * G
        start = float(times[0])
        needed = self.drag(entry, density, weight, gear(start), flap(start)) + mass * acceleration
        law = self.thrust_law(needed + weight * climb(start) / entry, entry, density)

        def slowing(t: float, y: np.ndarray) -> list[float]:
            speed = float(y[0])
            excess = law(speed) - self.drag(speed, density, weight, gear(t), flap(t))
            return [excess / mass - G * climb(t) / speed]

        def too_slow(_: float, y: np.ndarray) -> float:
            return float(y[0]) - SLOWEST

        too_slow.terminal = True  # type: ignore[attr-defined]
        span = (start, float(times[-1]))
        solved = solve_ivp(
            slowing, span, [entry], "RK45", times, events=too_slow, rtol=1e-8, atol=1e-8, max_step=0.2
        )  # fmt: skip
        assert solved.status >= 0, solved.message
        return np.asarray(solved.y[0])


def moving(select: float, seconds: float, start: float, end: float) -> Callable[[float], float]:
    """Position of a device that is selected at ``select`` and takes ``seconds`` from ``start`` to ``end``."""
    return lambda t: start + (end - start) * min(max((t - select) / seconds, 0.0), 1.0)
