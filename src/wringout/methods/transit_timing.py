"""Transit timing: gear and flap travel by stop-watch, up and down, whole or in part.

The travel of each device is taken at a steady rate, so a part of the travel takes its share of the full time; timings
of parts beside timings of the whole show whether that holds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.airplane.quantity import parse_measured
from wringout.errors import BadInputError
from wringout.methods.cautions import CAUTIONS
from wringout.methods.setup_words import flap_setting, gear_position
from wringout.methods.types import Card, FloatArray, GuardNotice, HandResult, IntArray, Method, Nuisance, Source
from wringout.propagation import Measured, coverage_factor, propagate
from wringout.recordings.types import Recording
from wringout.units import DEGREE, KNOT

KEY = "transit timing"
REACTION_S = 0.3
"""Standard deviation of one timing from starting and stopping the watch [s] (judged, no source)."""
TRAVEL_SCATTER = 0.03
"""Standard deviation of one travel about its usual time, as a share of it (judged, no source)."""
OUTLIER_SDS = 4.0
LONGEST_S = 120.0

_GEAR_WORDS = {"gear", "landing gear", "undercarriage"}
_FLAP_WORDS = {"flap", "flaps", "wing flaps"}


@dataclass(frozen=True, slots=True)
class TransitRun:
    """Timings of one recording, arrays of shape (n,).

    ``is_gear`` tells gear from flaps; positions are 0 to 1 for the gear and radians for the flaps; ``step_s`` is the
    step the watch was read to.
    """

    key: str
    title: str
    source: Source
    is_gear: NDArray[np.bool_]
    from_position: FloatArray
    to_position: FloatArray
    seconds: FloatArray
    rows: IntArray
    step_s: float = 0.1
    method: str = KEY


class TransitTiming:
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Transit timing"
    observed_unit = "s"
    ignores = (
        frozenset(range(v.SIZE))
        - {v.GEAR_DOWN_TIME, v.GEAR_UP_TIME, v.FLAP_DOWN_TIME, v.FLAP_UP_TIME, v.SETTINGS}
        - set(range(v.ANGLES, v.ANGLES + v.MAX_SETTINGS))
    )

    def from_recording(
        self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs
    ) -> list[TransitRun]:
        """Build the run from the columns device, from, to and seconds; raises BadInputError with one sentence."""
        name = recording.name
        columns = [recording.texts.get(column, ()) for column in ("device", "from", "to")]
        timed = recording.channels.get("duration")
        seconds = np.full(len(recording), np.nan) if timed is None else timed.values
        if not all(columns):
            raise BadInputError(
                "a transit timing needs the columns device, from, to and seconds",
                name,
                'write rows such as "gear, up, down, 7.2" below "device, from, to, seconds"',
            )
        good = np.flatnonzero(np.isfinite(seconds))
        if not good.size:
            raise BadInputError(
                "no row has a time",
                f"{name}, seconds",
                "give at least one; a column whose unit is in question is not used until that is answered",
            )
        legs = [_leg(recording, int(i), beliefs) for i in good]
        return [
            TransitRun(
                key=key,
                title=_title(legs),
                source=Source(recording.sha256, name),
                is_gear=np.array([leg[0] for leg in legs], dtype=np.bool_),
                from_position=np.array([leg[1] for leg in legs]),
                to_position=np.array([leg[2] for leg in legs]),
                seconds=seconds[good],
                rows=recording.rows[good],
                step_s=_step_of(seconds[good]),
            )
        ]

    def exceedances(self, run: TransitRun, beliefs: Beliefs) -> list[Exceedance]:
        """Return nothing: a timing carries no speed."""
        return []

    def nuisances(self, run: TransitRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Return nothing: timings have no uncertain number of their own."""
        return ()

    def observed(self, run: TransitRun) -> FloatArray:
        """Return the timings, s."""
        return run.seconds

    def predict(self, run: TransitRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the travel times of the candidate, s: share of travel by full-travel time in that direction."""
        down = run.to_position > run.from_position
        gear = np.where(down, row[v.GEAR_DOWN_TIME], row[v.GEAR_UP_TIME])
        flap = np.where(down, row[v.FLAP_DOWN_TIME], row[v.FLAP_UP_TIME])
        full_flap = float(row[v.ANGLES + int(row[v.SETTINGS]) - 1])
        return np.asarray(_shares(run, full_flap) * np.where(run.is_gear, gear, flap))

    def reading_sd(self, run: TransitRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the standard deviation of each timing, s: reaction, travel scatter and the watch's step."""
        return _timing_sd(self.predict(run, row, nuisance, beliefs), run.step_s)

    def residuals(self, run: TransitRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return (observed - predicted) / sd, shape (n,)."""
        predicted = self.predict(run, row, nuisance, beliefs)
        return (run.seconds - predicted) / _timing_sd(predicted, run.step_s)

    def by_hand(self, run: TransitRun, beliefs: Beliefs) -> list[HandResult]:
        """Return full-travel times per device and direction, then the parts of travel that were timed."""
        share = _shares(run, beliefs.settings[-1].angle_rad)
        whole, parts = [], []
        for gear in (True, False):
            for down in (True, False):
                chosen = (run.is_gear == gear) & ((run.to_position > run.from_position) == down)
                if chosen.any():
                    whole.append(_full_travel(run, share, chosen, gear, down))
                    parts += _parts(run, share, chosen, beliefs, whole[-1])
        return whole + parts

    def simulate(self, run: TransitRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator) -> TransitRun:
        """Return the timings as the airplane would give them, with reaction, scatter and the watch's step."""
        time = self.predict(run, row, np.zeros(0), beliefs)
        seen = time + rng.normal(0.0, 1.0, time.size) * _timing_sd(time, 0.0)
        return replace(run, seconds=np.maximum(np.round(seen / run.step_s), 1.0) * run.step_s)

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of a transit timing; ``device``, ``speed`` and ``altitude`` describe the point."""
        device = words.get("device", "gear and flaps")
        speed = words.get("speed", "a speed below VLO and VFE with margin")
        return Card(
            title=f"Transit timing, {device}",
            purpose=f"Find how long the {device} take to travel, each way.".replace("gear take", "gear takes"),
            setup=(
                f"{words.get('altitude', 'The planned altitude')}, smooth air, level at {speed}",
                "A stop-watch that shows tenths; the second person holds it",
            ),
            steps=(
                'The pilot says "selecting, now" and moves the handle; the watch starts on "now"',
                "Stop the watch when the device stops: gear lights, or the flap itself seen at its setting",
                "Write device, from, to and seconds at once; repeat each way at least three times",
                "Time parts of the flap travel too, up to half and half to full, each way",
                "Let electric motors and pumps rest between travels as the manual asks",
            ),
            readings=("device, from, to, seconds", "airspeed and bus voltage, once"),
            stop_conditions=(
                "The device stops short, sounds wrong or moves unevenly",
                "Airspeed above the limit for the device, or within 10 kt of the stall speed",
                "Traffic, turbulence, or anything unusual about the airplane or the crew",
            ),
            cautions=CAUTIONS,
        )

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned ``speed`` against the limits of the ``device``; raises BadInputError on bad words."""
        speed, _ = parse_measured(words.get("speed", ""), "speed", "card, speed", "90 kt")
        limits, device = beliefs.limits, words.get("device", "gear")
        named: list[tuple[str, float | None]]
        if _is_gear(device, "card, device"):
            named = [("VLO (extend)", limits.gear_operate_mps), ("VLO (retract)", limits.gear_retract_mps)]
        else:
            named = [(f"VFE ({s.name})", limits.flap_limit(s.name)) for s in beliefs.settings]
        out = []
        for label, limit in named:
            if limit is None:
                continue
            said = f"timing at {speed / KNOT:.0f} kt against {label} {limit / KNOT:.0f} kt"
            if speed > limit:
                out.append(GuardNotice(True, f"{said}: above the limit; plan a lower speed."))
            elif speed > limit - 5.0 * KNOT:
                out.append(GuardNotice(False, f"{said}: only {(limit - speed) / KNOT:.0f} kt of margin."))
        return out


METHOD: Method = TransitTiming()


def _is_gear(text: str, where: str) -> bool:
    word = " ".join(text.lower().split())
    if word not in _GEAR_WORDS | _FLAP_WORDS:
        raise BadInputError(f"{text!r} is not a device", where, 'write "gear" or "flaps"')
    return word in _GEAR_WORDS


def _leg(recording: Recording, i: int, beliefs: Beliefs) -> tuple[bool, float, float]:
    """Return (is gear, from, to) of one row; raises BadInputError naming the row and field."""
    row = f"{recording.name}, row {int(recording.rows[i])}"
    device, start, end = (recording.texts[column][i] for column in ("device", "from", "to"))
    seconds = float(recording.channels["duration"].values[i])
    if not 0.0 < seconds <= LONGEST_S:
        raise BadInputError(
            f"{seconds:g} s is not a likely travel time", f"{row}, seconds", f"give 0.1 to {LONGEST_S:.0f} s"
        )
    gear = _is_gear(device, f"{row}, device")
    if gear and not beliefs.retractable:
        raise BadInputError("the airplane file says the gear is fixed", f"{row}, device", "add a [gear] section to it")
    if gear:
        positions = gear_position(start, f"{row}, from"), gear_position(end, f"{row}, to")
    else:
        ends = flap_setting(start, beliefs, f"{row}, from"), flap_setting(end, beliefs, f"{row}, to")
        positions = ends[0].angle_rad, ends[1].angle_rad
    if positions[0] == positions[1]:
        raise BadInputError(
            f"the {device.strip().lower()} would go from {start!r} to {end!r}, which is no travel",
            f"{row}, to",
            "give two different positions",
        )
    return gear, *positions


def _title(legs: Sequence[tuple[bool, float, float]]) -> str:
    names = [name for name, wanted in (("gear", True), ("flaps", False)) if any(leg[0] == wanted for leg in legs)]
    return f"{len(legs)} timing{'s' if len(legs) > 1 else ''} of {' and '.join(names)}"


def _step_of(seconds: FloatArray) -> float:
    """Return the step the watch was read to: 1, 0.5, 0.1 or 0.01 s, the largest that fits all timings."""
    for step in (1.0, 0.5, 0.1):
        if np.allclose(seconds / step, np.round(seconds / step), atol=1e-6):
            return step
    return 0.01


def _shares(run: TransitRun, full_flap_rad: float) -> FloatArray:
    """Return each timing's travel as a share of full travel."""
    full = np.where(run.is_gear, 1.0, full_flap_rad)
    return np.asarray(np.abs(run.to_position - run.from_position) / full)


def _timing_sd(time_s: FloatArray, step_s: float) -> FloatArray:
    return np.sqrt(REACTION_S**2 + (TRAVEL_SCATTER * time_s) ** 2 + step_s**2 / 12.0)


def _mean(seconds: FloatArray, share: FloatArray, step_s: float) -> Measured:
    """Return the mean of timings scaled to full travel.

    With repeats the uncertainty is their standard error with Student's t (JCGM 100:2008, 4.2 and G.3); one timing
    alone has the stated quality of a stop-watch. The watch's step stays, since repeats rounded alike do not average it.
    """
    scaled = seconds / share
    n = scaled.size
    scatter = float(np.std(scaled, ddof=1)) if n > 1 else float((_timing_sd(seconds, 0.0) / share)[0])
    if scatter < 1e-9 * float(np.mean(scaled)):
        scatter = 0.0  # timings that agree to the last digit; what is left is rounding in the arithmetic
    return propagate(
        lambda repeats, step: repeats + step,
        {
            "repeats": (float(np.mean(scaled)), scatter / math.sqrt(n)),
            "step": (0.0, step_s / math.sqrt(12.0) / float(np.mean(share))),
        },
        "s",
        degrees_of_freedom={"repeats": float(n - 1)} if n > 1 else None,
    )


def _outliers(run: TransitRun, share: FloatArray, chosen: NDArray[np.bool_], what: str) -> str:
    """Return a sentence on timings far from the median of at least two others like them, or nothing."""
    said = []
    places = np.flatnonzero(chosen)
    for i in places if places.size >= 3 else ():
        others = places[places != i]
        usual = float(np.median(run.seconds[others] / share[others])) * float(share[i])
        away = float(run.seconds[i]) - usual
        if abs(away) > OUTLIER_SDS * float(_timing_sd(np.array(usual), run.step_s)):
            rest = float(np.mean(run.seconds[others] / share[others]))
            side = "over" if away > 0.0 else "under"
            said.append(
                f" Row {int(run.rows[i])} ({run.seconds[i]:g} s) is {abs(away):.1f} s {side} what the others suggest, "
                f"as a slip with the watch would be: it is kept; without it the {what} is {rest:.2f} s."
            )
    return "".join(said)


def _full_travel(run: TransitRun, share: FloatArray, chosen: NDArray[np.bool_], gear: bool, down: bool) -> HandResult:
    """Return the full-travel time of one device and direction, from whole travels if there are any."""
    whole = chosen & (share > 0.999)
    used = whole if whole.any() else chosen
    value = _mean(run.seconds[used], share[used], run.step_s)
    n = int(used.sum())
    device, direction = ("gear", "down" if down else "up") if gear else ("flaps", "down" if down else "up")
    if n > 1:
        scatter = float(np.std(run.seconds[used] / share[used], ddof=1))
        basis = f"Mean of {n} timings, scatter {scatter:.2f} s; interval from their standard error (Student's t)."
    else:
        basis = (
            f"One timing; its uncertainty is the stated one of a stop-watch, {REACTION_S:g} s of reaction and "
            f"{100 * TRAVEL_SCATTER:.0f} % of the travel (judged, no source)."
        )
    scaled = "" if whole.any() else " Only parts of the travel were timed; scaled to full travel at a steady rate."
    return HandResult(
        f"{device} {direction}",
        f"{device.capitalize()} travel {direction}, full",
        1 if whole.any() else 2,
        False,
        value,
        float("nan"),
        basis + scaled + _outliers(run, share, used, "full travel"),
    )


def _parts(
    run: TransitRun, share: FloatArray, chosen: NDArray[np.bool_], beliefs: Beliefs, full: HandResult
) -> list[HandResult]:
    """Return the time of each part of travel that was timed, and how it fits with the full travel."""
    out = []
    partial = chosen & (share < 0.999)
    legs = sorted({(float(run.from_position[i]), float(run.to_position[i])) for i in np.flatnonzero(partial)})
    for start, end in legs:
        used = partial & (run.from_position == start) & (run.to_position == end)
        part = float(share[used][0])
        value = _mean(run.seconds[used], np.ones(int(used.sum())), run.step_s)
        names = [_named(beliefs, position) for position in (start, end)]
        independent = full.strength == 1 or len(legs) > 1
        out.append(
            HandResult(
                f"flaps {names[0]} to {names[1]}",
                f"Flap travel {names[0]} to {names[1]}",
                2,
                False,
                value,
                float("nan"),
                f"{100 * part:.0f} % of the travel."
                + (_steadiness(value, part, full.value) if independent else "")
                + _outliers(run, np.where(used, 1.0, share), used, "time"),
            )
        )
    return out


def _steadiness(value: Measured, part: float, full: Measured) -> str:
    """Say whether the time of a part agrees with its share of the full-travel time."""
    expected = part * full.value
    doubt = math.hypot(
        coverage_factor(0.95, value.dof) * value.standard_uncertainty,
        part * coverage_factor(0.95, full.dof) * full.standard_uncertainty,
    )
    away = value.value - expected
    verdict = (
        "agrees within the uncertainty"
        if abs(away) <= doubt
        else f"is {abs(away):.1f} s {'less' if away > 0.0 else 'more'}: the rate is not steady"
    )
    return f" At a steady rate the full-travel time would give {expected:.1f} s, which {verdict}."


def _named(beliefs: Beliefs, position: float) -> str:
    nearest = min(beliefs.settings, key=lambda s: abs(s.angle_rad - position))
    return nearest.name if nearest.angle_rad == position else f"{position / DEGREE:.0f} deg"
