"""The standard atmosphere against tables, handbook problems and two independent libraries."""

import ambiance
import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from hypothesis import given
from hypothesis import strategies as st

from wringout.atmosphere import (
    HIGHEST_ALTITUDE_M,
    LOWEST_ALTITUDE_M,
    SEA_LEVEL_DENSITY_KGM3,
    SEA_LEVEL_PRESSURE_PA,
    density_altitude_m,
    density_kgm3,
    density_ratio,
    geometric_from_geopotential_m,
    geopotential_from_geometric_m,
    isa_deviation_k,
    pressure_altitude_from_setting_m,
    pressure_altitude_m,
    pressure_pa,
    speed_of_sound_mps,
    standard_temperature_k,
    temperature_k,
)
from wringout.errors import BadInputError
from wringout.units import FOOT, HECTOPASCAL, INCH_OF_MERCURY, KNOT, to_si

ALTITUDES_M = st.floats(LOWEST_ALTITUDE_M, HIGHEST_ALTITUDE_M)
DEVIATIONS_K = st.floats(-40.0, 40.0)


@pytest.mark.parametrize(
    ("altitude_ft", "temperature", "pressure", "density", "ratio", "sound_kt"),
    [
        # ICAO Doc 7488/3 and U.S. Standard Atmosphere 1976 (NASA-TM-X-74335), geopotential altitude; recomputed
        # outside this project from the constants of the standard.
        (0, 288.15, 101325.0, 1.225, 1.0, 661.479),
        (2000, 284.1876, 94212.9, 1.154897, 0.942773, 656.915),
        (5000, 278.244, 84307.26, 1.055546, 0.86167, 650.009),
        (7000, 274.2816, 78185.36, 0.99304, 0.810645, 645.364),
        (8000, 272.3004, 75262.36, 0.96287, 0.786016, 643.029),
        (10000, 268.338, 69681.64, 0.904637, 0.738479, 638.333),
    ],
)
def test_standard_values(
    altitude_ft: float, temperature: float, pressure: float, density: float, ratio: float, sound_kt: float
) -> None:
    h = altitude_ft * FOOT
    assert standard_temperature_k(h) == pytest.approx(temperature, abs=0.001)  # K
    assert pressure_pa(h) == pytest.approx(pressure, abs=0.5)  # Pa
    assert density_kgm3(h) == pytest.approx(density, abs=2e-6)  # kg/m3
    assert density_ratio(h) == pytest.approx(ratio, abs=2e-6)
    assert speed_of_sound_mps(standard_temperature_k(h)) / KNOT == pytest.approx(sound_kt, abs=0.002)  # kt


@pytest.mark.parametrize(
    ("altitude_ft", "sigma", "delta"),
    [
        # Standard-altitude table of a textbook of flight theory for pilots, printed to four digits.
        (1000, 0.9711, 0.9644),
        (5000, 0.8617, 0.8320),
        (8000, 0.7860, 0.7428),
        (10000, 0.7385, 0.6877),
    ],
)
def test_printed_ratios(altitude_ft: float, sigma: float, delta: float) -> None:
    h = altitude_ft * FOOT
    assert density_ratio(h) == pytest.approx(sigma, abs=6e-5)
    assert pressure_pa(h) / SEA_LEVEL_PRESSURE_PA == pytest.approx(delta, abs=6e-5)


@pytest.mark.parametrize(
    ("altitude_m", "temperature", "pressure"),
    [
        # Printed layer bounds of the ICAO standard atmosphere (Doc 7488): 226.32 hPa at 11 km and 54.75 hPa at 20 km,
        # -56.5 degrees C between them. From memory.
        (11_000.0, 216.65, 22632.0),
        (20_000.0, 216.65, 5475.0),
    ],
)
def test_bounds_of_the_isothermal_layer(altitude_m: float, temperature: float, pressure: float) -> None:
    assert standard_temperature_k(altitude_m) == pytest.approx(temperature, abs=1e-9)
    assert pressure_pa(altitude_m) == pytest.approx(pressure, abs=0.6)


@pytest.mark.parametrize(
    ("setting_inhg", "correction_ft"),
    [
        # FAA-H-8083-25, figure of pressure-altitude corrections by altimeter setting.
        (30.10, -165.0),
        (29.70, 205.0),
    ],
)
def test_altimeter_setting_in_inches(setting_inhg: float, correction_ft: float) -> None:
    altitude_m = pressure_altitude_from_setting_m(5883.0 * FOOT, setting_inhg * INCH_OF_MERCURY)
    assert altitude_m / FOOT - 5883.0 == pytest.approx(correction_ft, abs=0.6)


@pytest.mark.parametrize(
    ("setting_hpa", "correction_ft"),
    [
        # The pressure-height relation 145442.2 ft (1 - (p/1013.25)^0.190263), recomputed outside this project.
        (980, 920.38),
        (1000, 363.79),
        (1013, 6.83),
        (1023, -265.25),
        (1030, -454.42),
    ],
)
def test_altimeter_setting_in_hectopascals(setting_hpa: float, correction_ft: float) -> None:
    altitude_m = pressure_altitude_from_setting_m(0.0, setting_hpa * HECTOPASCAL)
    assert altitude_m / FOOT == pytest.approx(correction_ft, abs=0.05)


def test_density_altitude_of_the_handbook_problem() -> None:
    # FAA-H-8083-25, Aircraft Performance, sample problem 1: elevation 5,883 ft, 30.10 inHg, 70 degrees F. The chart
    # gives a pressure altitude of 5,718 ft and is read as 7,700 ft of density altitude.
    pressure_altitude = pressure_altitude_from_setting_m(5883.0 * FOOT, 30.10 * INCH_OF_MERCURY)
    assert pressure_altitude / FOOT == pytest.approx(5718.0, abs=0.6)
    density_altitude = density_altitude_m(pressure_altitude, to_si(70.0, "°F"))
    assert density_altitude / FOOT == pytest.approx(7700.0, abs=100.0)


@pytest.mark.parametrize(
    ("altitude_ft", "air_c", "density_altitude_ft"),
    [
        # Density relation of the standard atmosphere, dry air, recomputed outside this project.
        (5718, 21.1111, 7709.46),
        (5000, 30, 7800.73),
        (2000, 35, 4702.66),
        (7000, 25, 9687.88),
        (8000, 20, 10362.12),
        (3700, -20, 202.82),
    ],
)
def test_density_altitude(altitude_ft: float, air_c: float, density_altitude_ft: float) -> None:
    altitude_m = density_altitude_m(altitude_ft * FOOT, to_si(float(air_c), "°C"))
    assert altitude_m / FOOT == pytest.approx(density_altitude_ft, abs=0.5)


def test_against_ambiance_over_a_grid() -> None:
    # ambiance takes geometric height and has the ICAO constants and rounded layer bounds, which
    # differ by up to 1.8e-6 of the pressure (measured).
    geometric = np.linspace(-4_900.0, 20_000.0, 500)
    geometric = geometric[geopotential_from_geometric_m(geometric) <= HIGHEST_ALTITUDE_M]
    theirs = ambiance.Atmosphere(geometric)
    h = geopotential_from_geometric_m(geometric)
    np.testing.assert_allclose(h, theirs.H, rtol=1e-9)
    np.testing.assert_allclose(standard_temperature_k(h), theirs.temperature, rtol=1e-9)
    np.testing.assert_allclose(pressure_pa(h), theirs.pressure, rtol=3e-6)
    np.testing.assert_allclose(density_kgm3(h), theirs.density, rtol=3e-6)
    np.testing.assert_allclose(speed_of_sound_mps(standard_temperature_k(h)), theirs.speed_of_sound, rtol=1e-8)


def test_against_fluids_over_a_grid() -> None:
    # fluids takes geometric height and the 1976 gas constant 8314.32/28.9644 = 287.05287 + 1.3e-6 relative.
    for geometric in np.linspace(0.0, 19_900.0, 60):
        theirs = ATMOSPHERE_1976(float(geometric))
        h = geopotential_from_geometric_m(float(geometric))
        assert h == pytest.approx(theirs.H, abs=0.001)  # m
        assert standard_temperature_k(h) == pytest.approx(theirs.T, abs=1e-5)  # K
        assert pressure_pa(h) == pytest.approx(theirs.P, rel=1e-5)
        assert density_kgm3(h) == pytest.approx(theirs.rho, rel=1e-5)
        assert speed_of_sound_mps(theirs.T) == pytest.approx(theirs.v_sonic, rel=1e-5)


def test_fluids_agrees_on_warm_air() -> None:
    # A temperature offset keeps pressure and changes density; fluids has the same convention (its `dT`).
    for geometric, deviation in [(0.0, 20.0), (1500.0, 15.0), (3000.0, -25.0)]:
        theirs = ATMOSPHERE_1976(geometric, dT=deviation)
        h = geopotential_from_geometric_m(geometric)
        assert pressure_pa(h) == pytest.approx(theirs.P, rel=1e-5)
        assert density_kgm3(h, deviation) == pytest.approx(theirs.rho, rel=1e-5)


@given(ALTITUDES_M)
def test_pressure_altitude_is_the_inverse_of_pressure(altitude: float) -> None:
    assert pressure_altitude_m(pressure_pa(altitude)) == pytest.approx(altitude, abs=1e-6)  # m


@given(ALTITUDES_M)
def test_density_altitude_of_standard_air_is_its_pressure_altitude(altitude: float) -> None:
    assert density_altitude_m(altitude, standard_temperature_k(altitude)) == pytest.approx(altitude, abs=1e-6)


@given(ALTITUDES_M)
def test_geometric_and_geopotential_there_and_back(altitude: float) -> None:
    back = geopotential_from_geometric_m(geometric_from_geopotential_m(altitude))
    assert back == pytest.approx(altitude, abs=1e-8)


@given(st.floats(-3_000.0, 19_000.0), st.floats(0.1, 900.0), DEVIATIONS_K)
def test_pressure_and_density_fall_with_altitude(altitude: float, step: float, deviation: float) -> None:
    assert pressure_pa(altitude + step) < pressure_pa(altitude)
    assert density_kgm3(altitude + step, deviation) < density_kgm3(altitude, deviation)


@given(st.floats(0.0, 15_000.0), DEVIATIONS_K)
def test_warm_air_is_thin_air(altitude: float, deviation: float) -> None:
    t = temperature_k(altitude, deviation)
    assert isa_deviation_k(altitude, t) == pytest.approx(deviation, abs=1e-9)
    thin = density_altitude_m(altitude, t) - altitude
    assert thin == pytest.approx(0.0, abs=1e-6) or np.sign(thin) == np.sign(deviation)
    # The density at a density altitude is the density of the air: the definition.
    expected = density_kgm3(altitude, deviation)
    assert density_kgm3(altitude + thin) == pytest.approx(expected, rel=1e-12)


@given(st.floats(0.0, 5_000.0), st.floats(95_000.0, 104_000.0))
def test_an_altimeter_reads_the_pressure_it_feels(altitude: float, setting: float) -> None:
    # With the window at the standard setting, reading and pressure altitude are the same.
    assert pressure_altitude_from_setting_m(altitude, SEA_LEVEL_PRESSURE_PA) == pytest.approx(altitude, abs=1e-6)
    # A reading of zero means that the static pressure is the setting.
    assert pressure_pa(pressure_altitude_from_setting_m(0.0, setting)) == pytest.approx(setting, rel=1e-12)


def test_one_value_gives_a_plain_float_and_an_array_an_array_of_its_shape() -> None:
    grid = np.array([[0.0, 1000.0], [12_000.0, 20_000.0]])
    for function in (standard_temperature_k, pressure_pa, density_kgm3, density_ratio):
        many = function(grid)
        assert many.shape == (2, 2)
        assert type(function(1000.0)) is float
        assert many[0, 1] == function(1000.0)
    assert density_kgm3(grid, 10.0).shape == (2, 2)
    assert density_altitude_m(grid, standard_temperature_k(grid)) == pytest.approx(grid, abs=1e-6)
    assert density_kgm3(0.0) == SEA_LEVEL_DENSITY_KGM3


@pytest.mark.parametrize("altitude", [-5_000.1, 20_000.1, float("nan"), float("inf")])
def test_an_altitude_out_of_range_is_refused(altitude: float) -> None:
    with pytest.raises(BadInputError, match=r"^Altitude .* m is outside the range of the standard atmosphere"):
        pressure_pa(altitude)


def test_the_first_bad_value_of_an_array_is_named() -> None:
    with pytest.raises(BadInputError) as caught:
        density_kgm3(np.array([0.0, 100.0, 30_000.0, 40_000.0]))
    assert str(caught.value) == (
        "value 3 of 4: altitude 30000 m is outside the range of the standard atmosphere used here; "
        "it must lie between -5000 and 20000 m."
    )


def test_other_values_out_of_range_are_refused() -> None:
    with pytest.raises(BadInputError, match="Altimeter setting 2992 Pa"):
        pressure_altitude_from_setting_m(0.0, 2992.0)
    with pytest.raises(BadInputError, match="Air temperature 20 K"):
        density_altitude_m(0.0, 20.0)
    with pytest.raises(BadInputError, match="Static pressure 0 Pa"):
        pressure_altitude_m(0.0)
    with pytest.raises(BadInputError, match="Density altitude"):
        density_altitude_m(20_000.0, 300.0)
