"""Knots lost over several runs, and how they stand to each other."""

from __future__ import annotations

import pytest

from wringout.briefs.knots_lost import mean_over_runs, ratio_of_losses
from wringout.propagation import Measured


def test_runs_that_disagree_widen_the_mean_and_runs_that_agree_keep_the_doubt_of_a_reading() -> None:
    # by hand: mean 18.95, standard deviation 9.69 (4.5 is of a run cut short), and 9.69 / sqrt(4) = 4.84
    mixed = mean_over_runs([Measured(knots, 1.0, "kt") for knots in (4.5, 22.5, 23.8, 25.0)])
    assert (mixed.value, mixed.standard_uncertainty) == pytest.approx((18.95, 4.84), abs=0.01)
    alike = mean_over_runs([Measured(23.0, 1.0, "kt")] * 4)
    assert (alike.value, alike.standard_uncertainty) == pytest.approx((23.0, 0.5))
    assert mean_over_runs([Measured(23.0, 1.0, "kt")]).standard_uncertainty == 1.0


def test_a_ratio_carries_both_doubts_and_needs_something_lost_below() -> None:
    ratio = ratio_of_losses(Measured(24.0, 2.4, "kt"), Measured(20.0, 1.0, "kt"))
    assert ratio is not None
    # relative uncertainties 10 % and 5 % in quadrature: 11.18 % of 1.2
    assert (ratio.value, ratio.standard_uncertainty) == pytest.approx((1.2, 0.1342), abs=1e-4)
    assert ratio_of_losses(Measured(24.0, 2.4, "kt"), Measured(0.0, 1.0, "kt")) is None
