"""True airspeed and wind from ground velocities: at one airspeed they lie on a circle about the wind.

A leg's ground velocity is its air velocity plus the wind. On any headings at one true airspeed the ground velocities
therefore lie on a circle in the plane of velocities whose centre is the wind and whose radius is the airspeed, and
three of them give both (plane geometry; no heading is needed). Averaging ground speeds over headings does not: across
the wind the ground speed is not the airspeed. SI units; the wind is the velocity of the air, the way it blows *to*.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wringout.errors import FitError

FloatArray = NDArray[np.float64]

_ROUNDS = 60
_SETTLED = 1e-11


@dataclass(frozen=True, slots=True)
class Legs:
    """Ground velocities of one calibration point, arrays of shape (n,).

    ``faster_mps`` is by how much a leg was flown faster than the mean of all (true airspeed, from its own reading).
    ``heading_rad`` is NaN where none was read. The standard deviations are those of one leg. With ``when`` (time from
    the middle of the run over its length) the wind may change steadily, by each component within ``drift_sd_mps``.
    """

    ground_speed_mps: FloatArray
    track_rad: FloatArray
    faster_mps: FloatArray
    ground_speed_sd_mps: float
    track_sd_rad: float
    airspeed_sd_mps: float
    heading_rad: FloatArray
    heading_sd_rad: float = math.radians(3.0)
    when: FloatArray | None = None
    drift_sd_mps: float = 0.0

    @property
    def velocity_mps(self) -> FloatArray:
        """Ground velocity, east and north, shape (n, 2)."""
        speed = self.ground_speed_mps
        return np.column_stack([speed * np.sin(self.track_rad), speed * np.cos(self.track_rad)])


@dataclass(frozen=True, slots=True)
class WindCircle:
    """The fitted circle.

    Attributes:
        true_airspeed_mps: radius, the mean of the legs.
        wind_mps: velocity of the air, east and north, shape (2,).
        covariance: of airspeed and wind for the stated standard deviations, shape (3, 3).
        shares: the part of `covariance` that each source of error causes; the parts add up to it.
        residual_mps: measured less fitted airspeed of each leg, shape (n,).
        residual_sd_mps: what the stated standard deviations let one leg scatter by, shape (n,).
        dof: residuals less unknowns.
        chi_square: sum of squared residuals over their standard deviations, headings included.
        dilution: how many times wider the airspeed's interval is than with legs spread evenly; 1 is best.
        heading_offset_rad: heading read less direction through the air; NaN without headings.
        drift_mps: change of the wind over the run, east and north; NaN where it was taken as steady.
        drift_covariance: of that change, shape (2, 2).
    """

    true_airspeed_mps: float
    wind_mps: FloatArray
    covariance: FloatArray
    shares: Mapping[str, FloatArray] = field(default_factory=dict)
    residual_mps: FloatArray = field(default_factory=lambda: np.zeros(0))
    residual_sd_mps: FloatArray = field(default_factory=lambda: np.zeros(0))
    dof: int = 0
    chi_square: float = 0.0
    dilution: float = 1.0
    heading_offset_rad: float = math.nan
    drift_mps: FloatArray = field(default_factory=lambda: np.full(2, np.nan))
    drift_covariance: FloatArray = field(default_factory=lambda: np.zeros((2, 2)))

    @property
    def wind_speed_mps(self) -> float:
        """Wind speed."""
        return float(np.hypot(*self.wind_mps))

    @property
    def wind_from_rad(self) -> float:
        """Direction the wind blows from, clockwise from the zero of the tracks, 0 to 2 pi."""
        return float(math.atan2(-self.wind_mps[0], -self.wind_mps[1]) % (2.0 * math.pi))


def dilutions_of(directions_rad: FloatArray) -> tuple[float, float]:
    """Return how many times wider than with legs spread evenly the intervals of airspeed and of wind are.

    From the covariance of radius and centre for equal errors of the legs; for the wind its worst direction. Infinite
    where airspeed and wind cannot be told apart.
    """
    n = directions_rad.size
    design = np.column_stack([np.ones(n), np.sin(directions_rad), np.cos(directions_rad)])
    information = design.T @ design
    if n < 3 or np.linalg.cond(information) > 1e12:
        return math.inf, math.inf
    covariance = np.linalg.inv(information)
    worst = float(np.linalg.eigvalsh(covariance[1:, 1:])[-1])
    return math.sqrt(n * float(covariance[0, 0])), math.sqrt(0.5 * n * worst)


def through_points(velocity_mps: FloatArray) -> tuple[float, FloatArray]:
    """Return radius and centre of the circle nearest to points, shape (n, 2), in the algebraic sense.

    ``|g|^2 = 2 g . w + (V^2 - |w|^2)`` is linear in the wind and the constant; three points are met exactly.

    Raises:
        FitError: the points lie on one line.
    """
    centre = velocity_mps.mean(axis=0)
    moved = velocity_mps - centre
    design = np.column_stack([2.0 * moved, np.ones(len(moved))])
    squares = np.sum(moved**2, axis=1)
    answer, _, rank, _ = np.linalg.lstsq(design, squares, rcond=1e-10)
    if rank < 3:
        raise FitError("the ground velocities lie on one line", "", "fly legs on three headings about 120 deg apart")
    radius = math.sqrt(float(answer[2] + answer[:2] @ answer[:2]))
    return radius, centre + answer[:2]


def fit_circle(legs: Legs) -> WindCircle:
    """Fit airspeed and wind to the legs by weighted least squares of the distances from the circle.

    A leg's error is that of the airspeed held, of the ground speed seen along its direction through the air, and of the
    track seen across it. Two or more headings, where read, add one equation each and one unknown, their common offset
    (compass, magnetic variation). With three legs and nothing else the answer is exact.

    Raises:
        FitError: the legs lie on one line, or no circle is found.
    """
    speed, wind = through_points(legs.velocity_mps)
    known = np.isfinite(legs.heading_rad)
    used = known if int(known.sum()) >= 2 else np.zeros_like(known)
    unknown = np.array([speed, *wind, 0.0, 0.0, 0.0])
    active = [0, 1, 2]
    if used.any():
        active.append(3)
        unknown[3] = _mean_angle(legs.heading_rad[used] - _directions(legs, unknown)[used])
    if legs.when is not None:
        active += [4, 5]
    for _ in range(_ROUNDS):
        residual, jacobian, variances = _linear(legs, unknown, used)
        jacobian = jacobian[:, active]
        left = jacobian.T / _total(variances)
        step = np.linalg.solve(left @ jacobian, -left @ residual)
        unknown[active] += step
        if float(np.max(np.abs(step))) < _SETTLED * max(abs(float(unknown[0])), 1.0):
            return _described(legs, unknown, used, active)
    raise FitError("no circle fits the ground velocities", "", "check the tracks and ground speeds of the legs")


def _total(variances: Mapping[str, FloatArray]) -> FloatArray:
    return np.asarray(np.sum(list(variances.values()), axis=0))


def _described(legs: Legs, unknown: FloatArray, used: NDArray[np.bool_], active: list[int]) -> WindCircle:
    residual, jacobian, variances = _linear(legs, unknown, used)
    jacobian = jacobian[:, active]
    total = _total(variances)
    gain = np.linalg.solve((jacobian.T / total) @ jacobian, jacobian.T / total)
    whole = {name: (gain * part) @ gain.T for name, part in variances.items() if np.any(part > 0.0)}
    shares = {name: part[:3, :3] for name, part in whole.items()}
    drifts = legs.when is not None
    n = legs.ground_speed_mps.size
    return WindCircle(
        true_airspeed_mps=float(unknown[0]),
        wind_mps=unknown[1:3].copy(),
        covariance=np.sum(list(shares.values()), axis=0),
        shares=shares,
        residual_mps=residual[:n],
        residual_sd_mps=np.sqrt(total[:n]),
        dof=residual.size - len(active),
        chi_square=float(np.sum(residual**2 / total)),
        dilution=dilutions_of(_directions(legs, unknown))[0],
        heading_offset_rad=float(math.remainder(unknown[3], 2.0 * math.pi)) if 3 in active else math.nan,
        drift_mps=unknown[4:].copy() if drifts else np.full(2, np.nan),
        drift_covariance=np.sum(list(whole.values()), axis=0)[-2:, -2:] if drifts else np.zeros((2, 2)),
    )


def _air(legs: Legs, unknown: FloatArray) -> FloatArray:
    """Return each leg's velocity through the air, shape (n, 2)."""
    when = np.zeros(legs.track_rad.size) if legs.when is None else legs.when
    return np.asarray(legs.velocity_mps - unknown[1:3] - when[:, None] * unknown[4:])


def _directions(legs: Legs, unknown: FloatArray) -> FloatArray:
    """Return each leg's direction through the air, rad."""
    air = _air(legs, unknown)
    return np.arctan2(air[:, 0], air[:, 1])


def _mean_angle(angles_rad: FloatArray) -> float:
    return math.atan2(float(np.sin(angles_rad).sum()), float(np.cos(angles_rad).sum()))


def _linear(
    legs: Legs, unknown: FloatArray, used: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray, dict[str, FloatArray]]:
    """Return residuals, their derivatives (m, 6), and variances by source.

    Residuals are distances from the circle (m/s), then headings (rad), then the drift of the wind (m/s). Unknowns are
    airspeed, wind east and north, heading offset, drift east and north.
    """
    air = _air(legs, unknown)
    distance = np.hypot(air[:, 0], air[:, 1])
    unit = air / distance[:, None]
    turned = legs.track_rad - np.arctan2(air[:, 0], air[:, 1])
    n, extra, drift = distance.size, int(used.sum()), 0 if legs.when is None else 2
    angle = np.arctan2(air[used, 0], air[used, 1]) - legs.heading_rad[used] + unknown[3]
    residual = np.concatenate(
        [distance - unknown[0] - legs.faster_mps, np.arctan2(np.sin(angle), np.cos(angle)), unknown[4 : 4 + drift]]
    )
    jacobian = np.zeros((n + extra + drift, 6))
    jacobian[:n, 0] = -1.0
    jacobian[:n, 1:3] = -unit
    jacobian[n : n + extra, 1] = -unit[used, 1] / distance[used]
    jacobian[n : n + extra, 2] = unit[used, 0] / distance[used]
    jacobian[n : n + extra, 3] = 1.0
    if legs.when is not None:
        jacobian[: n + extra, 4:] = jacobian[: n + extra, 1:3] * np.concatenate([legs.when, legs.when[used]])[:, None]
        jacobian[n + extra :, 4:] = np.eye(2)
    rest = np.zeros(extra + drift)

    def of_legs(variance: FloatArray) -> FloatArray:
        return np.concatenate([variance, rest])

    variances = {
        "airspeed held": of_legs(np.full(n, legs.airspeed_sd_mps**2)),
        "ground speeds": of_legs((np.cos(turned) * legs.ground_speed_sd_mps) ** 2),
        "tracks": of_legs((np.sin(turned) * legs.ground_speed_mps * legs.track_sd_rad) ** 2),
        "headings": np.concatenate([np.zeros(n), np.full(extra, legs.heading_sd_rad**2), np.zeros(drift)]),
        "wind drift": np.concatenate([np.zeros(n + extra), np.full(drift, legs.drift_sd_mps**2)]),
    }
    return residual, jacobian, variances


def ground_speed_on_track(
    true_airspeed_mps: FloatArray, track_rad: FloatArray, wind_east_mps: FloatArray, wind_north_mps: FloatArray
) -> FloatArray:
    """Return the ground speed, m/s, made good on each track: the wind triangle.

    ``w . t + sqrt(V^2 - (w x t)^2)``; where the wind across is more than the airspeed, the root is taken as zero.
    """
    along = wind_east_mps * np.sin(track_rad) + wind_north_mps * np.cos(track_rad)
    across = wind_east_mps * np.cos(track_rad) - wind_north_mps * np.sin(track_rad)
    return np.asarray(along + np.sqrt(np.maximum(true_airspeed_mps**2 - across**2, 0.0)))
