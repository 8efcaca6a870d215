"""A go-around for scipy's solve_ivp in plain Python: what a careful person would write without this project's kernel.

Floats and `math` only, closed forms where there are any, Newton for the propeller disk, one piece of integration
between the moments something is switched, an event function only where one is waited for. The benchmark chooses the
fastest method and tolerance that still meets the bars of accuracy.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.integrate import solve_ivp

from wringout.airplane import vector as v
from wringout.techniques.stated.types import Action, Conditions, Device, Gate, GoAround, Law

G0, RHO0, T0, LAPSE, R_AIR, P0 = 9.80665, 1.225, 288.15, 0.0065, 287.05287, 101325.0
FloatArray = np.ndarray


class PlainGoAround:
    """One go-around; ``fly`` integrates it."""

    def __init__(self, row: FloatArray, sit: GoAround, at: Conditions, law: Law) -> None:
        a = [float(x) for x in row]
        self.a, self.sit, self.at, self.law = a, sit, at, law
        n = int(a[v.SETTINGS])
        self.angles, self.areas = a[v.ANGLES : v.ANGLES + n], a[v.F_FLAPS : v.F_FLAPS + n]
        self.maxes, self.slopes = a[v.CL_MAXES : v.CL_MAXES + n], a[v.FLAP_SLOPES : v.FLAP_SLOPES + n]
        self.floors = a[v.FLAP_FLOORS : v.FLAP_FLOORS + n]
        self.wing, self.induced = a[v.WING_AREA], 1.0 / (math.pi * a[v.OSWALD] * a[v.SPAN] ** 2)
        self.weight = at.mass_kg * a[v.MASS_FACTOR] * G0
        theta = 1.0 - LAPSE * at.pressure_altitude_m / T0
        self.temp = T0 * theta + at.isa_deviation_k
        self.rho0 = P0 * theta ** (G0 / R_AIR / LAPSE) / R_AIR / self.temp
        self.gear = [sit.start_gear, sit.start_gear, 0.0, 0.0]  # from, to, since, seconds
        self.flap = [sit.start_flap_rad, sit.start_flap_rad, 0.0, 0.0]
        self.flap_terms(sit.start_flap_rad)
        path = -sit.descent_rad
        self.v0 = at.entry_speed * math.sqrt(2.0 * self.weight / (self.rho0 * self.wing * self.cl_max))
        self.eas0 = self.v0 * math.sqrt(self.rho0 / RHO0)
        self.eas_climb = sit.climb_speed_factor * math.sqrt(2.0 * self.weight / (RHO0 * self.wing * self.maxes[0]))
        pull = self.drag(self.v0, self.rho0, self.weight * math.cos(path)) + self.weight * math.sin(path)
        self.power0 = min(self.power_for(max(pull, 0.0), self.v0, self.rho0), self.full(self.rho0))
        self.pitch0 = path + self.alpha(math.cos(path))
        self.pitch1 = self.climb_pitch() if sit.pitch_up_rad is None else self.pitch0 + sit.pitch_up_rad
        self.stage = 0 if law is Law.LEVEL_THEN_CLIMB else 3

    def climb_pitch(self) -> float:
        pull, climb = self.thrust(self.full(self.rho0), self.v0, self.rho0), 0.0
        for _ in range(8):
            climb = math.asin((pull - self.drag(self.v0, self.rho0, self.weight * math.cos(climb))) / self.weight)
        return climb + self.alpha(math.cos(climb))

    def alpha(self, cosine: float) -> float:
        cl = 2.0 * self.weight * cosine / (self.rho0 * self.v0**2 * self.wing)
        return (cl - self.shift) / self.a[v.LIFT_SLOPE]

    def flap_terms(self, flap: float) -> None:
        angles, i = self.angles, 0
        while i < len(angles) - 2 and flap > angles[i + 1]:
            i += 1
        low, high = angles[i], angles[i + 1]
        x, y = (flap - low) / (high - low), (flap * flap - low * low) / (high * high - low * low)
        self.area = self.areas[i] + y * (self.areas[i + 1] - self.areas[i])
        self.lean = self.slopes[i] + x * (self.slopes[i + 1] - self.slopes[i])
        self.least = self.floors[i] + y * (self.floors[i + 1] - self.floors[i])
        self.cl_max = self.maxes[i] + x * (self.maxes[i + 1] - self.maxes[i])
        self.shift = self.cl_max - self.maxes[0]
        a, g = self.a, self.place(self.gear, self.now) if hasattr(self, "now") else self.gear[1]
        legs = a[v.F_GEAR] * (g + 4.0 * a[v.GEAR_BUMP] * g * (1.0 - g))
        self.legs = legs * (1.0 - a[v.KAPPA] * flap / angles[-1])

    @staticmethod
    def place(device: list[float], t: float) -> float:
        start, end, since, seconds = device
        return end if t >= since + seconds else start + (end - start) * (t - since) / seconds

    def drag(self, speed: float, rho: float, lift: float) -> float:
        a, q = self.a, 0.5 * rho * speed * speed
        apart = lift / (q * self.wing) - a[v.CL_REFERENCE]
        clean = max(a[v.F_CLEAN] + a[v.CLEAN_SLOPE] * apart, 0.2 * a[v.F_CLEAN])
        return q * (clean + self.legs + max(self.area + self.lean * apart, self.least)) + lift * lift * self.induced / q

    def thrust(self, power: float, speed: float, rho: float) -> float:
        a = self.a
        fixed = a[v.PROPELLER_LAW] > 0.5
        flown = a[v.EFFICIENCY_SPEED] if fixed else speed
        watts = power if fixed else power * max(speed / a[v.EFFICIENCY_SPEED], 0.4) ** a[v.EFFICIENCY_SLOPE]
        if watts <= 0.0:
            return 0.0
        k = watts / (2.0 * rho * a[v.DISK_AREA])
        u = flown + k / (flown * flown + 10.0 * flown + 100.0)
        u = max(u, k ** (1.0 / 3.0))
        for _ in range(4):
            u -= (u * u * (u - flown) - k) / (u * (3.0 * u - 2.0 * flown))
        gain = a[v.EFFICIENCY_SLOPE] * rho * 4.0 * a[v.DISK_AREA] / math.pi * (flown * flown - speed * speed)
        return max((watts / u + (gain if fixed else 0.0)) * self.bend(speed), 0.0)

    def bend(self, speed: float) -> float:
        ref = self.a[v.EFFICIENCY_SPEED]
        flown = max(speed, 0.4 * ref)
        x = 2.0 * (flown - ref) / (flown + ref)
        square = min(x * x, 1.0)
        return 1.0 + self.a[v.THRUST_BEND] * square * (1.0 - square)

    def power_for(self, pull: float, speed: float, rho: float) -> float:
        a = self.a
        pull /= self.bend(speed)
        if a[v.PROPELLER_LAW] > 0.5:
            ref = a[v.EFFICIENCY_SPEED]
            pull -= a[v.EFFICIENCY_SLOPE] * rho * 4.0 * a[v.DISK_AREA] / math.pi * (ref * ref - speed * speed)
            speed, factor = ref, 1.0
        else:
            factor = max(speed / a[v.EFFICIENCY_SPEED], 0.4) ** a[v.EFFICIENCY_SLOPE]
        return pull * (0.5 * speed + math.sqrt(0.25 * speed**2 + pull / (2.0 * rho * a[v.DISK_AREA]))) / factor

    def full(self, rho: float) -> float:
        c = self.a[v.ALTITUDE_LAW]
        return self.a[v.DISK_EFFICIENCY] * self.a[v.RATED_POWER] * max((rho / RHO0 - c) / (1.0 - c), 0.0)

    def rho(self, h: float) -> float:
        return self.rho0 * (1.0 - LAPSE * h / self.temp) ** (G0 / R_AIR / LAPSE - 1.0)

    def rates(self, t: float, y: FloatArray) -> tuple[float, float, float, float]:
        speed, path, h, _ = y.tolist()
        sit, weight, rho = self.sit, self.weight, self.rho(h)
        self.now = t
        self.flap_terms(self.place(self.flap, t))
        rise, forth = math.sin(path), math.cos(path)
        begun = t - sit.power_delay_s
        share = min(max(begun / max(sit.power_ramp_s, 1e-3), 0.0), 1.0)
        pull = self.thrust(self.power0 + share * (self.full(rho) - self.power0), speed, rho)
        q_s = 0.5 * rho * speed * speed * self.wing
        if self.law is Law.HOLD_ATTITUDE:
            turn = self.pitch1 - self.pitch0
            share = min(max(begun * sit.handling.pitch_rate_rps / max(abs(turn), 1e-12), 0.0), 1.0)
            lift = q_s * (self.a[v.LIFT_SLOPE] * (self.pitch0 + share * turn - path) + self.shift)
        else:
            wanted = 0.0
            if self.stage != 1:
                eas = self.eas_climb if self.stage == 2 else self.eas0
                excess = (pull - self.drag(speed, rho, weight * forth)) / weight
                error = eas * math.sqrt(RHO0 / rho) - speed
                wanted = math.asin(min(max(excess - error / (G0 * sit.handling.speed_time_s), -0.5), 0.5))
            x = forth + speed * (wanted - path) / (G0 * sit.handling.path_time_s) - 1.0
            low, high = sit.handling.load_factor
            lift = weight * (1.0 + x / math.hypot(1.0, x / (high - 1.0 if x >= 0.0 else 1.0 - low)))
        lift = min(lift, q_s * self.cl_max)
        held = self.drag(speed, rho, lift)
        return G0 * ((pull - held) / weight - rise), G0 * (lift / weight - forth) / speed, speed * rise, speed * forth

    def gate(self, action: Action, y: FloatArray) -> float:
        if action.gate is Gate.POSITIVE_CLIMB:
            return float(y[0]) * math.sin(y[1]) - action.gate_value
        if action.gate is Gate.SPEED:
            return float(y[0]) * math.sqrt(self.rho(y[2]) / RHO0) - action.gate_value
        return 1.0

    def corners(self, t: float, earliest: float | None) -> float:
        sit = self.sit
        times = [sit.power_delay_s, sit.power_delay_s + max(sit.power_ramp_s, 1e-3), sit.duration_s]
        if self.law is Law.HOLD_ATTITUDE:
            times.append(sit.power_delay_s + abs(self.pitch1 - self.pitch0) / sit.handling.pitch_rate_rps)
        times += [device[2] + device[3] for device in (self.gear, self.flap)]
        if self.flap[3] > 0.0:
            first, last, since, seconds = self.flap
            times += [
                since + (x - first) / (last - first) * seconds for x in self.angles if (x - first) * (x - last) < 0
            ]
        if earliest is not None:
            times.append(earliest)
        return min(x for x in times if x > t + 1e-9)

    def move(self, action: Action, t: float) -> None:
        gear = action.device is Device.GEAR
        device = self.gear if gear else self.flap
        now, full = self.place(device, t), 1.0 if gear else self.angles[-1]
        up, down = (v.GEAR_UP_TIME, v.GEAR_DOWN_TIME) if gear else (v.FLAP_UP_TIME, v.FLAP_DOWN_TIME)
        seconds = abs(action.target - now) / full * self.a[up if action.target < now else down]
        device[:] = [now, action.target, t, seconds]

    def next_stage(self, t: float, y: FloatArray) -> None:
        if self.stage == 0 and t >= self.sit.power_delay_s - 1e-9:
            self.stage = 1
        if self.stage == 1 and y[0] * math.sqrt(self.rho(y[2]) / RHO0) >= self.eas_climb - 1e-6:
            self.stage = 2

    def fly(
        self, actions: tuple[Action, ...], times: tuple[float, ...], method: str, rtol: float, atol: float
    ) -> FloatArray:
        """Return the states at the times, shape (times, 4)."""
        t, y, left, made = 0.0, np.array([self.v0, -self.sit.descent_rad, 0.0, 0.0]), list(actions), 0
        out = np.full((len(times), 4), np.nan)
        last = self.sit.power_delay_s + max(self.sit.power_ramp_s, 1e-3)
        while t < self.sit.duration_s - 1e-9:
            self.next_stage(t, y)
            earliest, events = None, []
            if left:
                earliest = last + left[0].wait_s + self.at.reactions_s[made]
                device = self.gear if left[0].device is Device.GEAR else self.flap
                earliest = max(earliest, device[2] + device[3]) if left[0].when_settled else earliest
                if t >= earliest - 1e-9 and self.gate(left[0], y) >= -1e-6:
                    self.move(left.pop(0), t)
                    made, last = made + 1, t
                    continue
                if t >= earliest - 1e-9:
                    events.append(lambda _t, y, a=left[0]: self.gate(a, y))
            if self.stage == 1:
                events.append(lambda _t, y: y[0] * math.sqrt(self.rho(y[2]) / RHO0) - self.eas_climb)
            for event in events:
                event.terminal, event.direction = True, 1.0
            end = self.corners(t, earliest)
            wanted = [(i, x) for i, x in enumerate(times) if t < x < end]
            run = solve_ivp(
                self.rates, (t, end), y, method, [*(x for _, x in wanted), end], rtol=rtol, atol=atol,
                events=events or None, first_step=min(0.3, end - t),
            )  # fmt: skip
            for (i, _), state in zip(wanted, np.transpose(run.y), strict=False):
                out[i] = state
            if run.status == 1:
                hit = next(k for k, found in enumerate(run.t_events) if len(found))
                t, y = float(run.t_events[hit][0]), run.y_events[hit][0]
            else:
                t, y = end, run.y[:, -1]
            for i, x in enumerate(times):
                if x == t:
                    out[i] = y
        return out
