"""The standard atmosphere up to 20 km, pressure altitude, density altitude and the speed of sound.

Values are those of ICAO Doc 7488/3 (Manual of the ICAO Standard Atmosphere), which agree with the U.S.
Standard Atmosphere 1976 (NASA-TM-X-74335) in this range.

Altitudes are *pressure altitudes*, that is geopotential heights in the standard atmosphere. Many tables and
libraries take the geometric height above mean sea level instead; `geopotential_from_geometric_m` converts.

A temperature that differs from the standard one (the *ISA deviation*) leaves the pressure at a pressure
altitude as it is and changes the density. Air is dry throughout.

Every function takes one value or an array. With several arguments, pass an array first if any is an array.
"""

from __future__ import annotations

import numpy as np

from wringout.errors import BadInputError
from wringout.units import STANDARD_GRAVITY, FloatArray, Values, shaped_like

SEA_LEVEL_TEMPERATURE_K = 288.15
"""Standard temperature at sea level [K] (ICAO Doc 7488/3)."""
SEA_LEVEL_PRESSURE_PA = 101325.0
"""Standard pressure at sea level [Pa] (ICAO Doc 7488/3)."""
GAS_CONSTANT_AIR = 287.05287
"""Specific gas constant of dry air [J/(kg K)] (ICAO Doc 7488/3)."""
LAPSE_RATE_K_PER_M = 0.0065
"""Fall of temperature with geopotential height in the troposphere [K/m] (ICAO Doc 7488/3)."""
HEAT_RATIO_AIR = 1.4
"""Ratio of specific heats of air [1] (ICAO Doc 7488/3)."""
TROPOPAUSE_M = 11_000.0
"""Geopotential height of the tropopause [m] (ICAO Doc 7488/3)."""
TROPOPAUSE_TEMPERATURE_K = SEA_LEVEL_TEMPERATURE_K - LAPSE_RATE_K_PER_M * TROPOPAUSE_M
"""Standard temperature from the tropopause to 20 km [K]: 216.65 K."""
LOWEST_ALTITUDE_M = -5_000.0
"""Lowest altitude accepted [m], where the tables of the standard begin."""
HIGHEST_ALTITUDE_M = 20_000.0
"""Highest altitude accepted [m], the top of the isothermal layer."""
EARTH_RADIUS_M = 6_356_766.0
"""Nominal radius of the earth for geopotential height [m] (U.S. Standard Atmosphere 1976)."""
SEA_LEVEL_DENSITY_KGM3 = SEA_LEVEL_PRESSURE_PA / (GAS_CONSTANT_AIR * SEA_LEVEL_TEMPERATURE_K)
"""Standard density at sea level [kg/m3]: 1.225."""

_EXPONENT = STANDARD_GRAVITY / (GAS_CONSTANT_AIR * LAPSE_RATE_K_PER_M)
_SCALE_HEIGHT_M = GAS_CONSTANT_AIR * TROPOPAUSE_TEMPERATURE_K / STANDARD_GRAVITY


def _within(values: float | FloatArray, lowest: float, highest: float, name: str, unit: str) -> FloatArray:
    """Return the values as an array after checking that each lies between two bounds."""
    array = np.asarray(values, dtype=np.float64)
    outside = ~((array >= lowest) & (array <= highest))
    if outside.any():
        place = f"value {int(np.flatnonzero(outside)[0]) + 1} of {array.size}" if array.ndim else ""
        worst = float(array[outside][0]) if array.ndim else float(array)
        raise BadInputError(
            f"{name} {worst:.10g} {unit} is outside the range of the standard atmosphere used here",
            place,
            f"it must lie between {lowest:.6g} and {highest:.6g} {unit}",
        )
    return array


def _altitude(pressure_altitude_m: float | FloatArray) -> FloatArray:
    return _within(pressure_altitude_m, LOWEST_ALTITUDE_M, HIGHEST_ALTITUDE_M, "altitude", "m")


def _temperature(temperature_k: float | FloatArray) -> FloatArray:
    return _within(temperature_k, 150.0, 350.0, "air temperature", "K")


def standard_temperature_k(pressure_altitude_m: Values) -> Values:
    """Return the standard temperature [K] at a pressure altitude [m].

    Raises:
        BadInputError: an altitude is outside -5,000 to 20,000 m.
    """
    h = _altitude(pressure_altitude_m)
    t = SEA_LEVEL_TEMPERATURE_K - LAPSE_RATE_K_PER_M * np.minimum(h, TROPOPAUSE_M)
    return shaped_like(t, pressure_altitude_m)


def pressure_pa(pressure_altitude_m: Values) -> Values:
    """Return the static pressure [Pa] at a pressure altitude [m].

    ``p = p0 (1 - L h / T0)^(g0 / R L)`` below the tropopause, ``p = p_t exp(-g0 (h - h_t) / R T_t)`` above.

    Raises:
        BadInputError: an altitude is outside -5,000 to 20,000 m.

    References:
        ICAO Doc 7488/3; U.S. Standard Atmosphere 1976, equations 33a and 33b.
    """
    h = _altitude(pressure_altitude_m)
    theta = 1.0 - LAPSE_RATE_K_PER_M * np.minimum(h, TROPOPAUSE_M) / SEA_LEVEL_TEMPERATURE_K
    isothermal = np.exp(-np.maximum(h - TROPOPAUSE_M, 0.0) / _SCALE_HEIGHT_M)
    return shaped_like(SEA_LEVEL_PRESSURE_PA * theta**_EXPONENT * isothermal, pressure_altitude_m)


_TROPOPAUSE_PRESSURE_PA = pressure_pa(TROPOPAUSE_M)
_LOWEST_PRESSURE_PA = pressure_pa(HIGHEST_ALTITUDE_M)
_HIGHEST_PRESSURE_PA = pressure_pa(LOWEST_ALTITUDE_M)


def pressure_altitude_m(pressure_pa: Values) -> Values:
    """Return the pressure altitude [m] at which the standard atmosphere has a static pressure [Pa].

    Raises:
        BadInputError: a pressure is outside that of -5,000 to 20,000 m.
    """
    p = _within(pressure_pa, _LOWEST_PRESSURE_PA, _HIGHEST_PRESSURE_PA, "static pressure", "Pa")
    theta = (p / SEA_LEVEL_PRESSURE_PA) ** (1.0 / _EXPONENT)
    below = (1.0 - theta) * SEA_LEVEL_TEMPERATURE_K / LAPSE_RATE_K_PER_M
    above = TROPOPAUSE_M - _SCALE_HEIGHT_M * np.log(p / _TROPOPAUSE_PRESSURE_PA)
    return shaped_like(np.where(p >= _TROPOPAUSE_PRESSURE_PA, below, above), pressure_pa)


def pressure_altitude_from_setting_m(indicated_altitude_m: Values, setting_pa: Values | float) -> Values:
    """Return the pressure altitude [m] from an altimeter reading [m] and the setting in its window [Pa].

    The setting moves the scale of an altimeter by the pressure altitude of the setting; that is what is
    added.

    Raises:
        BadInputError: a setting is outside 850 to 1090 hPa, or the altitude outside -5,000 to 20,000 m.
    """
    setting = _within(setting_pa, 85_000.0, 109_000.0, "altimeter setting", "Pa")
    h = _altitude(np.asarray(indicated_altitude_m, dtype=np.float64) + pressure_altitude_m(setting))
    return shaped_like(h, indicated_altitude_m)


def temperature_k(pressure_altitude_m: Values, isa_deviation_k: Values | float) -> Values:
    """Return the air temperature [K] at a pressure altitude [m] with a deviation from standard [K].

    Raises:
        BadInputError: an altitude is outside -5,000 to 20,000 m, or the temperature outside 150 to 350 K.
    """
    t = _temperature(np.asarray(standard_temperature_k(pressure_altitude_m) + np.asarray(isa_deviation_k)))
    return shaped_like(t, pressure_altitude_m)


def isa_deviation_k(pressure_altitude_m: Values, temperature_k: Values | float) -> Values:
    """Return how much warmer than standard [K] the air is at a pressure altitude [m] and temperature [K].

    Raises:
        BadInputError: an altitude is outside -5,000 to 20,000 m, or the temperature outside 150 to 350 K.
    """
    deviation = _temperature(temperature_k) - np.asarray(standard_temperature_k(pressure_altitude_m))
    return shaped_like(deviation, pressure_altitude_m)


def density_kgm3(pressure_altitude_m: Values, isa_deviation_k: Values | float = 0.0) -> Values:
    """Return the density of dry air [kg/m3], ``p / (R T)``, at a pressure altitude [m] and ISA deviation [K].

    Raises:
        BadInputError: an altitude is outside -5,000 to 20,000 m, or the temperature outside 150 to 350 K.
    """
    t = np.asarray(temperature_k(pressure_altitude_m, isa_deviation_k))
    rho = np.asarray(pressure_pa(pressure_altitude_m)) / (GAS_CONSTANT_AIR * t)
    return shaped_like(rho, pressure_altitude_m)


def density_ratio(pressure_altitude_m: Values, isa_deviation_k: Values | float = 0.0) -> Values:
    """Return density over standard sea-level density [1] at a pressure altitude [m] and ISA deviation [K].

    Raises:
        BadInputError: an altitude is outside -5,000 to 20,000 m, or the temperature outside 150 to 350 K.
    """
    sigma = np.asarray(density_kgm3(pressure_altitude_m, isa_deviation_k)) / SEA_LEVEL_DENSITY_KGM3
    return shaped_like(sigma, pressure_altitude_m)


_TROPOPAUSE_DENSITY_KGM3 = density_kgm3(TROPOPAUSE_M)


def density_altitude_m(pressure_altitude_m: Values, temperature_k: Values | float) -> Values:
    """Return the density altitude [m]: where the standard atmosphere has the density of this (dry) air.

    Args:
        pressure_altitude_m: [m].
        temperature_k: outside air temperature [K].

    Raises:
        BadInputError: altitude, temperature or the density altitude is outside the range of this module.
    """
    t = _temperature(temperature_k)
    rho = np.asarray(pressure_pa(pressure_altitude_m)) / (GAS_CONSTANT_AIR * t)
    theta = (rho / SEA_LEVEL_DENSITY_KGM3) ** (1.0 / (_EXPONENT - 1.0))
    below = (1.0 - theta) * SEA_LEVEL_TEMPERATURE_K / LAPSE_RATE_K_PER_M
    above = TROPOPAUSE_M - _SCALE_HEIGHT_M * np.log(rho / _TROPOPAUSE_DENSITY_KGM3)
    h = np.where(rho >= _TROPOPAUSE_DENSITY_KGM3, below, above)
    h = _within(h, LOWEST_ALTITUDE_M, HIGHEST_ALTITUDE_M, "density altitude", "m")
    return shaped_like(h, pressure_altitude_m)


def speed_of_sound_mps(temperature_k: Values) -> Values:
    """Return the speed of sound [m/s], ``sqrt(gamma R T)``, at an air temperature [K].

    Raises:
        BadInputError: a temperature is outside 150 to 350 K.
    """
    return shaped_like(np.sqrt(HEAT_RATIO_AIR * GAS_CONSTANT_AIR * _temperature(temperature_k)), temperature_k)


def geopotential_from_geometric_m(geometric_m: Values) -> Values:
    """Return the geopotential height [m] of a geometric height above sea level [m], ``H = r z / (r + z)``.

    References:
        U.S. Standard Atmosphere 1976, equation 18.
    """
    z = np.asarray(geometric_m, dtype=np.float64)
    return shaped_like(EARTH_RADIUS_M * z / (EARTH_RADIUS_M + z), geometric_m)


def geometric_from_geopotential_m(geopotential_m: Values) -> Values:
    """Return the geometric height above sea level [m] of a geopotential height [m], ``z = r H / (r - H)``.

    References:
        U.S. Standard Atmosphere 1976, equation 19.
    """
    h = np.asarray(geopotential_m, dtype=np.float64)
    return shaped_like(EARTH_RADIUS_M * h / (EARTH_RADIUS_M - h), geopotential_m)
