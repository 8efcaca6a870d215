"""Stall series: stall speeds read for several flap settings, power off, wings level.

Each reading is one stall: flap setting, indicated airspeed at the stall, how fast the speed was bled off, and weight.
The usual entry rate is 1 kt/s (14 CFR 23.201(b), legacy: not more than 1 kt/s; 23.49, legacy, for the stalling speed);
a faster entry reads lower. A centre of gravity ahead of the reference reads higher, since the tail pushes down more: it
is brought to the reference where the words give the tail arm. Stalls with power on are reduced by hand alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.forces import stall_speed
from wringout.airplane.limits import Exceedance
from wringout.airspeed import calibrated_from_indicated, calibrated_from_true, indicated_from_calibrated
from wringout.atmosphere import density_kgm3
from wringout.errors import BadInputError
from wringout.methods.setup_words import conditions_of, flap_setting, gear_position, quantity, with_columns, words_of
from wringout.methods.stall_series.by_hand import Stalls, hand_results
from wringout.methods.stall_series.extras import (
    NO_EXTRAS,
    StallExtras,
    extras_of,
    secondary_stalls,
    warning_results,
    with_power,
)
from wringout.methods.stall_series.logged import is_logged, logged_configuration, logged_stalls
from wringout.methods.stall_series.words import power_on, stall_card, stall_guard
from wringout.methods.types import (
    Card,
    Conditions,
    FloatArray,
    GuardNotice,
    HandResult,
    IntArray,
    Method,
    Nuisance,
    Source,
)
from wringout.recordings.types import Recording
from wringout.units import DEGREE, KNOT, MILE_PER_HOUR, STANDARD_GRAVITY

KEY = "stall series"
STANDARD_ENTRY_RATE_MPS2 = 1.0 * KNOT
"""Entry rate at which stall speeds are quoted, 1 kt/s (14 CFR 23.201(b), legacy)."""
REPEATABILITY_MPS = 1.0 * KNOT
"""Standard deviation of one stall about the next beside the dial's own (judged, no source) [m/s]."""


@dataclass(frozen=True, slots=True)
class StallRun:
    """Stalls of one recording, arrays of shape (n,).

    ``gear`` is 0 up to 1 down, ``entry_rate_mps2`` positive for a falling speed. ``mass_kg`` is as stated.
    ``whole_units_mps`` is the step the dial was read to.
    """

    key: str
    title: str
    source: Source
    conditions: Conditions
    flap_rad: FloatArray
    gear: FloatArray
    ias_mps: FloatArray
    entry_rate_mps2: FloatArray
    mass_kg: FloatArray
    rows: IntArray
    whole_units_mps: float = KNOT
    method: str = KEY
    extras: StallExtras = NO_EXTRAS

    @property
    def flown_rows(self) -> IntArray:
        """Rows of the stalls that were flown; ``rows`` is empty where power was on, which the fit knows nothing of."""
        return self.extras.rows if self.extras.power_words else self.rows


class StallSeries:
    """The method object; see :class:`wringout.methods.types.Method`."""

    key = KEY
    title = "Stall series"
    observed_unit = "kt"
    ignores = (
        frozenset(range(v.SIZE))
        - {v.WING_AREA, v.STALL_RATE_SLOPE, v.IAS_BIAS, v.MASS_FACTOR, v.SETTINGS}
        - set(range(v.ANGLES, v.ANGLES + v.MAX_SETTINGS))
        - set(range(v.CL_MAXES, v.CL_MAXES + v.MAX_SETTINGS))
    )

    def from_recording(self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs) -> list[StallRun]:
        """Build the run from the columns flap and speed, and entry rate, weight and gear where they are written.

        A blank entry rate is 1 kt/s, a blank weight or gear is that of the header. In a log the stalls are looked for,
        see :mod:`wringout.methods.stall_series.logged`. Raises BadInputError.
        """
        words, name = words_of(recording, setup), recording.name
        powered = power_on(words)
        if is_logged(recording):
            return [_from_log(key, recording, with_columns(words, recording), powered, beliefs)]
        flaps = recording.texts.get("flap", ())
        if not any(flaps):
            raise BadInputError(
                "a stall series needs the columns flap and speed",
                name,
                'write rows such as "full, 48" below "flap, speed", or log the speed each second',
            )
        everything = _column(recording, "ias", np.arange(len(recording)))
        secondary = secondary_stalls(recording)
        good = np.flatnonzero(np.isfinite(everything) & ~secondary)
        if not good.size:
            raise BadInputError(
                "no row has a stall speed",
                f"{name}, speed",
                "give at least one; a column whose unit is in question is not used until that is answered",
            )
        rows, speeds = recording.rows[good], everything[good]
        conditions, mass = _weights(recording, good, words, beliefs)
        gears = _gears(recording, good, words, beliefs)
        rate = _column(recording, "entry_rate", good)
        usual = (
            abs(quantity(words, "entry rate", "acceleration", name, "1 kt/s"))
            if "entry rate" in words
            else STANDARD_ENTRY_RATE_MPS2
        )
        return [
            StallRun(
                key=key,
                title=_title(good.size, powered, int(np.sum(secondary & np.isfinite(everything)))),
                source=Source(recording.sha256, name),
                conditions=conditions,
                flap_rad=np.array(
                    [
                        flap_setting(flaps[i], beliefs, f"{name}, row {int(recording.rows[i])}, flap").angle_rad
                        for i in good
                    ]
                ),
                gear=gears,
                ias_mps=speeds,
                entry_rate_mps2=np.where(np.isfinite(rate), rate, usual),
                mass_kg=mass,
                rows=rows[:0] if powered else rows,
                whole_units_mps=_step_of(speeds),
                extras=extras_of(recording, good, words, powered),
            )
        ]

    def exceedances(self, run: StallRun, beliefs: Beliefs) -> list[Exceedance]:
        """Return the limit speeds that a stall reading went beyond, which speaks of a wrong reading."""
        found = []
        for i, speed in enumerate(run.ias_mps):
            setting = min(beliefs.settings, key=lambda s: abs(s.angle_rad - float(run.flap_rad[i])))
            checks = [
                ("VNE", beliefs.limits.never_exceed_mps),
                (f"VFE ({setting.name})", beliefs.limits.flap_limit(setting.name)),
            ]
            if run.gear[i] > 0.0:
                checks.append(("VLE", beliefs.limits.gear_extended_mps))
            found += [
                Exceedance(label, limit, float(speed), int(run.rows[i]))
                for label, limit in checks
                if limit is not None and speed > limit + 0.25 * KNOT
            ]
        return found

    def nuisances(self, run: StallRun, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Return nothing: what stalls share (bias, weight, entry-rate slope) belongs to the airplane."""
        return ()

    def observed(self, run: StallRun) -> FloatArray:
        """Return indicated stall speeds, m/s."""
        return run.ias_mps[:0] if run.extras.power_words else run.ias_mps

    def predict(self, run: StallRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the indicated stall speeds of the candidate, m/s.

        ``sqrt(2 W / (rho S CLmax))``, times ``1 + c (rate - 1 kt/s)``, through position error and indicator bias.
        """
        if run.extras.power_words:
            return np.zeros(0)
        return self._power_off(run, row, beliefs)

    def _power_off(self, run: StallRun, row: FloatArray, beliefs: Beliefs) -> FloatArray:
        air = run.conditions
        density = float(density_kgm3(air.pressure_altitude_m, air.isa_deviation_k))
        weight = run.mass_kg * row[v.MASS_FACTOR] * STANDARD_GRAVITY
        stalls = np.array([stall_speed(row, w, density, f) for w, f in zip(weight, run.flap_rad, strict=True)])
        stalls *= 1.0 + row[v.STALL_RATE_SLOPE] * (run.entry_rate_mps2 - STANDARD_ENTRY_RATE_MPS2)
        if run.extras.cg_factor.size:
            stalls *= run.extras.cg_factor
        calibrated = calibrated_from_true(stalls, air.pressure_altitude_m, air.isa_deviation_k)
        return _in_configurations(run, calibrated, beliefs, to_indicated=True) + float(row[v.IAS_BIAS])

    def reading_sd(self, run: StallRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the standard deviation of each reading, m/s: dial, its whole units, and one stall to the next."""
        return np.full(self.observed(run).size, _reading_sd(run, beliefs))

    def residuals(self, run: StallRun, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return (observed - predicted) / sd, shape (n,)."""
        return (self.observed(run) - self.predict(run, row, nuisance, beliefs)) / _reading_sd(run, beliefs)

    def by_hand(self, run: StallRun, beliefs: Beliefs) -> list[HandResult]:
        """Return stall speed and CLmax per setting at maximum weight and 1 kt/s, and what flap travel buys."""
        stalls = Stalls(
            flap_rad=run.flap_rad,
            calibrated_mps=_in_configurations(run, run.ias_mps, beliefs, to_indicated=False) / _cg_factor(run),
            entry_rate_mps2=run.entry_rate_mps2,
            mass_kg=run.mass_kg,
            pressure_altitude_m=run.conditions.pressure_altitude_m,
            isa_deviation_k=run.conditions.isa_deviation_k,
            reading_sd_mps=_reading_sd(run, beliefs),
            step_mps=run.whole_units_mps,
            standard_rate_mps2=STANDARD_ENTRY_RATE_MPS2,
        )
        warnings = warning_results(run.extras, run.flap_rad, run.ias_mps, beliefs)
        return [*with_power(hand_results(stalls, beliefs), run.extras.power_words), *warnings]

    def simulate(self, run: StallRun, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator) -> StallRun:
        """Return the stalls as the airplane would give them, with dial noise, repeatability and whole units."""
        speeds = self._power_off(run, row, beliefs)
        noise = np.hypot(beliefs.instrument.reading_sd_mps, REPEATABILITY_MPS)
        read = speeds + rng.normal(0.0, noise, speeds.size)
        if run.whole_units_mps > 0.0:
            read = np.round(read / run.whole_units_mps) * run.whole_units_mps
        return replace(run, ias_mps=read)

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card of a stall series."""
        return stall_card(beliefs, words)

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold the planned height, weight and entry speed against floor and limits."""
        return stall_guard(beliefs, words)


METHOD: Method = StallSeries()


def _from_log(key: str, recording: Recording, words: dict[str, str], powered: str, beliefs: Beliefs) -> StallRun:
    """Return the stalls found in a log, each with the entry rate it was flown at."""
    found = logged_stalls(recording)
    flaps, gears = logged_configuration(recording, found.at, words, beliefs)
    conditions, mass = _weights(recording, found.at, words, beliefs)
    speeds = recording.channels["ias"].values
    rows = recording.rows[found.at]
    return StallRun(
        key=key,
        title=_title(found.at.size, powered, found.secondary),
        source=Source(recording.sha256, recording.name),
        conditions=conditions,
        flap_rad=flaps,
        gear=gears,
        ias_mps=speeds[found.at],
        entry_rate_mps2=found.entry_rate_mps2,
        mass_kg=mass,
        rows=rows[:0] if powered else rows,
        whole_units_mps=_step_of(speeds[np.isfinite(speeds)]),
        extras=extras_of(recording, found.at, words, powered),
    )


def _reading_sd(run: StallRun, beliefs: Beliefs) -> float:
    dial, step = beliefs.instrument.reading_sd_mps, run.whole_units_mps
    return float(np.sqrt(dial**2 + step**2 / 12.0 + REPEATABILITY_MPS**2))


def _in_configurations(run: StallRun, speeds_mps: FloatArray, beliefs: Beliefs, *, to_indicated: bool) -> FloatArray:
    """Return calibrated speeds as indicated ones, or the other way, each through its configuration's position error."""
    convert = indicated_from_calibrated if to_indicated else calibrated_from_indicated
    out = np.empty_like(speeds_mps)
    for flap, gear in {(float(f), float(g)) for f, g in zip(run.flap_rad, run.gear, strict=True)}:
        where = (run.flap_rad == flap) & (run.gear == gear)
        out[where] = convert(speeds_mps[where], beliefs.instrument.position_error, flap / DEGREE, gear)
    return out


def _cg_factor(run: StallRun) -> FloatArray:
    return run.extras.cg_factor if run.extras.cg_factor.size else np.ones(run.ias_mps.size)


def _title(count: int, powered: str, left_out: int) -> str:
    flown = f"{count} stall{'s' if count != 1 else ''}, power {powered or 'off'}"
    if not left_out:
        return flown
    return f"{flown}; {left_out} secondary stall{'s' if left_out != 1 else ''} left out"


def _step_of(speeds_mps: FloatArray) -> float:
    """Return the step readings were taken to, whole knots, mph or km/h, or 0."""
    for unit in (KNOT, MILE_PER_HOUR, 1.0 / 3.6):
        if np.allclose(speeds_mps / unit, np.round(speeds_mps / unit), atol=1e-3):
            return unit
    return 0.0


def _column(recording: Recording, name: str, good: np.ndarray) -> FloatArray:
    channel = recording.channels.get(name)
    return np.full(good.size, np.nan) if channel is None else channel.values[good]


def _weights(
    recording: Recording, good: np.ndarray, words: Mapping[str, str], beliefs: Beliefs
) -> tuple[Conditions, FloatArray]:
    """Return air, and the mass of each stall: its own, else that of the header."""
    mass = _column(recording, "mass", good)
    heaviest = beliefs.limits.max_mass_kg
    likely = ~(mass < 0.2 * heaviest) & ~(mass > 1.5 * heaviest)
    if not likely.all():
        i = int(np.flatnonzero(~likely)[0])
        raise BadInputError(
            f"{mass[i]:.0f} kg is not a likely weight for this airplane",
            f"{recording.name}, row {int(recording.rows[good[i]])}, weight",
            "give the weight at the stall, in lb or kg",
        )
    known = np.isfinite(mass)
    if "weight" not in words and known.all():
        words = {**words, "weight": f"{float(np.mean(mass)):.6f} kg"}
    conditions = conditions_of(words, recording.name, heaviest)
    return conditions, np.where(known, mass, conditions.mass_kg)


def _gears(recording: Recording, good: np.ndarray, words: Mapping[str, str], beliefs: Beliefs) -> FloatArray:
    """Return the gear position of each stall: its own, else that of the header, else up; 0 for a fixed gear."""
    usual = words.get("gear", words.get("entry gear", "up"))
    written = recording.texts.get("gear", ())
    out = []
    for i in good:
        own = written[i] if written and written[i] else ""
        where = f"{recording.name}, row {int(recording.rows[i])}, gear" if own else f"{recording.name}, gear"
        out.append(gear_position(own or usual, where) if beliefs.retractable else 0.0)
    return np.array(out)
