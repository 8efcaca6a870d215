"""Indicated, calibrated, equivalent and true airspeed, position error, load factor and stall speed.

The chain is: indicated (IAS), plus the position-error correction, is calibrated (CAS); calibrated, corrected
for compressibility at altitude, is equivalent (EAS); equivalent over the square root of the density ratio is
true (TAS). Instrument error belongs to the one instrument and is not part of this module.

Relations are those of subsonic compressible flow with a ratio of specific heats of 1.4 (nomenclature of NACA
Report 837; the report number is from memory). Every function takes one value or an array; with several
arguments, pass an array first if any is an array.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from wringout.atmosphere import (
    SEA_LEVEL_DENSITY_KGM3,
    SEA_LEVEL_PRESSURE_PA,
    SEA_LEVEL_TEMPERATURE_K,
    pressure_pa,
    speed_of_sound_mps,
    temperature_k,
)
from wringout.errors import BadInputError
from wringout.units import FloatArray, Values, shaped_like

SEA_LEVEL_SPEED_OF_SOUND_MPS = speed_of_sound_mps(SEA_LEVEL_TEMPERATURE_K)
"""Standard speed of sound at sea level [m/s]: 340.294."""


def _subsonic(value: float | FloatArray, highest: float, name: str) -> FloatArray:
    """Return the values as an array after checking that none is negative, missing or supersonic."""
    array = np.asarray(value, dtype=np.float64)
    wrong = ~((array >= 0.0) & (array <= highest))
    if wrong.any():
        place = f"value {int(np.flatnonzero(wrong)[0]) + 1} of {array.size}" if array.ndim else ""
        raise BadInputError(
            f"{name} {float(np.ravel(array[wrong])[0]):.6g} is not a subsonic speed",
            place,
            f"it must lie between 0 and {highest:.5g}",
        )
    return array


def _excess_pressure_ratio(mach: FloatArray) -> FloatArray:
    """Return ``(1 + 0.2 M^2)^3.5 - 1`` without loss of digits at low speed."""
    return np.asarray(np.expm1(3.5 * np.log1p(0.2 * mach**2)))


def _mach(excess: FloatArray) -> FloatArray:
    """Return ``M`` for ``(1 + 0.2 M^2)^3.5 - 1``, the inverse of `_excess_pressure_ratio`."""
    return np.asarray(np.sqrt(5.0 * np.expm1(np.log1p(excess) / 3.5)))


def impact_pressure_pa(calibrated_airspeed_mps: Values) -> Values:
    """Return the impact pressure [Pa] at a calibrated airspeed [m/s].

    ``q_c = p0 [(1 + 0.2 (V/a0)^2)^3.5 - 1]``.

    Raises:
        BadInputError: a speed is negative or above the sea-level speed of sound.
    """
    v = _subsonic(calibrated_airspeed_mps, SEA_LEVEL_SPEED_OF_SOUND_MPS, "calibrated airspeed [m/s]")
    q = SEA_LEVEL_PRESSURE_PA * _excess_pressure_ratio(v / SEA_LEVEL_SPEED_OF_SOUND_MPS)
    return shaped_like(q, calibrated_airspeed_mps)


def _calibrated(impact: FloatArray) -> FloatArray:
    return SEA_LEVEL_SPEED_OF_SOUND_MPS * _mach(impact / SEA_LEVEL_PRESSURE_PA)


def mach_from_calibrated(calibrated_airspeed_mps: Values, pressure_altitude_m: Values | float) -> Values:
    """Return the Mach number [1] at a calibrated airspeed [m/s] and pressure altitude [m].

    ``M = sqrt(5 [(q_c/p + 1)^(2/7) - 1])``.

    Raises:
        BadInputError: the speed is negative or supersonic, or the altitude out of range.
    """
    q = np.asarray(impact_pressure_pa(calibrated_airspeed_mps))
    mach = _subsonic(_mach(q / _pressure(pressure_altitude_m)), 1.0, "Mach number")
    return shaped_like(mach, calibrated_airspeed_mps)


def true_from_calibrated(
    calibrated_airspeed_mps: Values,
    pressure_altitude_m: Values | float,
    isa_deviation_k: Values | float = 0.0,
) -> Values:
    """Return the true airspeed [m/s], ``V = M a(T)``.

    Args:
        calibrated_airspeed_mps: [m/s].
        pressure_altitude_m: [m].
        isa_deviation_k: air temperature less the standard one [K].

    Raises:
        BadInputError: the speed is negative or supersonic, or altitude or temperature out of range.
    """
    mach = np.asarray(mach_from_calibrated(calibrated_airspeed_mps, pressure_altitude_m))
    sound = _speed_of_sound(pressure_altitude_m, isa_deviation_k)
    return shaped_like(mach * sound, calibrated_airspeed_mps)


def _speed_of_sound(pressure_altitude_m: float | FloatArray, isa_deviation_k: float | FloatArray) -> FloatArray:
    if isinstance(pressure_altitude_m, float) and isinstance(isa_deviation_k, float):
        return np.asarray(_speed_of_sound_in(pressure_altitude_m, isa_deviation_k))
    altitude = np.asarray(pressure_altitude_m, dtype=np.float64)
    return np.asarray(speed_of_sound_mps(np.asarray(temperature_k(altitude, np.asarray(isa_deviation_k)))))


@lru_cache(maxsize=1024)
def _speed_of_sound_in(pressure_altitude_m: float, isa_deviation_k: float) -> float:
    """Return it in one piece of air [m/s]: a fit asks for that of the same few runs thousands of times."""
    return float(speed_of_sound_mps(temperature_k(pressure_altitude_m, isa_deviation_k)))


def _pressure(pressure_altitude_m: float | FloatArray) -> FloatArray:
    if isinstance(pressure_altitude_m, float):
        return np.asarray(_pressure_at(pressure_altitude_m))
    return np.asarray(pressure_pa(np.asarray(pressure_altitude_m, dtype=np.float64)))


@lru_cache(maxsize=1024)
def _pressure_at(pressure_altitude_m: float) -> float:
    return float(pressure_pa(pressure_altitude_m))


def calibrated_from_true(
    true_airspeed_mps: Values,
    pressure_altitude_m: Values | float,
    isa_deviation_k: Values | float = 0.0,
) -> Values:
    """Return the calibrated airspeed [m/s], the inverse of `true_from_calibrated`.

    Args:
        true_airspeed_mps: [m/s].
        pressure_altitude_m: [m].
        isa_deviation_k: air temperature less the standard one [K].

    Raises:
        BadInputError: the speed is negative or supersonic, or altitude or temperature out of range.
    """
    ratio = np.asarray(true_airspeed_mps) / _speed_of_sound(pressure_altitude_m, isa_deviation_k)
    return _calibrated_from_mach(ratio, pressure_altitude_m, true_airspeed_mps)


def _calibrated_from_mach(mach: FloatArray, pressure_altitude_m: float | FloatArray, like: Values) -> Values:
    excess = _excess_pressure_ratio(_subsonic(mach, 1.0, "Mach number"))
    impact = _pressure(pressure_altitude_m) * excess
    return shaped_like(_calibrated(impact), like)


def equivalent_from_true(true_airspeed_mps: Values, density_kgm3: Values | float) -> Values:
    """Return the equivalent airspeed [m/s] at a true airspeed [m/s] and air density [kg/m3].

    ``V_e = V sqrt(rho/rho0)``.

    Raises:
        BadInputError: a density is not positive.
    """
    return shaped_like(np.asarray(true_airspeed_mps) * _root_sigma(density_kgm3), true_airspeed_mps)


def true_from_equivalent(equivalent_airspeed_mps: Values, density_kgm3: Values | float) -> Values:
    """Return the true airspeed [m/s] at an equivalent airspeed [m/s] and air density [kg/m3].

    Raises:
        BadInputError: a density is not positive.
    """
    return shaped_like(np.asarray(equivalent_airspeed_mps) / _root_sigma(density_kgm3), equivalent_airspeed_mps)


def _root_sigma(density_kgm3: float | FloatArray) -> FloatArray:
    density = np.asarray(density_kgm3, dtype=np.float64)
    if not np.all(density > 0.0):
        raise BadInputError("an air density is not positive", "", "sea level has about 1.2 kg/m3")
    return np.asarray(np.sqrt(density / SEA_LEVEL_DENSITY_KGM3))


def equivalent_from_calibrated(calibrated_airspeed_mps: Values, pressure_altitude_m: Values | float) -> Values:
    """Return the equivalent airspeed [m/s] at a calibrated airspeed [m/s] and pressure altitude [m].

    ``V_e = a0 M sqrt(p/p0)``; the temperature cancels.

    Raises:
        BadInputError: the speed is negative or supersonic, or the altitude out of range.
    """
    mach = np.asarray(mach_from_calibrated(calibrated_airspeed_mps, pressure_altitude_m))
    return shaped_like(mach * _sound_times_root_delta(pressure_altitude_m), calibrated_airspeed_mps)


def calibrated_from_equivalent(equivalent_airspeed_mps: Values, pressure_altitude_m: Values | float) -> Values:
    """Return the calibrated airspeed [m/s] at an equivalent airspeed [m/s] and pressure altitude [m].

    Raises:
        BadInputError: the speed is negative or supersonic, or the altitude out of range.
    """
    mach = np.asarray(equivalent_airspeed_mps) / _sound_times_root_delta(pressure_altitude_m)
    return _calibrated_from_mach(mach, pressure_altitude_m, equivalent_airspeed_mps)


def _sound_times_root_delta(pressure_altitude_m: float | FloatArray) -> FloatArray:
    pressure = _pressure(pressure_altitude_m)
    return np.asarray(SEA_LEVEL_SPEED_OF_SOUND_MPS * np.sqrt(pressure / SEA_LEVEL_PRESSURE_PA))


@dataclass(frozen=True, slots=True)
class PositionErrorRow:
    """The position-error correction in one configuration, a polyline over indicated airspeed.

    Attributes:
        flap_deg: flap angle [deg].
        gear: gear position, 0 up to 1 down.
        indicated_mps: indicated airspeeds [m/s], rising, at least one.
        correction_mps: what to add to each indicated airspeed to get calibrated airspeed [m/s].

    Raises:
        BadInputError: lengths differ, speeds do not rise, a number is not finite, or calibrated airspeed
            would not rise with indicated airspeed.
    """

    flap_deg: float
    gear: float
    indicated_mps: tuple[float, ...]
    correction_mps: tuple[float, ...]

    def __post_init__(self) -> None:
        """Check the row, so that no later use can meet a broken one."""
        where = f"position error, flaps {self.flap_deg:g} deg, gear {self.gear:g}"
        if not self.indicated_mps or len(self.indicated_mps) != len(self.correction_mps):
            what = f"{len(self.indicated_mps)} speeds have {len(self.correction_mps)} corrections"
            raise BadInputError(what, where, "give one correction for each indicated airspeed, at least one")
        if not np.all(np.isfinite([self.flap_deg, self.gear, *self.indicated_mps, *self.correction_mps])):
            raise BadInputError("a number is missing or not finite", where, "give every speed and correction")
        if np.any(np.diff(self.indicated_mps) <= 0.0):
            raise BadInputError("the indicated airspeeds do not rise", where, "list them from low to high, once each")
        if np.any(np.diff(np.add(self.indicated_mps, self.correction_mps)) <= 0.0):
            what = "calibrated airspeed does not rise with indicated airspeed"
            raise BadInputError(what, where, "check the corrections and their signs; each is CAS minus IAS")


@dataclass(frozen=True, slots=True)
class PositionErrorTable:
    """The airspeed calibration of an airplane: one row for each configuration it was given for.

    Between the speeds of a row the correction is interpolated linearly; beyond its ends the end is held.

    A configuration without a row of its own takes the row of the nearest lower one: among the rows whose flap
    angle and gear position are both no greater than asked for, the largest flap angle, then the largest gear
    position (the flap first, because it changes the pressure field at the static source more; our choice,
    no source). A table without rows says that no correction is known, and takes calibrated as equal
    to indicated.
    """

    rows: tuple[PositionErrorRow, ...] = ()

    def row_for(self, flap_deg: float, gear: float) -> PositionErrorRow | None:
        """Return the row used at a flap angle [deg] and gear position (0 to 1), None from an empty table.

        Raises:
            BadInputError: the table has rows, but none at or below this configuration.
        """
        if not self.rows:
            return None
        lower = [row for row in self.rows if row.flap_deg <= flap_deg + 1e-6 and row.gear <= gear + 1e-6]
        if not lower:
            raise BadInputError(
                f"no row covers flaps {flap_deg:g} deg with gear {gear:g}",
                "position error",
                "add a row for the clean airplane, flaps and gear up",
            )
        return max(lower, key=lambda row: (row.flap_deg, row.gear))


NO_POSITION_ERROR = PositionErrorTable()
"""A table that takes calibrated as equal to indicated airspeed."""


def calibrated_from_indicated(
    indicated_airspeed_mps: Values, table: PositionErrorTable, flap_deg: float = 0.0, gear: float = 0.0
) -> Values:
    """Return the calibrated airspeed [m/s] at an indicated airspeed [m/s] in a configuration.

    Args:
        indicated_airspeed_mps: [m/s].
        table: the airspeed calibration of the airplane.
        flap_deg: flap angle [deg].
        gear: gear position, 0 up to 1 down.

    Raises:
        BadInputError: the table has no row at or below the configuration.
    """
    row = table.row_for(flap_deg, gear)
    indicated = np.asarray(indicated_airspeed_mps, dtype=np.float64)
    if row is None:
        return shaped_like(indicated, indicated_airspeed_mps)
    correction = np.interp(indicated, row.indicated_mps, row.correction_mps)
    return shaped_like(indicated + correction, indicated_airspeed_mps)


def indicated_from_calibrated(
    calibrated_airspeed_mps: Values, table: PositionErrorTable, flap_deg: float = 0.0, gear: float = 0.0
) -> Values:
    """Return the indicated airspeed [m/s], the exact inverse of `calibrated_from_indicated`.

    Between the points of a row the correction is linear in calibrated airspeed too, so nothing is iterated.

    Args:
        calibrated_airspeed_mps: [m/s].
        table: the airspeed calibration of the airplane.
        flap_deg: flap angle [deg].
        gear: gear position, 0 up to 1 down.

    Raises:
        BadInputError: the table has no row at or below the configuration.
    """
    row = table.row_for(flap_deg, gear)
    calibrated = np.asarray(calibrated_airspeed_mps, dtype=np.float64)
    if row is None:
        return shaped_like(calibrated, calibrated_airspeed_mps)
    points = np.add(row.indicated_mps, row.correction_mps)
    correction = np.interp(calibrated, points, row.correction_mps)
    return shaped_like(calibrated - correction, calibrated_airspeed_mps)


def load_factor(bank_rad: Values) -> Values:
    """Return the load factor [1] of a level turn at a bank angle [rad], ``1 / cos(bank)``.

    Raises:
        BadInputError: the bank is 90 degrees or more either way.

    References:
        FAA-H-8083-25, Pilot's Handbook of Aeronautical Knowledge, load-factor chart.
    """
    bank = np.asarray(bank_rad, dtype=np.float64)
    if not np.all(np.abs(bank) < np.pi / 2.0):
        raise BadInputError("no level turn has a bank of 90 degrees or more", "", "give the bank angle in radians")
    return shaped_like(np.asarray(1.0 / np.cos(bank)), bank_rad)


def stall_speed_at(
    reference_stall_speed_mps: Values,
    reference_mass_kg: float,
    mass_kg: Values | float,
    load_factor: Values | float = 1.0,
) -> Values:
    """Return the stall speed at a mass and load factor, ``Vs sqrt(n m / m_ref)``.

    Args:
        reference_stall_speed_mps: stall speed at one g and the reference mass, calibrated or equivalent
            [m/s].
        reference_mass_kg: [kg].
        mass_kg: [kg].
        load_factor: [1].

    Returns:
        Stall speed [m/s], calibrated or equivalent as the reference.

    Raises:
        BadInputError: a mass is not positive or a load factor negative.
    """
    mass = np.asarray(mass_kg, dtype=np.float64)
    factor = np.asarray(load_factor, dtype=np.float64)
    if not (reference_mass_kg > 0.0 and np.all(mass > 0.0) and np.all(factor >= 0.0)):
        raise BadInputError("a mass is not positive or a load factor is negative", "stall speed", "check both masses")
    speed = np.asarray(reference_stall_speed_mps) * np.sqrt(factor * mass / reference_mass_kg)
    return shaped_like(speed, reference_stall_speed_mps)
