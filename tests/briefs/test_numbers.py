"""Numbers as they are printed."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.briefs.numbers import MINUS, NO_BREAK, Scale, amount, count, number, places_for, quantity, scale_of, shown
from wringout.errors import BadInputError


@pytest.mark.parametrize(
    ("value", "uncertainty", "printed"),
    [(0.827, 0.119, "0.83"), (0.827, 0.367, "0.8")],
)
def test_values_are_rounded_as_the_particle_data_group_does(value: float, uncertainty: float, printed: str) -> None:
    # Particle Data Group, Review of Particle Physics (2018), Introduction 5.3: both examples are its own (from memory)
    half = (value - 0.6745 * uncertainty, value + 0.6745 * uncertainty)
    most = (value - 1.96 * uncertainty, value + 1.96 * uncertainty)
    assert shown(value, half, most, Scale(1.0, "")).value == printed


def test_units_follow_the_system() -> None:
    area = 1.0  # m2
    assert quantity(area, scale_of("ft2", "aviation"), 2) == f"10.76{NO_BREAK}ft²"  # 1 m2 / (0.3048 m)2, exact
    assert quantity(area, scale_of("ft2", "metric"), 2) == f"1.00{NO_BREAK}m²"
    assert quantity(100.0, scale_of("kt", "aviation")) == f"194{NO_BREAK}kt"  # 100 * 3600 / 1852
    assert quantity(100.0, scale_of("kt", "metric")) == f"360{NO_BREAK}km/h"
    assert scale_of("", "metric") == Scale(1.0, "")


def test_a_unit_nobody_knows_is_refused() -> None:
    with pytest.raises(BadInputError, match="furlong"):
        scale_of("furlong", "aviation")


def test_signs_thousands_and_what_never_comes_about() -> None:
    assert number(-1234.5, 1) == f"{MINUS}1,234.5"
    assert number(-0.004, 2) == "0.00"
    assert number(1234.5, -2) == "1,200"
    assert number(math.inf) == "never"
    assert number(math.nan) == "not known"
    assert count(1, "run") == "one run"
    assert count(0, "run") == "no runs"
    assert count(1200, "draw") == "1,200 draws"
    assert amount(10) == "ten"


@given(st.floats(1e-6, 1e6), st.floats(-1e6, 1e6))
def test_the_interval_is_printed_in_order_and_close_to_itself(spread: float, value: float) -> None:
    half, most = (value - 0.67 * spread, value + 0.67 * spread), (value - 1.96 * spread, value + 1.96 * spread)
    made = shown(value, half, most, Scale(1.0, "kt"))
    read = [float(text.replace(",", "").replace(MINUS, "-")) for text in (made.most[0], made.value, made.most[1])]
    assert read[0] <= read[1] <= read[2]
    assert read[0] < read[2], "an interval must not vanish by rounding"
    step = 10.0 ** -places_for((most[1] - most[0]) / 3.92)
    for printed, true in zip(read, (most[0], value, most[1]), strict=True):
        assert abs(printed - true) <= 0.5 * step * (1.0 + 1e-6) + 1e-9 * abs(true)
    assert made.full.endswith(f"{NO_BREAK}kt)")
