"""Propagation against the GUM's worked examples, certified data, a library's exact derivatives and random draws."""

import math
from collections.abc import Callable

import numpy as np
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import umath

from wringout.errors import BadInputError
from wringout.propagation import (
    Measured,
    coverage_factor,
    propagate,
    straight_line_fit,
    welch_satterthwaite,
)

# JCGM 100:2008, Annex H.2: five simultaneous readings (data and results from memory; they recompute consistently).
H2_READINGS = np.array(
    [
        [5.007, 4.994, 5.005, 4.990, 4.999],  # V [V]
        [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],  # I [A]
        [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],  # phase [rad]
    ]
)


def resistance(v: float, i: float, phase: float) -> float:
    return v / i * math.cos(phase)


def reactance(v: float, i: float, phase: float) -> float:
    return v / i * math.sin(phase)


def impedance(v: float, i: float, phase: float) -> float:
    return v / i


def h2(function: Callable[..., float]) -> Measured:
    means = H2_READINGS.mean(axis=1)
    sds = H2_READINGS.std(axis=1, ddof=1) / math.sqrt(5.0)
    r = np.corrcoef(H2_READINGS)
    inputs = {name: (float(means[k]), float(sds[k])) for k, name in enumerate(("v", "i", "phase"))}
    pairs = {("v", "i"): r[0, 1], ("phase", "v"): r[0, 2], ("i", "phase"): r[1, 2]}
    return propagate(function, inputs, "ohm", pairs, dict.fromkeys(inputs, 4.0))


@pytest.mark.parametrize(
    ("function", "value", "value_tolerance", "uncertainty", "uncertainty_tolerance"),
    [
        # JCGM 100:2008, Annex H.2, Table H.4 [ohm].
        (resistance, 127.732, 0.0005, 0.071, 0.0005),
        (reactance, 219.847, 0.0006, 0.295, 0.001),
        (impedance, 254.260, 0.0005, 0.236, 0.0005),
    ],
)
def test_gum_h2_with_correlated_inputs(
    function: Callable[..., float],
    value: float,
    value_tolerance: float,
    uncertainty: float,
    uncertainty_tolerance: float,
) -> None:
    result = h2(function)
    assert result.value == pytest.approx(value, abs=value_tolerance)
    assert result.standard_uncertainty == pytest.approx(uncertainty, abs=uncertainty_tolerance)
    assert result.dof == 4.0  # five simultaneous readings
    # Correlation matters here: without it the squares of the budget would be the answer.
    assert math.hypot(*result.budget.values()) != pytest.approx(result.standard_uncertainty, rel=0.02)


@pytest.mark.parametrize(
    ("first", "second", "correlation"),
    [
        # JCGM 100:2008, Annex H.2, Table H.4.
        (resistance, reactance, -0.588),
        (reactance, impedance, 0.993),
    ],
)
def test_gum_h2_correlation_of_results(
    first: Callable[..., float], second: Callable[..., float], correlation: float
) -> None:
    u_first, u_second = h2(first).standard_uncertainty, h2(second).standard_uncertainty
    u_sum = h2(lambda **at: first(**at) + second(**at)).standard_uncertainty
    assert (u_sum**2 - u_first**2 - u_second**2) / (2.0 * u_first * u_second) == pytest.approx(correlation, abs=0.001)


def test_gum_h1_end_gauge() -> None:
    # JCGM 100:2008, Annex H.1: contributions 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and 2 degrees of freedom give
    # 32 nm with 16 (truncated; degrees of freedom part from memory) and U99 = 93 nm (from memory).
    parts = {"standard": (0.0, 25.0), "difference": (0.0, 9.7), "expansion": (0.0, 2.9), "temperature": (0.0, 16.6)}
    freedom = {"standard": 18.0, "difference": 25.6, "expansion": 50.0, "temperature": 2.0}
    result = propagate(lambda **at: sum(at.values()), parts, "nm", degrees_of_freedom=freedom)
    assert result.standard_uncertainty == pytest.approx(32.0, abs=0.5)
    assert math.floor(result.dof) == 16
    assert result.budget == pytest.approx({name: sd for name, (_, sd) in parts.items()}, rel=1e-9)
    assert result.largest_source() == "standard"
    assert coverage_factor(0.99, 16) * result.standard_uncertainty == pytest.approx(93.0, abs=0.8)


@pytest.mark.parametrize(
    ("dof", "t95", "t99"),
    [
        # NIST Technical Note 1297, Appendix B, Table B.1.
        (2, 4.30, 9.92),
        (4, 2.78, 4.60),
        (5, 2.57, 4.03),
        (8, 2.31, 3.36),
        (10, 2.23, 3.17),
        (16, 2.12, 2.92),
        (20, 2.09, 2.85),
        (30, 2.04, 2.75),
        (math.inf, 1.960, 2.576),
    ],
)
def test_coverage_factors(dof: float, t95: float, t99: float) -> None:
    assert coverage_factor(0.95, dof) == pytest.approx(t95, abs=0.0051)
    assert coverage_factor(0.99, dof) == pytest.approx(t99, abs=0.0056)
    low, high = Measured(10.0, 2.0, "m/s", dof=dof).interval()
    assert (high - low) / 4.0 == pytest.approx(t95, abs=0.0051)
    assert (high + low) / 2.0 == pytest.approx(10.0, rel=1e-15)


def drag_area(mass: float, deceleration: float, density: float, speed: float) -> float:
    """Drag area [m2] of a device from a level deceleration, 2 m a / (rho V^2)."""
    return 2.0 * mass * deceleration / (density * speed**2)


DRAG_INPUTS = {"mass": (1400.0, 10.0), "deceleration": (0.35, 0.02), "density": (1.05, 0.008), "speed": (55.0, 0.5)}


def test_budget_against_exact_derivatives_of_the_uncertainties_library() -> None:
    result = propagate(drag_area, DRAG_INPUTS, "m2")
    variables = {name: uncertainties.ufloat(value, sd, name) for name, (value, sd) in DRAG_INPUTS.items()}
    theirs = drag_area(**variables)  # type: ignore[arg-type]
    assert result.value == theirs.nominal_value
    assert result.standard_uncertainty == pytest.approx(theirs.std_dev, rel=1e-6)
    exact = {variable.tag: share for variable, share in theirs.error_components().items()}
    assert result.budget == pytest.approx(exact, rel=1e-6)
    assert result.largest_source() == "deceleration"
    assert math.hypot(*result.budget.values()) == pytest.approx(result.standard_uncertainty, rel=1e-12)


def test_against_seeded_random_draws() -> None:
    rng = np.random.default_rng(20261125)
    n = 400_000
    draws = {name: rng.normal(value, sd, n) for name, (value, sd) in DRAG_INPUTS.items()}
    sample = 2.0 * draws["mass"] * draws["deceleration"] / (draws["density"] * draws["speed"] ** 2)
    result = propagate(drag_area, DRAG_INPUTS, "m2")
    # A sample sd of n draws scatters by 1/sqrt(2 n) = 0.1 %; second-order terms add about 0.1 % here.
    assert result.standard_uncertainty == pytest.approx(sample.std(ddof=1), rel=0.005)
    low, high = result.interval()
    assert np.mean((sample > low) & (sample < high)) == pytest.approx(0.95, abs=0.003)


def test_correlated_inputs_against_seeded_random_draws() -> None:
    rng = np.random.default_rng(7)
    covariance = 1e-2 * np.array([[0.04, -0.018], [-0.018, 0.01]])  # correlation -0.9, standard deviations 0.02, 0.01
    x, y = rng.multivariate_normal([3.0, 2.0], covariance, 400_000).T
    result = propagate(lambda x, y: x * y, {"x": (3.0, 0.02), "y": (2.0, 0.01)}, "1", {("x", "y"): -0.9})
    assert result.standard_uncertainty == pytest.approx(float(np.std(x * y)), rel=0.005)
    assert math.hypot(*result.budget.values()) > 2.0 * result.standard_uncertainty  # what ignoring it would give


@given(
    st.floats(-1.4, 1.4), st.floats(1e-6, 0.01), st.floats(-50.0, 50.0), st.floats(1e-6, 0.5), st.floats(-0.95, 0.95)
)
def test_against_exact_derivatives_with_any_correlation(a: float, ua: float, b: float, ub: float, r: float) -> None:
    result = propagate(lambda a, b: math.sin(a) * b, {"a": (a, ua), "b": (b, ub)}, "1", {("a", "b"): r})
    va, vb = uncertainties.correlated_values_norm([(a, ua), (b, ub)], np.array([[1.0, r], [r, 1.0]]))
    theirs = umath.sin(va) * vb
    assert result.standard_uncertainty == pytest.approx(theirs.std_dev, rel=1e-4, abs=1e-4 * (ub + abs(b) * ua))


@given(st.floats(-1e3, 1e3), st.floats(1e-3, 10.0), st.floats(-5.0, 5.0).filter(lambda k: abs(k) > 1e-3))
def test_a_linear_function_is_exact(x: float, sd: float, k: float) -> None:
    result = propagate(lambda x: k * x + 1.0, {"x": (x, sd)}, "1")
    assert result.standard_uncertainty == pytest.approx(abs(k) * sd, rel=1e-6)


def test_a_constant_adds_nothing_and_zero_is_no_trouble() -> None:
    result = propagate(lambda x, c: c * x**2, {"x": (0.0, 0.1), "c": (3.0, 0.0)}, "1")
    assert result.budget["c"] == 0.0
    assert result.standard_uncertainty == pytest.approx(0.0, abs=1e-12)  # the slope at zero is zero
    assert propagate(lambda: 2.0, {}, "1") == Measured(2.0, 0.0, "1")


def test_full_correlation_cancels_a_common_error() -> None:
    inputs = {"gear_down": (0.40, 0.05), "gear_up": (0.10, 0.05)}
    difference = propagate(
        lambda gear_down, gear_up: gear_down - gear_up, inputs, "m/s2", {("gear_down", "gear_up"): 1.0}
    )
    assert difference.value == pytest.approx(0.30)
    assert difference.standard_uncertainty == pytest.approx(0.0, abs=1e-9)
    assert difference.budget == pytest.approx({"gear_down": 0.05, "gear_up": 0.05})


def test_it_prints_with_both_numbers_rounded_together() -> None:
    assert str(Measured(0.31415, 0.0123, "m2")) == "0.314 ± 0.012 m2"


@pytest.mark.parametrize(
    ("inputs", "correlations", "message"),
    [
        ({"x": (math.nan, 1.0)}, None, "^x: nan with standard uncertainty 1.0 cannot be used"),
        ({"x": (1.0, -1.0)}, None, "^x: 1.0 with standard uncertainty -1.0 cannot be used"),
        ({"x": (1.0, math.inf)}, None, "^x: 1.0 with standard uncertainty inf cannot be used"),
        ({"x": (1e9, 1e-9)}, None, "^x: standard uncertainty 1e-09 is lost in rounding"),
        ({"x": (0.0, 0.0)}, None, "^The result is not a finite number at x 0;"),
        ({"x": (1.0, 1.0)}, {("x", "y"): 0.5}, "^Correlation 0.5 between 'x' and 'y' cannot be used"),
        ({"x": (1.0, 1.0)}, {("x", "x"): 1.0}, "^Correlation 1.0 between 'x' and 'x' cannot be used"),
    ],
)
def test_inputs_that_cannot_be_used(
    inputs: dict[str, tuple[float, float]], correlations: dict[tuple[str, str], float] | None, message: str
) -> None:
    with pytest.raises(BadInputError, match=message):
        propagate(lambda x: 1.0 / x if x else math.inf, inputs, "1", correlations)


def test_impossible_correlations_are_refused() -> None:
    inputs = dict.fromkeys("abc", (1.0, 1.0))
    pairs = {("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9}
    with pytest.raises(BadInputError, match="contradict each other"):
        propagate(lambda a, b, c: a + b + c, inputs, "1", pairs)
    with pytest.raises(BadInputError, match=r"Correlation 1\.5 between"):
        propagate(lambda a, b, c: a + b + c, inputs, "1", {("a", "b"): 1.5})


def test_degrees_of_freedom_of_an_unknown_input_are_refused() -> None:
    with pytest.raises(BadInputError, match="'y', which is not an input"):
        propagate(lambda x: x, {"x": (1.0, 0.1)}, "1", degrees_of_freedom={"y": 3.0})


@given(st.lists(st.tuples(st.floats(1e-6, 1e6), st.floats(1.0, 100.0)), min_size=1, max_size=6))
def test_effective_degrees_of_freedom_lie_between_the_smallest_and_the_sum(parts: list[tuple[float, float]]) -> None:
    # JCGM 100:2008, G.4.1: the effective number is at most the sum of the parts' (and at least the smallest).
    contributions, dofs = zip(*parts, strict=True)
    effective = welch_satterthwaite(contributions, dofs)
    assert min(dofs) * (1.0 - 1e-9) <= effective <= sum(dofs) * (1.0 + 1e-9)


def test_effective_degrees_of_freedom_at_the_edges() -> None:
    assert welch_satterthwaite([], []) == math.inf
    assert welch_satterthwaite([0.0], [3.0]) == math.inf
    assert welch_satterthwaite([1.0, 2.0], [math.inf, math.inf]) == math.inf
    assert welch_satterthwaite([1e-200], [3.0]) == pytest.approx(3.0)
    for bad in [([1.0], [1.0, 2.0]), ([-1.0], [1.0]), ([1.0], [0.0]), ([math.nan], [1.0])]:
        with pytest.raises(BadInputError, match="cannot be combined"):
            welch_satterthwaite(*bad)


@pytest.mark.parametrize("coverage", [0.0, 1.0, -0.1, 95.0, math.nan])
def test_a_coverage_that_is_no_probability_is_refused(coverage: float) -> None:
    with pytest.raises(BadInputError, match="is not a probability"):
        Measured(1.0, 0.1, "m").interval(coverage)
    with pytest.raises(BadInputError, match="degrees of freedom are too few"):
        coverage_factor(0.95, 0.0)


# JCGM 100:2008, Annex H.3, Table H.6: readings and corrections of a thermometer [degrees C].
H3_T = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
H3_B = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]


def test_gum_h3_calibration_line() -> None:
    line = straight_line_fit(np.array(H3_T) - 20.0, H3_B)
    # Results printed in Annex H.3.
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)  # degrees C
    assert line.intercept_uncertainty == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.slope_uncertainty == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.930, abs=5e-4)
    assert line.residual_sd == pytest.approx(0.0035, abs=5e-5)
    assert line.dof == 9
    value, uncertainty = line.at(30.0 - 20.0)
    assert value == pytest.approx(-0.1494, abs=5e-5)
    assert uncertainty == pytest.approx(0.0041, abs=5e-5)


# NIST Statistical Reference Datasets, linear regression, Norris: y then x.
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3,
    448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6,
    228.9, 668.4, 449.2, 0.2,
]  # fmt: skip
NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0,
    447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3,
    229.2, 669.1, 448.9, 0.5,
]  # fmt: skip


def test_nist_certified_line() -> None:
    # NIST StRD Norris, certified estimates, their standard deviations and the residual standard deviation.
    line = straight_line_fit(NORRIS_X, NORRIS_Y)
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.intercept_uncertainty == pytest.approx(0.232818234301152, rel=1e-11)
    assert line.slope_uncertainty == pytest.approx(0.429796848199937e-3, rel=1e-11)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-11)


@given(st.floats(-100.0, 100.0), st.floats(-10.0, 10.0), st.floats(-1e3, 1e3))
def test_points_on_a_line_give_that_line(intercept: float, slope: float, start: float) -> None:
    x = start + np.arange(6.0)
    line = straight_line_fit(x, intercept + slope * x)
    assert line.slope == pytest.approx(slope, abs=1e-9)
    assert line.at(start)[0] == pytest.approx(intercept + slope * start, abs=1e-8)
    assert line.residual_sd == pytest.approx(0.0, abs=1e-9)


def test_uncertainty_of_a_line_covers_as_it_says() -> None:
    # Seeded repetition: the 95 % interval of the slope holds the true slope in 95 % of lines (binomial sd 0.5 %).
    rng = np.random.default_rng(42)
    x = np.linspace(0.0, 10.0, 8)
    hits = 0
    for _ in range(2000):
        line = straight_line_fit(x, 1.0 - 0.3 * x + rng.normal(0.0, 0.5, 8))
        hits += abs(line.slope + 0.3) < coverage_factor(0.95, line.dof) * line.slope_uncertainty
    assert hits / 2000 == pytest.approx(0.95, abs=0.02)


@pytest.mark.parametrize(
    ("x", "y", "message"),
    [
        ([1.0, 2.0], [1.0, 2.0], "at least three pairs"),
        ([1.0, 2.0, 3.0], [1.0, 2.0], "3 x with 2 y"),
        ([1.0, 2.0, math.nan], [1.0, 2.0, 3.0], "not a finite number"),
        ([5.0, 5.0, 5.0], [1.0, 2.0, 3.0], "all x of the line are equal"),
        ([0.1, 0.1, 0.1], [1.0, 2.0, 3.0], "all x of the line are equal"),
    ],
)
def test_points_that_make_no_line(x: list[float], y: list[float], message: str) -> None:
    with pytest.raises(BadInputError, match=f"(?i){message}"):
        straight_line_fit(x, y)
