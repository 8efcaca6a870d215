"""Conversions against NIST SP 811, reading and writing of quantities, the rounding rule."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat
from uncertainties.formatting import PDG_precision

from wringout import units
from wringout.errors import BadInputError
from wringout.rounding import round_with_uncertainty
from wringout.typed_quantity import parse_quantity
from wringout.units import SI_UNIT, UNITS, find_unit, from_si, to_si


@pytest.mark.parametrize(
    ("factor", "value", "tolerance"),
    [
        # All from NIST Special Publication 811 (2008), Appendix B.
        pytest.param(units.KNOT, 0.514444444444, 1e-12, id="knot, m/s"),
        pytest.param(units.FOOT, 0.3048, 0.0, id="foot, m"),
        pytest.param(units.POUND, 0.45359237, 0.0, id="pound, kg"),
        pytest.param(units.POUND_FORCE, 4.44822161526, 1e-11, id="pound-force, N"),
        pytest.param(units.HORSEPOWER, 745.699871582, 1e-9, id="horsepower, W"),
        pytest.param(units.INCH_OF_MERCURY, 3386.389, 5e-4, id="conventional inch of mercury, Pa"),
        pytest.param(units.POUND_PER_SQUARE_FOOT, 47.8802589803, 1e-9, id="lbf/ft2, Pa"),
        pytest.param(units.POUND_PER_SQUARE_INCH, 6894.757, 5e-4, id="psi, Pa: printed 6.894 757 E+03, from memory"),
        pytest.param(units.SLUG_PER_CUBIC_FOOT, 515.378818393, 1e-9, id="slug/ft3, kg/m3"),
        pytest.param(units.NAUTICAL_MILE, 1852.0, 0.0, id="nautical mile, m"),
        pytest.param(units.MILE_PER_HOUR, 0.44704, 0.0, id="mile per hour, m/s"),
        pytest.param(units.US_GALLON * 1e3, 3.785411784, 1e-15, id="US gallon, L"),
        pytest.param(units.KNOT / units.FOOT, 1.6878098571, 1e-10, id="knot, ft/s"),
        pytest.param(units.STANDARD_GRAVITY / units.FOOT, 32.1740485564, 1e-10, id="standard gravity, ft/s2"),
    ],
)
def test_factors_of_nist_sp_811(factor: float, value: float, tolerance: float) -> None:
    assert factor == pytest.approx(value, abs=tolerance, rel=0.0)


def test_factors_made_from_others_agree_with_their_definition() -> None:
    assert math.isclose(units.STATUTE_MILE / 3600.0, units.MILE_PER_HOUR, rel_tol=1e-15)
    assert math.isclose(60.0 * units.FOOT_PER_MINUTE, units.FOOT, rel_tol=1e-15)
    assert math.isclose(3.6 * units.KILOMETRE_PER_HOUR, 1.0, rel_tol=1e-15)
    assert math.isclose(units.SQUARE_FOOT, 0.09290304, rel_tol=1e-15)  # exact by definition of the foot
    assert math.isclose(360.0 * units.DEGREE, 2.0 * math.pi, rel_tol=1e-15)


@pytest.mark.parametrize(
    ("spelling", "symbol"),
    [
        ("kt", "kt"), ("kts", "kt"), ("KTS", "kt"), ("Knots", "kt"), ("KIAS", "kt"), ("ktas", "kt"), ("mph", "mph"),
        ("km/h", "km/h"), ("kph", "km/h"), ("m/s", "m/s"), ("fps", "ft/s"), ("fpm", "ft/min"), ("ft/min", "ft/min"),
        ("ft", "ft"), ("feet", "ft"), ("ft msl", "ft"), ("ft Baro", "ft"), ("m", "m"), ("NM", "NM"), ("nm", "NM"),
        ("in", "in"), ("inches", "in"), ("deg", "deg"), ("degrees", "deg"), ("°", "deg"), ("rad", "rad"),
        ("lb", "lb"), ("lbs", "lb"), ("kg", "kg"), ("kgs", "kg"), ("lbf", "lbf"), ("hp", "hp"), ("BHP", "hp"),
        ("kW", "kW"), ("inHg", "inHg"), ("in. Hg", "inHg"), ("Hg", "inHg"), ("hPa", "hPa"), ("mb", "hPa"),
        ("psi", "psi"), ("C", "°C"), ("°C", "°C"), ("degC", "°C"), ("deg C", "°C"), ("ºC", "°C"), ("℃", "°C"),
        ("F", "°F"), ("deg F", "°F"), ("K", "K"), ("s", "s"), ("sec", "s"), ("min", "min"), ("hours", "h"),
        ("rpm", "rpm"), ("gal", "gal"), ("US gal", "gal"), ("gph", "gal/h"), ("%", "%"), ("ft²", "ft2"),
        ("m^2", "m2"), ("m/s²", "m/s2"), ("(kt)", "kt"), ("[ft]", "ft"), ("G", "g"), ("volts", "V"),
        ("lb-in", "lb in"), ("deg/s", "deg/s"),
    ],
)  # fmt: skip
def test_spellings_of_log_headers_and_handbooks(spelling: str, symbol: str) -> None:
    unit = find_unit(spelling)
    assert unit is not None
    assert unit.symbol == symbol


@pytest.mark.parametrize("spelling", ["", "furlong", "kt kt", "118"])
def test_a_spelling_nobody_uses_is_not_guessed_at(spelling: str) -> None:
    assert find_unit(spelling) is None


def test_every_unit_has_a_known_dimension_and_is_found_by_its_own_symbol() -> None:
    for unit in set(UNITS.values()):
        assert unit.dimension in SI_UNIT
        assert find_unit(unit.symbol) == unit


def test_every_dimension_has_its_si_unit_with_factor_one() -> None:
    for dimension, symbol in SI_UNIT.items():
        if dimension == "temperature difference":
            continue  # its unit K is found as a temperature
        unit = find_unit(symbol)
        assert unit is not None, symbol
        assert (unit.dimension, unit.factor, unit.offset) == (dimension, 1.0, 0.0)


@pytest.mark.parametrize(
    ("value", "name", "si"),
    [
        (32.0, "F", 273.15),  # definition: ice point
        (212.0, "F", 373.15),  # definition: steam point of the Fahrenheit scale
        (-40.0, "F", 233.15),
        (-40.0, "C", 233.15),  # both scales meet at -40
        (2400.0, "rpm", 40.0),
        (60.0, "%", 0.6),
        (180.0, "deg", math.pi),
    ],
)
def test_to_si(value: float, name: str, si: float) -> None:
    assert to_si(value, name) == pytest.approx(si, rel=1e-14)


def test_arrays_convert_and_keep_their_shape() -> None:
    speeds = np.array([[100.0, 110.0], [120.0, 130.0]])
    converted = to_si(speeds, "kt")
    assert converted.shape == (2, 2)
    assert from_si(converted, "kt") == pytest.approx(speeds, rel=1e-15)


@given(st.sampled_from(sorted(UNITS)), st.floats(-1e6, 1e6))
def test_there_and_back(name: str, value: float) -> None:
    assert from_si(to_si(value, name), name) == pytest.approx(value, rel=1e-12, abs=1e-9)


def test_an_unknown_unit_is_one_clear_sentence() -> None:
    with pytest.raises(BadInputError, match=r"^The unit 'furlong' is not known; use a spelling such as kt"):
        to_si(1.0, "furlong")


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("118 kt", "speed", 118 * 1852 / 3600),
        ("118kt", "speed", 118 * 1852 / 3600),
        ("8 C", "temperature", 281.15),
        ("−8 °C", "temperature", 265.15),
        ("7,000 ft", "length", 2133.6),
        ("1,234,567 ft", "length", 1234567 * 0.3048),
        ("7000\u00a0ft", "length", 2133.6),
        ("  +29.92 inHg ", "pressure", 29.92 * 3386.389),
        (".5 h", "time", 1800.0),
        ("5. s", "time", 5.0),
        ("1.2e3 kg", "mass", 1200.0),
        ("10 C", "temperature difference", 10.0),
        ("18 F", "temperature difference", 10.0),
        ("10 K", "temperature difference", 10.0),
        ("10 delta C", "temperature difference", 10.0),
        ("0.75", "ratio", 0.75),
        ("75 %", "ratio", 0.75),
    ],
)
def test_quantities_people_type(text: str, dimension: str, si: float) -> None:
    default = "1" if dimension == "ratio" else None
    assert parse_quantity(text, dimension, default_unit=default) == pytest.approx(si, rel=1e-14)


def test_the_default_unit_stands_in_only_for_a_missing_one() -> None:
    assert parse_quantity("100", "speed", default_unit="kt") == pytest.approx(100 * 1852 / 3600)
    assert parse_quantity("100 mph", "speed", default_unit="kt") == pytest.approx(44.704)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("abc", "row 12: 'abc' is not a number; write it in digits, for example 118 kt."),
        ("nan", "row 12: 'nan' is not a number; write it in digits, for example 118 kt."),
        ("inf kt", "row 12: 'inf kt' is not a number; write it in digits, for example 118 kt."),
        ("1e999 kt", "row 12: '1e999 kt' is too large to be a speed; write for example 118 kt."),
        ("", "row 12: nothing is written here; write for example 118 kt."),
        ("  ", "row 12: nothing is written here; write for example 118 kt."),
        ("118", "row 12: '118' has no unit; write one after the number, for example 118 kt."),
        ("118 kg", "row 12: '118 kg' is in kg, which measures mass, not speed; write for example 118 kt."),
        ("118 furlong", "row 12: the unit 'furlong' in '118 furlong' is not known; write for example 118 kt."),
        (
            "61,5 kt",
            "row 12: '61,5 kt' has a comma that is not between thousands; "
            "write decimals with a point, for example 29.92.",
        ),
        ("1.2.3 kt", "row 12: '1.2.3 kt' is not a number; write it in digits, for example 118 kt."),
        ("7 000 kt", "row 12: '7 000 kt' is not a number; write it in digits, for example 118 kt."),
        ("- 5 kt", "row 12: '- 5 kt' is not a number; write it in digits, for example 118 kt."),
    ],
)
def test_bad_quantities_get_one_clear_sentence(text: str, sentence: str) -> None:
    with pytest.raises(BadInputError) as caught:
        parse_quantity(text, "speed", where="row 12")
    assert str(caught.value) == sentence


def outcome(text: str) -> float | str:
    try:
        return parse_quantity(text, "speed", default_unit="kt", where="field")
    except BadInputError as error:
        return str(error)


@given(st.text(max_size=12))
def test_whatever_is_typed_gives_a_finite_number_or_a_sentence(text: str) -> None:
    result = outcome(text)
    assert result.startswith("field: ") if isinstance(result, str) else math.isfinite(result)


@given(st.floats(-1e5, 1e5), st.integers(0, 6))
def test_what_is_written_can_be_read_again(value: float, digits: int) -> None:
    again = parse_quantity(f"{value:.{digits}f} kt", "speed")
    assert again / units.KNOT == pytest.approx(value, abs=0.500001 * 10.0**-digits)


@pytest.mark.parametrize(
    ("value", "uncertainty", "rounded"),
    [
        # Particle Data Group, Review of Particle Physics, Introduction 5.3: its own two examples (from memory).
        (0.827, 0.119, ("0.83", "0.12")),
        (0.827, 0.367, ("0.8", "0.4")),
        # Worked examples that quote the rule word for word: a collaboration's HepData guidance (first two), and
        # the page of a small rounding library (last two).
        (0.279008, 0.0123261, ("0.279", "0.012")),
        (0.279008, 0.000766099, ("0.2790", "0.0008")),
        (12.2135, 0.03215, ("12.214", "0.032")),
        (12.2135, 0.06515, ("12.21", "0.07")),
        # Arithmetic of the rule at its borders and above one.
        (1.0, 0.0354, ("1.000", "0.035")),
        (1.0, 0.0355, ("1.00", "0.04")),
        (1.0, 0.0949, ("1.00", "0.09")),
        (1.0, 0.0950, ("1.00", "0.10")),
        (12345.0, 123.0, ("12340", "120")),
        (12345.0, 560.0, ("12300", "600")),
        (12345.0, 960.0, ("12300", "1000")),
        (1e22, 1e-10, ("1" + "0" * 22 + "." + "0" * 11, "0.00000000010")),
        (2.0, 0.22, ("2.00", "0.22")),
        (-0.004, 0.25, ("0.00", "0.25")),
        (-4.0, 250.0, ("0", "250")),
        (1.25, 0.0, ("1.25", "0")),
    ],
)
def test_rounding_with_an_uncertainty(value: float, uncertainty: float, rounded: tuple[str, str]) -> None:
    assert round_with_uncertainty(value, uncertainty) == rounded


@given(st.floats(-1e6, 1e6), st.integers(100, 999), st.integers(-9, -3))
def test_rounding_agrees_with_the_uncertainties_library(value: float, digits: int, power: int) -> None:
    uncertainty = float(f"{digits}.5e{power}")  # half way between digits, so that no float border is hit
    kept, effective = PDG_precision(uncertainty)  # below one only: the library never writes 1005 as 1000
    library_value, library_uncertainty = f"{ufloat(value, effective):.{kept}uf}".split("+/-")
    ours, our_uncertainty = round_with_uncertainty(value, uncertainty)
    assert our_uncertainty == library_uncertainty
    decimals = len(ours.partition(".")[2])
    assert decimals == len(library_value.partition(".")[2])
    # Exact ties may go either way (decimal here, binary there), so the value is checked against itself.
    assert abs(float(ours) - value) <= 0.500001 * 10.0**-decimals + 1e-15 * abs(value)


@pytest.mark.parametrize("pair", [(math.nan, 1.0), (1.0, math.nan), (1.0, math.inf), (1.0, -0.1)])
def test_what_cannot_be_rounded_is_refused(pair: tuple[float, float]) -> None:
    with pytest.raises(BadInputError, match="cannot be rounded"):
        round_with_uncertainty(*pair)


@pytest.mark.parametrize("text", ["+e84 kt", "e5 kt", ".e5 kt", "-. kt", "+ kt"])
def test_an_exponent_alone_is_no_number(text: str) -> None:
    with pytest.raises(BadInputError, match="is not a number"):
        parse_quantity(text, "speed")
