"""The go-around written down a second time, for scipy's integrator: plain Python, nothing compiled, nothing shared.

Only the *layout* of a parameter row is taken from the project. Air, drag, thrust, lift and pilot are in this file's own
words, from the same sources: hydrostatic air with the standard lapse rate, the actuator disk, a parabolic polar.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from wringout.airplane import vector as v
from wringout.techniques.stated.types import Action, Conditions, Device, Gate, GoAround, Law

G0, RHO0, T0, LAPSE, R_AIR, P0 = 9.80665, 1.225, 288.15, 0.0065, 287.05287, 101325.0  # ICAO Doc 7488/3


class Airplane:
    """The airplane of a parameter row, in Python."""

    def __init__(self, row: np.ndarray) -> None:
        n = int(row[v.SETTINGS])
        self.angles, self.areas, self.cl_maxes = (row[i : i + n] for i in (v.ANGLES, v.F_FLAPS, v.CL_MAXES))
        self.slopes, self.floors = row[v.FLAP_SLOPES : v.FLAP_SLOPES + n], row[v.FLAP_FLOORS : v.FLAP_FLOORS + n]
        self.row = row

    def cl_max(self, flap: float) -> float:
        return float(np.interp(flap, self.angles, self.cl_maxes))

    def area(self, gear: float, flap: float, cl: float) -> float:
        r, share = self.row, flap / self.angles[-1]
        flaps = float(np.interp(flap**2, self.angles**2, self.areas))
        lean = float(np.interp(flap, self.angles, self.slopes))
        flaps = max(flaps + lean * (cl - r[v.CL_REFERENCE]), float(np.interp(flap**2, self.angles**2, self.floors)))
        legs = r[v.F_GEAR] * (gear + 4 * r[v.GEAR_BUMP] * gear * (1 - gear)) * (1 - r[v.KAPPA] * share)
        clean = max(r[v.F_CLEAN] + r[v.CLEAN_SLOPE] * (cl - r[v.CL_REFERENCE]), r[v.F_CLEAN] / 5)
        return float(clean + legs + flaps)

    def drag(self, speed: float, rho: float, lift: float, gear: float, flap: float) -> float:
        r, q = self.row, rho * speed**2 / 2
        cl = lift / q / r[v.WING_AREA]
        aspect = r[v.SPAN] ** 2 / r[v.WING_AREA]
        return float(q * self.area(gear, flap, cl) + q * r[v.WING_AREA] * cl**2 / (math.pi * aspect * r[v.OSWALD]))

    def disk_power(self, pull: float, speed: float, rho: float) -> float:
        """Return the power an ideal disk needs: thrust times the speed through the disk."""
        induced = -speed / 2 + math.sqrt(speed**2 / 4 + pull / (2 * rho * self.row[v.DISK_AREA]))
        return pull * (speed + induced)

    def fixed_pitch_gain(self, speed: float, rho: float) -> float:
        """Return by how much a fixed-pitch propeller pulls more than at its reference speed, engine torque held."""
        r = self.row
        diameter = 2 * math.sqrt(r[v.DISK_AREA] / math.pi)
        return float(r[v.EFFICIENCY_SLOPE] * rho * diameter**2 * (r[v.EFFICIENCY_SPEED] ** 2 - speed**2))

    def bend(self, speed: float) -> float:
        """Return the factor by which thrust leaves its law."""
        ratio = max(speed / self.row[v.EFFICIENCY_SPEED], 0.4)
        square = min((2 * (ratio - 1) / (ratio + 1)) ** 2, 1.0)
        return float(1 + self.row[v.THRUST_BEND] * (square - square**2))

    def lever(self, speed: float) -> float:
        return float(max(speed / self.row[v.EFFICIENCY_SPEED], 0.4) ** self.row[v.EFFICIENCY_SLOPE])

    def ideal_thrust(self, power: float, speed: float, rho: float) -> float:
        if power <= 0:
            return 0.0
        return float(brentq(lambda x: self.disk_power(x, speed, rho) - power, 0.0, 1e5, xtol=1e-8, rtol=1e-13))

    def thrust(self, power: float, speed: float, rho: float) -> float:
        """Return thrust for the power at the disk at the reference speed."""
        if self.row[v.PROPELLER_LAW] == 1:
            at_reference = self.ideal_thrust(power, self.row[v.EFFICIENCY_SPEED], rho)
            return max((at_reference + self.fixed_pitch_gain(speed, rho)) * self.bend(speed), 0.0)
        return max(self.ideal_thrust(power * self.lever(speed), speed, rho) * self.bend(speed), 0.0)

    def power_for(self, pull: float, speed: float, rho: float) -> float:
        pull /= self.bend(speed)
        if self.row[v.PROPELLER_LAW] == 1:
            return self.disk_power(pull - self.fixed_pitch_gain(speed, rho), self.row[v.EFFICIENCY_SPEED], rho)
        return self.disk_power(pull, speed, rho) / self.lever(speed)

    def full_power(self, rho: float) -> float:
        c = self.row[v.ALTITUDE_LAW]
        return float(self.row[v.DISK_EFFICIENCY] * self.row[v.RATED_POWER] * max((rho / RHO0 - c) / (1 - c), 0.0))


@dataclass
class Lever:
    """A device on its way: straight lines in time."""

    place: float
    since: float = 0.0
    target: float = 0.0
    seconds: float = 0.0

    def at(self, t: float) -> float:
        if self.seconds <= 0 or t >= self.since + self.seconds:
            return self.target
        return self.place + (self.target - self.place) * (t - self.since) / self.seconds


def smooth_limit(wanted: float, low: float, high: float) -> float:
    """Return a load factor that never passes its limits and has slope one at 1 g."""
    x, room = wanted - 1, (high - 1 if wanted >= 1 else 1 - low)
    return 1 + x / math.hypot(1, x / room)


class GoAroundBySolveIvp:
    """One go-around, integrated piece by piece between the moments something is switched."""

    def __init__(self, row: np.ndarray, situation: GoAround, at: Conditions, law: Law) -> None:
        self.plane, self.sit, self.at, self.law = Airplane(row), situation, at, law
        self.weight = at.mass_kg * row[v.MASS_FACTOR] * G0
        theta = 1 - LAPSE * at.pressure_altitude_m / T0
        self.temp = T0 * theta + at.isa_deviation_k
        self.rho_start = P0 * theta ** (G0 / R_AIR / LAPSE) / R_AIR / self.temp
        flap, path = situation.start_flap_rad, -situation.descent_rad
        self.speed = at.entry_speed * self.stall(flap, self.rho_start)
        self.eas = self.speed * math.sqrt(self.rho_start / RHO0)
        self.eas_climb = situation.climb_speed_factor * self.stall(0.0, RHO0)
        plane, rho = self.plane, self.rho_start
        pull = plane.drag(self.speed, rho, self.weight * math.cos(path), situation.start_gear, flap)
        pull = max(pull + self.weight * math.sin(path), 0)
        self.approach_power = min(plane.power_for(pull, self.speed, rho), plane.full_power(rho))
        self.gear = Lever(situation.start_gear, target=situation.start_gear)
        self.flap = Lever(flap, target=flap)
        self.pitch_0 = path + self.alpha(self.weight * math.cos(path))
        if situation.pitch_up_rad is None:
            best = plane.thrust(plane.full_power(rho), self.speed, rho)
            climb = 0.0
            for _ in range(50):
                lift = self.weight * math.cos(climb)
                climb = math.asin((best - plane.drag(self.speed, rho, lift, situation.start_gear, flap)) / self.weight)
            self.pitch_1 = climb + self.alpha(self.weight * math.cos(climb))
        else:
            self.pitch_1 = self.pitch_0 + situation.pitch_up_rad
        self.stage = "approach" if law is Law.LEVEL_THEN_CLIMB else "only"

    def stall(self, flap: float, rho: float) -> float:
        s = self.plane.row[v.WING_AREA]
        return math.sqrt(2 * self.weight / (rho * s * self.plane.cl_max(flap)))

    def alpha(self, lift: float) -> float:
        row = self.plane.row
        cl = 2 * lift / (self.rho_start * self.speed**2 * row[v.WING_AREA])
        return float((cl - self.shift(self.sit.start_flap_rad)) / row[v.LIFT_SLOPE])

    def shift(self, flap: float) -> float:
        return self.plane.cl_max(flap) - self.plane.cl_max(0.0)

    def rho(self, h: float) -> float:
        return float(self.rho_start * (1 - LAPSE * h / self.temp) ** (G0 / R_AIR / LAPSE - 1))

    def rates(self, t: float, y: np.ndarray) -> list[float]:
        speed, path, h, _ = y
        sit, plane, row, rho = self.sit, self.plane, self.plane.row, self.rho(h)
        gear, flap = self.gear.at(t), self.flap.at(t)
        begun = t - sit.power_delay_s
        share = min(max(begun / max(sit.power_ramp_s, 1e-3), 0), 1)
        power = self.approach_power + share * (plane.full_power(rho) - self.approach_power)
        pull = plane.thrust(power, speed, rho)
        if self.law is Law.HOLD_ATTITUDE:
            turn = self.pitch_1 - self.pitch_0
            share = min(max(begun * sit.handling.pitch_rate_rps / max(abs(turn), 1e-12), 0), 1)
            cl = row[v.LIFT_SLOPE] * (self.pitch_0 + share * turn - path) + self.shift(flap)
            lift = cl * rho * speed**2 / 2 * row[v.WING_AREA]
        else:
            wanted = 0.0
            if self.stage != "level":
                eas = self.eas_climb if self.stage == "climb" else self.eas
                excess = (pull - plane.drag(speed, rho, self.weight * math.cos(path), gear, flap)) / self.weight
                error = eas * math.sqrt(RHO0 / rho) - speed
                wanted = math.asin(max(min(excess - error / (G0 * sit.handling.speed_time_s), 0.5), -0.5))
            n = math.cos(path) + speed * (wanted - path) / (G0 * sit.handling.path_time_s)
            lift = self.weight * smooth_limit(n, *sit.handling.load_factor)
        lift = min(lift, plane.cl_max(flap) * rho * speed**2 / 2 * row[v.WING_AREA])
        held = plane.drag(speed, rho, lift, gear, flap)
        return [
            G0 * ((pull - held) / self.weight - math.sin(path)),
            G0 * (lift / self.weight - math.cos(path)) / speed,
            speed * math.sin(path),
            speed * math.cos(path),
        ]

    def _gate(self, action: Action, y: np.ndarray) -> float:
        speed, path, h, _ = y
        if action.gate is Gate.POSITIVE_CLIMB:
            return float(speed * math.sin(path) - action.gate_value)
        if action.gate is Gate.SPEED:
            return float(speed * math.sqrt(self.rho(h) / RHO0) - action.gate_value)
        return 1.0

    def _known_times(self, after: float, earliest: float | None) -> list[float]:
        sit = self.sit
        rotated = sit.power_delay_s + abs(self.pitch_1 - self.pitch_0) / sit.handling.pitch_rate_rps
        times = [sit.power_delay_s, sit.power_delay_s + max(sit.power_ramp_s, 1e-3), rotated]
        times += [lever.since + lever.seconds for lever in (self.gear, self.flap)]
        if self.flap.seconds > 0:
            for angle in self.plane.angles:
                share = (angle - self.flap.place) / (self.flap.target - self.flap.place)
                if 0 < share < 1:
                    times.append(self.flap.since + share * self.flap.seconds)
        if earliest is not None:
            times.append(earliest)
        return sorted(t for t in [*times, sit.duration_s] if after + 1e-9 < t <= sit.duration_s)

    def _move(self, action: Action, t: float) -> None:
        row = self.plane.row
        lever = self.gear if action.device is Device.GEAR else self.flap
        now = lever.at(t)
        if action.device is Device.GEAR:
            seconds = abs(action.target - now) * row[v.GEAR_UP_TIME if action.target < now else v.GEAR_DOWN_TIME]
        else:
            full_time = row[v.FLAP_UP_TIME if action.target < now else v.FLAP_DOWN_TIME]
            seconds = abs(action.target - now) / self.plane.angles[-1] * full_time
        lever.place, lever.since, lever.target, lever.seconds = now, t, action.target, seconds

    def fly(self, actions: tuple[Action, ...], times: tuple[float, ...]) -> tuple[np.ndarray, list[float]]:
        """Return the state at each of the times (rows) and when each action was made."""
        t, y = 0.0, np.array([self.speed, -self.sit.descent_rad, 0.0, 0.0])
        out, made, left = np.full((len(times), 4), np.nan), [], list(actions)
        last = self.sit.power_delay_s + max(self.sit.power_ramp_s, 1e-3)
        while t < self.sit.duration_s - 1e-9:
            if self.stage == "approach" and t >= self.sit.power_delay_s - 1e-9:
                self.stage = "level"
            if self.stage == "level" and y[0] * math.sqrt(self.rho(y[2]) / RHO0) >= self.eas_climb - 1e-9:
                self.stage = "climb"
            earliest = None
            if left:
                earliest = last + left[0].wait_s + self.at.reactions_s[len(made)]
                lever = self.gear if left[0].device is Device.GEAR else self.flap
                if left[0].when_settled:
                    earliest = max(earliest, lever.since + lever.seconds)
                if t >= earliest - 1e-9 and self._gate(left[0], y) >= -1e-9:
                    self._move(left[0], t)
                    made.append(t)
                    last = t
                    left.pop(0)
                    continue
            watched = []
            if left and earliest is not None and t >= earliest - 1e-9:
                watched.append(lambda _t, y, a=left[0]: self._gate(a, y))
            if self.stage == "level":
                watched.append(lambda _t, y: y[0] * math.sqrt(self.rho(y[2]) / RHO0) - self.eas_climb)
            for event in watched:
                event.terminal, event.direction = True, 1.0
            end = self._known_times(t, earliest)[0]
            run = solve_ivp(
                self.rates, (t, end), y, "DOP853", rtol=1e-9, atol=1e-9, max_step=1.0, events=watched, dense_output=True
            )
            assert run.success
            for i, moment in enumerate(times):
                if t < moment <= run.t[-1]:
                    out[i] = run.sol(moment)
            t, y = run.t[-1], run.y[:, -1]
        return out, made
