"""Bringing the clocks of several recordings of one flight together, by marks or by what both of them measured.

Another clock is taken to show ``time = offset + (1 + rate) * other``: an offset and a steady drift. Both come with a
covariance, so that how well two clocks agree at a moment can be told and carried into a fit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.signal import correlate

from wringout.errors import BadInputError
from wringout.recordings.types import EventKind, FloatArray, Mark, Recording

DRIFT_SD = 50e-6
"""How fast clocks of loggers, cameras and phones drift: one standard deviation, as a share (judged: 4 s a day)."""

MARK_SD_S = 0.7
"""How far a mark tapped or called is off: one standard deviation [s] (judged)."""

_STEP_S = 1.0
_MOST_STEPS = 200_000
_LEAST_OVERLAP_S = 60.0
_LEAST_READINGS = 20
_LEAST_SPAN_S = 30.0
_LONGEST_LEVER_S = 60.0
_SAME = (
    ("ias", "cas", "tas", "ground_speed"),
    ("pressure_altitude", "altitude", "gps_altitude"),
)
_OTHERS = ("vertical_speed", "heading", "track", "roll", "pitch", "manifold_pressure", "rpm", "flap", "gear")
_WINDOW_S = 240.0
_STEP_SIGMAS, _LEAST_STEP_S = 5.0, 1.0
_ROUNDS = 25


@dataclass(frozen=True, slots=True)
class ClockStep:
    """Where one of two clocks jumped against the other: when, on the first clock [s], and by how much [s]."""

    time_s: float
    by_s: float


@dataclass(frozen=True, slots=True)
class ClockFit:
    """How another recording's clock runs against the first one's.

    ``time_of(t) = offset_s + t + rate * (t - reference_s)``.

    Attributes:
        offset_s: of the other clock at ``reference_s`` on it [s]. rate: its drift, as a share.
        reference_s: the middle of what was compared, where offset and rate do not lean on one another [s].
        offset_sd_s, rate_sd: one standard deviation of each.
        by: what was compared, in words. count: how many marks, or seconds of overlap.
        steps: jumps that were recognised.
    """

    offset_s: float
    rate: float
    reference_s: float
    offset_sd_s: float
    rate_sd: float
    by: str
    count: int
    steps: tuple[ClockStep, ...] = ()

    def time_of(self, other_s: FloatArray | float) -> FloatArray:
        """Return times on the first clock for times on the other [s]."""
        other = np.asarray(other_s, dtype=np.float64)
        return np.asarray(self.offset_s + other + self.rate * (other - self.reference_s))

    def sd_at(self, other_s: float) -> float:
        """Return how well a time on the other clock is placed on the first: one standard deviation [s]."""
        return math.hypot(self.offset_sd_s, self.rate_sd * (other_s - self.reference_s))


def align(first: Recording, other: Recording) -> ClockFit:
    """Return how the clock of ``other`` runs against that of ``first``: by common channels, else by common marks.

    Raises:
        BadInputError: nothing common to both says how they lie.
    """
    pair = common_channel(first, other)
    if pair is not None:
        fit = align_by_channel(first, other, *pair)
        if fit is not None:
            return fit
    fit = align_by_marks(first.marks, other.marks)
    if fit is None:
        raise BadInputError(
            f"nothing common to it and {first.name} says how their clocks lie",
            other.name,
            _what_is_missing(first, other, pair),
        )
    return fit


def _what_is_missing(first: Recording, other: Recording, pair: tuple[str, str] | None) -> str:
    """Return what would let two clocks be held together, and why a quantity that both measured does not."""
    if pair is None:
        return "both need a speed, an altitude or an attitude that changes, or two marks of the same events"
    short = [one.name for one, name in ((first, pair[0]), (other, pair[1])) if _series(one, name) is None]
    if short:
        return (
            f"both hold {_said(pair[0])}, but {' and '.join(short)} in fewer than {_LEAST_READINGS} readings with a "
            f"time, or over less than {_LEAST_SPAN_S:.0f} s; two marks of the same events would do"
        )
    return (
        f"both hold {_said(pair[0])}, but at no offset do the two rise and fall together clearly enough; "
        "two marks of the same events would do"
    )


def _said(quantity: str) -> str:
    """Return the name of a quantity as mappings have it, in quotes."""
    return f'"{quantity.replace("_", " ")}"'


def common_channel(first: Recording, other: Recording) -> tuple[str, str] | None:
    """Return the two quantities, one of each recording, that measure the same or nearly so; None without any."""
    for group in _SAME:
        mine = [name for name in group if name in first.channels]
        theirs = [name for name in group if name in other.channels]
        both = [name for name in mine if name in theirs]
        if both:
            return both[0], both[0]
        if mine and theirs:
            return mine[0], theirs[0]
    same = [name for name in _OTHERS if name in first.channels and name in other.channels]
    return (same[0], same[0]) if same else None


def align_by_channel(first: Recording, other: Recording, mine: str, theirs: str) -> ClockFit | None:
    """Return the fit of one channel of another recording onto one of the first, None where they do not match.

    A coarse offset comes from the normalised cross-correlation of both with slow changes taken off; offset, drift,
    gain and zero are then fitted to the values by least squares, outliers held back. The covariance is enlarged for
    residuals that hang together in time. Where one clock jumped, the offset's deviation covers half of the jump.
    """
    a, b = _series(first, mine), _series(other, theirs)
    if a is None or b is None:
        return None
    coarse = _coarse(a, b)
    if coarse is None:
        return None
    fitted = _refined(a, b, coarse)
    if fitted is None:
        return None
    by = mine if mine == theirs else f"{theirs} against {mine}"
    steps = _steps(a, b, fitted)
    offset, rate, reference, sd, rate_sd = fitted
    wider = math.hypot(sd, *(0.5 * step.by_s for step in steps))
    return ClockFit(offset, rate, reference, wider, rate_sd, by, int(min(a[1].size, b[1].size)), steps)


def _series(recording: Recording, name: str) -> tuple[FloatArray, FloatArray] | None:
    """Return (times, values) of a channel at even steps of one second."""
    if recording.time_s is None:
        return None
    values = recording.channels[name].values
    good = np.isfinite(values)
    if good.sum() < _LEAST_READINGS:
        return None
    times, values = recording.time_s[good], values[good]
    if name in {"heading", "track"}:
        values = np.unwrap(values)
    count = int((times[-1] - times[0]) / _STEP_S) + 1
    if not _LEAST_SPAN_S <= count * _STEP_S <= _MOST_STEPS * _STEP_S:
        return None
    grid = times[0] + _STEP_S * np.arange(count)
    return grid, np.interp(grid, times, values)


def _quick(values: FloatArray) -> FloatArray:
    """Return values with their slow changes (over a minute) taken off."""
    width = min(61, values.size // 2 * 2 - 1)
    padded = np.pad(values, width // 2, mode="edge")
    total = np.cumsum(np.concatenate(([0.0], padded)))
    return np.asarray(values - (total[width:] - total[:-width]) / width)


def _coarse(a: tuple[FloatArray, FloatArray], b: tuple[FloatArray, FloatArray]) -> float | None:
    """Return the offset [s] of the best match, or None where no lag stands out."""
    x, y = _quick(a[1]), _quick(b[1])
    if not (x.std() > 0.0 and y.std() > 0.0):
        return None
    sums = correlate(x, y, mode="full", method="fft")
    one_x, one_y = np.ones(x.size), np.ones(y.size)
    energy_x = correlate(x * x, one_y, mode="full", method="fft")
    energy_y = correlate(one_x, y * y, mode="full", method="fft")
    count = np.minimum.reduce([np.arange(1, sums.size + 1), np.arange(sums.size, 0, -1)])
    count = np.minimum(count, min(x.size, y.size))
    floor = 0.02 * max(float(energy_x.max()), 1e-30) * max(float(energy_y.max()), 1e-30)
    score = np.where(
        (count >= _LEAST_OVERLAP_S) & (energy_x * energy_y > floor),
        sums / np.sqrt(np.maximum(energy_x * energy_y, floor)),
        -1.0,
    )
    score = score * np.sqrt(count / count.max())
    best = int(np.argmax(score))
    if score[best] < 0.3:
        return None
    lag = best - (y.size - 1)
    return float(a[0][0] - b[0][0] + _STEP_S * lag)


def _refined(
    a: tuple[FloatArray, FloatArray], b: tuple[FloatArray, FloatArray], coarse: float
) -> tuple[float, float, float, float, float] | None:
    """Return (offset, rate, reference, their sd's) of the least-squares fit around a coarse offset."""
    inside = (b[0] + coarse >= a[0][0] + 2.0) & (b[0] + coarse <= a[0][-1] - 2.0)
    if inside.sum() < _LEAST_OVERLAP_S / 2.0:
        return None
    times, seen = b[0][inside], b[1][inside]
    reference = float(np.mean(times))
    lever = times - reference
    slope = np.gradient(a[1], _STEP_S)
    x = np.array([coarse, 0.0, 1.0, 0.0])
    covariance = np.eye(4)
    for _ in range(_ROUNDS):
        at = times + x[0] + x[1] * lever
        there, rate = np.interp(at, a[0], a[1]), np.interp(at, a[0], slope)
        gain, zero = np.linalg.lstsq(np.vstack((there, np.ones_like(there))).T, seen, rcond=None)[0]
        rest = seen - gain * there - zero
        scale = max(1.4826 * float(np.median(np.abs(rest))), 1e-9 * (1.0 + float(np.std(seen))))
        weight = 1.0 / np.maximum(1.0, np.abs(rest) / (2.0 * scale))
        design = np.vstack((gain * rate, gain * rate * lever, there, np.ones_like(there))).T
        noise = float(np.sum(weight * rest**2) / np.sum(weight)) * _hanging_together(weight * rest) + 1e-18
        information = (design.T * weight) @ design / noise
        information[1, 1] += 1.0 / DRIFT_SD**2
        pull = design.T @ (weight * rest) / noise
        pull[1] -= x[1] / DRIFT_SD**2
        covariance = np.linalg.pinv(information, rcond=1e-14, hermitian=True)
        move = covariance @ pull
        x = np.array([x[0] + np.clip(move[0], -5.0, 5.0), x[1] + move[1], gain, zero])
        if abs(move[0]) < 1e-4:
            break
    sds = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    if not np.all(np.isfinite(sds)) or not 0.0 < sds[0] < 30.0 or abs(x[0] - coarse) > 60.0:
        return None
    floor = 0.1 * _STEP_S  # both are taken at even steps of a second; nothing better is claimed
    return float(x[0]), float(x[1]), reference, math.hypot(float(sds[0]), floor), float(sds[1])


def _hanging_together(rest: FloatArray) -> float:
    """Return by how much residuals that hang together in time make a fit look too sure (integrated autocorrelation)."""
    centred = rest - rest.mean()
    power = float(np.sum(centred**2))
    if power <= 0.0:
        return 1.0
    total = 1.0
    for lag in range(1, min(int(_LONGEST_LEVER_S), rest.size // 3)):
        rho = float(np.sum(centred[lag:] * centred[:-lag])) / power
        if rho < 0.05:
            break
        total += 2.0 * rho
    return total


def _steps(
    a: tuple[FloatArray, FloatArray], b: tuple[FloatArray, FloatArray], fit: tuple[float, float, float, float, float]
) -> tuple[ClockStep, ...]:
    """Return where the offset found window by window jumps and stays."""
    offset, rate, reference = fit[0], fit[1], fit[2]
    at, lags, sds = [], [], []
    for start in np.arange(b[0][0], b[0][-1] - _WINDOW_S + 1.0, 0.5 * _WINDOW_S):
        part = (b[0] >= start) & (b[0] < start + _WINDOW_S)
        middle = start + 0.5 * _WINDOW_S
        expected = offset + rate * (middle - reference)
        near = (a[0] >= start + expected - 60.0) & (a[0] <= start + expected + _WINDOW_S + 60.0)
        if near.sum() < _WINDOW_S / 2.0:
            continue
        local = (b[0][part], b[1][part])
        around = (a[0][near], a[1][near])
        rough = _coarse(around, local)
        found = _refined(around, local, rough) if rough is not None and abs(rough - expected) < 60.0 else None
        if found is not None and found[3] < 1.0:
            at.append(middle)
            lags.append(found[0] - expected)
            sds.append(found[3])
    return _jump(np.array(at), np.array(lags), np.array(sds), offset)


def _jump(at: FloatArray, lags: FloatArray, sds: FloatArray, offset: float) -> tuple[ClockStep, ...]:
    """Return the one split after which the offsets lie elsewhere, if it stands out."""
    best: tuple[float, ClockStep] | None = None
    for k in range(2, at.size - 1):
        left, right = lags[:k], lags[k:]
        by = float(np.median(right) - np.median(left))
        spread = 1.4826 * float(np.median(np.abs(np.concatenate((left - np.median(left), right - np.median(right))))))
        sd = math.hypot(spread, float(np.median(sds))) * math.sqrt(1.0 / k + 1.0 / (at.size - k))
        if abs(by) > max(_LEAST_STEP_S, _STEP_SIGMAS * sd):
            cost = float(np.sum(np.abs(left - np.median(left))) + np.sum(np.abs(right - np.median(right))))
            if best is None or cost < best[0]:
                best = (cost, ClockStep(float(0.5 * (at[k - 1] + at[k]) + offset), by))
    return () if best is None else (best[1],)


def align_by_marks(first: Sequence[Mark], other: Sequence[Mark], mark_sd_s: float = MARK_SD_S) -> ClockFit | None:
    """Return the fit of marks of the same events onto one another; None without two that agree.

    The offset most pairs of the same event agree on is found first, then offset and, over ten minutes and more, drift.
    """
    pairs = [
        (one.time_s, two.time_s)
        for one in first
        for two in other
        if one.event.kind is not EventKind.NOTE and one.event == two.event
    ]
    pairs += [
        (one.time_s, two.time_s)
        for one in first
        for two in other
        if one.event.kind is EventKind.NOTE and one.label.casefold() == two.label.casefold()
    ]
    if len(pairs) < 2:
        return None
    gaps = np.array([one - two for one, two in pairs])
    window = 3.0 * math.sqrt(2.0) * mark_sd_s + DRIFT_SD * 7200.0
    support = np.array([len({pairs[k] for k in np.flatnonzero(np.abs(gaps - gap) <= window)}) for gap in gaps])
    middle = float(np.median(gaps[np.abs(gaps - gaps[int(np.argmax(support))]) <= window]))
    chosen = _one_each([pair for pair in pairs if abs(pair[0] - pair[1] - middle) <= window], middle)
    if len(chosen) < 2:
        return None
    mine, theirs = np.array(chosen).T
    reference = float(np.mean(theirs))
    sd = math.sqrt(2.0) * mark_sd_s
    design = np.vstack((np.ones_like(theirs), theirs - reference)).T
    information = design.T @ design / sd**2 + np.diag([0.0, 1.0 / DRIFT_SD**2])
    covariance = np.linalg.inv(information)
    offset, rate = covariance @ (design.T @ (mine - theirs)) / sd**2
    rest = mine - theirs - design @ np.array([offset, rate])
    wider = max(1.0, math.sqrt(float(np.mean(rest**2)) / sd**2))
    sds = wider * np.sqrt(np.diag(covariance))
    return ClockFit(float(offset), float(rate), reference, float(sds[0]), float(sds[1]), "marks", len(chosen))


def _one_each(pairs: list[tuple[float, float]], middle: float) -> list[tuple[float, float]]:
    """Return pairs in which each mark stands once, the closest pairs first."""
    taken_mine: set[float] = set()
    taken_theirs: set[float] = set()
    out = []
    for mine, theirs in sorted(pairs, key=lambda pair: abs(pair[0] - pair[1] - middle)):
        if mine not in taken_mine and theirs not in taken_theirs:
            taken_mine.add(mine)
            taken_theirs.add(theirs)
            out.append((mine, theirs))
    return out
