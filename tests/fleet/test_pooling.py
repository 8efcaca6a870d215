"""Pooling against published meta-analyses; tolerances are half of the last printed digit unless said otherwise."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.meta_analysis import combine_effects

from tests.fleet.published import bcg, schools
from wringout.errors import BadInputError, FitError
from wringout.fleet.bias import egger
from wringout.fleet.pooling import Estimator, pool
from wringout.fleet.scatter import scatter

# Printed by the R package metafor for these data: its front page, its test files of the examples
# (test_misc_influence.r, test_analysis_example_konstantopoulos2011.r), and its documentation, from memory where marked.
# The same DerSimonian-Laird figures stand in Viechtbauer (2010), J. Statistical Software 36(3).


def test_bcg_vaccine_by_restricted_maximum_likelihood() -> None:
    found = pool(*bcg())
    assert found.tau2 == pytest.approx(0.313243325980895, abs=1e-6)  # test_misc_influence.r
    assert found.q == pytest.approx(152.233008082373, abs=1e-6)  # the same
    # front page of metafor, rma(test="knha"): I2 92.22 %, -0.7145, 0.1808; risk ratio 0.49, 95 % from 0.33 to 0.73
    assert found.i2 == pytest.approx(0.9222, abs=5e-5)
    assert found.mean == pytest.approx(-0.7145, abs=5e-5)
    assert found.knapp_hartung_uncertainty == pytest.approx(0.1808, abs=5e-5)
    assert np.exp((found.mean, *found.interval_95)) == pytest.approx((0.49, 0.33, 0.73), abs=5e-3)
    assert found.standard_uncertainty == pytest.approx(0.1798, abs=5e-5)  # test="z", from memory
    # predict(): -1.8667 to 0.4376 with the normal quantile 1.96; ours takes Student's t with 11 degrees of freedom
    assert found.prediction_95 is not None
    half = 0.5 * (found.prediction_95[1] - found.prediction_95[0])
    assert half * 1.959964 / 2.200985 == pytest.approx(0.5 * (0.4376 + 1.8667), abs=1e-4)


def test_bcg_vaccine_by_dersimonian_and_laird() -> None:
    """tau2 0.3088, mean -0.7141, standard error 0.1787 (documentation of metafor, from memory)."""
    found = pool(*bcg(), Estimator.DERSIMONIAN_LAIRD)
    assert found.tau2 == pytest.approx(0.3088, abs=5e-5)
    assert found.mean == pytest.approx(-0.7141, abs=5e-5)
    assert found.standard_uncertainty == pytest.approx(0.1787, abs=5e-5)


@pytest.mark.parametrize(
    ("estimator", "method"), [(Estimator.DERSIMONIAN_LAIRD, "chi2"), (Estimator.PAULE_MANDEL, "iterated")]
)
def test_the_interval_of_hartung_and_knapp_is_that_of_another_library(estimator: Estimator, method: str) -> None:
    """statsmodels prints the same standard error by its own code (``sd_eff_w_re_hksj``)."""
    y, s = bcg()
    found = pool(y, s, estimator)
    theirs = combine_effects(y, s**2, method_re=method)
    assert found.knapp_hartung_uncertainty == pytest.approx(float(theirs.sd_eff_w_re_hksj), rel=1e-6)
    half = 2.178813 * found.knapp_hartung_uncertainty  # Student's t, 97.5 %, 12 degrees of freedom (printed tables)
    assert found.interval_95 == pytest.approx((found.mean - half, found.mean + half), abs=1e-5)


def test_paule_and_mandel_make_the_generalised_q_equal_its_expectation() -> None:
    y, s = bcg()
    found = pool(y, s, Estimator.PAULE_MANDEL)
    weights = 1.0 / (s**2 + found.tau2)
    assert float(weights @ (y - found.mean) ** 2) == pytest.approx(12.0, abs=1e-4)  # Paule and Mandel (1982), eq. 2


def test_the_airplane_left_out_is_predicted_by_the_others() -> None:
    """First trial of the BCG data: rstudent -0.218142474344442 (test_misc_influence.r)."""
    found = pool(*bcg()).outliers[0]
    assert found.z == pytest.approx(-0.218142474344442, abs=1e-6)
    assert found.predicted == pytest.approx(-0.707083788031436, abs=1e-6)  # leave1out, the same file


def test_schools_in_one_level_and_in_two() -> None:
    """Konstantopoulos (2011), table 4, and metafor's test file of that example."""
    districts, y, v = schools()
    assert len(y) == 56
    one = pool(y, np.sqrt(v))
    assert (one.mean, one.standard_uncertainty, one.tau2) == pytest.approx((0.1279, 0.0439, 0.0884), abs=5e-5)
    # one pilot flies all: airplane stands for district, finding for school
    found = scatter(y, np.sqrt(v), districts, ["same"] * 56)
    assert found.mean == pytest.approx(0.1847132, abs=2e-6)
    assert found.standard_uncertainty == pytest.approx(0.08455592, abs=2e-6)
    assert found.component("airplane").variance == pytest.approx(0.06506194, abs=5e-6)
    assert found.component("finding").variance == pytest.approx(0.03273652, abs=5e-6)
    assert found.log_likelihood == pytest.approx(-7.9587, abs=5e-5)
    effects = [e for e in found.effects if e.name == "airplane"]
    assert effects[0].value == pytest.approx(-0.18998596, abs=1e-5)  # ranef, district 11
    assert effects[6].value == pytest.approx(0.5342778, abs=1e-5)  # district 71
    assert effects[0].standard_uncertainty == pytest.approx(0.16653966, abs=1e-5)
    assert effects[6].standard_uncertainty == pytest.approx(0.1297891, abs=1e-5)
    assert any("one pilot" in remark for remark in found.remarks)


def test_egger_on_the_bcg_trials() -> None:
    """regtest(model="lm") prints t = -1.4013, df = 11, p = 0.1887 (documentation of metafor, from memory)."""
    found = egger(*bcg())
    assert found is not None
    assert (found.t, found.p, found.degrees_of_freedom) == (
        pytest.approx(-1.4013, abs=5e-5),
        pytest.approx(0.1887, abs=5e-5),
        11,
    )
    assert "no lopsidedness beyond chance" in found.sentence


def test_egger_sees_small_findings_that_were_held_back() -> None:
    rng = np.random.default_rng(3)
    s = rng.uniform(0.2, 2.0, 400)
    y = rng.normal(0.0, s)
    wanted = (y > 0.0) | (s < 0.5)
    lopsided, even = egger(y[wanted], s[wanted]), egger(y, s)
    assert lopsided is not None
    assert even is not None
    assert lopsided.p < 0.001 < even.p
    assert "lopsided" in lopsided.sentence
    assert egger([1.0, 2.0, 3.0], [0.5, 0.5, 0.5]) is None
    few = egger([1.0, 2.0, 3.0, 2.5], [0.5, 0.4, 0.3, 0.6])
    assert few is not None
    assert not few.enough
    assert "cannot be told from chance" in few.sentence


def test_an_airplane_that_lies_far_off_is_flagged_and_no_other() -> None:
    found = pool([4.0, 4.1, 3.9, 4.05, 3.95, 9.0], [0.2] * 6)
    assert [outlier.flagged for outlier in found.outliers] == [False] * 5 + [True]


def test_pilots_and_airplanes_are_told_apart_when_they_cross() -> None:
    """Truth (ours): sd 0.6 between airplanes, 0.3 between pilots; 24 airplanes, each flown by 3 of 24 pilots."""
    rng = np.random.default_rng(11)
    planes, pilots = rng.normal(0.0, 0.6, 24), rng.normal(0.0, 0.3, 24)
    rows = [(i, (i * 5 + 7 * k) % 24) for i in range(24) for k in range(3)]
    values = [4.0 + planes[i] + pilots[j] + rng.normal(0.0, 0.1) for i, j in rows]
    found = scatter(values, [0.1] * len(rows), [f"a{i}" for i, _ in rows], [f"p{j}" for _, j in rows])
    assert found.component("airplane").sd == pytest.approx(np.std(planes), rel=0.25)
    assert found.component("pilot").sd == pytest.approx(np.std(pilots), rel=0.35)
    assert found.component("finding").sd < 0.1
    assert found.component("airplane").p < 1e-4


def test_who_flew_only_one_airplane_cannot_be_told_from_it() -> None:
    found = scatter([4.0, 4.4, 3.8, 4.1], [0.2] * 4, ["a", "b", "c", "c"], ["x", "y", "z", "z"])
    assert {c.name for c in found.components} == {"airplane", "finding"}
    assert any("cannot be told" in remark for remark in found.remarks)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-50.0, 50.0), st.floats(0.05, 5.0)), min_size=3, max_size=12),
    st.floats(-30.0, 30.0),
    st.floats(0.1, 20.0),
)
def test_shifting_and_scaling_all_findings_shifts_and_scales_the_answer(
    rows: list[tuple[float, float]], shift: float, scale: float
) -> None:
    y, s = np.array([a for a, _ in rows]), np.array([b for _, b in rows])
    one, other = pool(y, s), pool(scale * y + shift, scale * s)
    size = scale * (1.0 + float(np.ptp(y)))
    assert other.mean == pytest.approx(scale * one.mean + shift, abs=2e-3 * size)
    assert other.tau == pytest.approx(scale * one.tau, abs=2e-3 * size)
    low, high = float(min(y)), float(max(y))
    assert low - 1e-9 <= one.mean <= high + 1e-9
    for value, item in zip(y, one.shrunk, strict=True):
        assert min(value, one.mean) - 1e-9 <= item.value <= max(value, one.mean) + 1e-9


@pytest.mark.parametrize(
    ("values", "doubts", "error"),
    [
        ([1.0], [0.1], FitError),
        ([1.0, 2.0], [0.1], BadInputError),
        ([1.0, float("nan")], [0.1, 0.1], BadInputError),
        ([1.0, 2.0], [0.1, 0.0], BadInputError),
    ],
)
def test_what_cannot_be_pooled_is_said(values: list[float], doubts: list[float], error: type[Exception]) -> None:
    with pytest.raises(error) as caught:
        pool(values, doubts)
    assert str(caught.value).endswith(".")
