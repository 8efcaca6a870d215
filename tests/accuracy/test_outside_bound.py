"""The bound on what readings allow, against a closed form and against the fit's own intervals."""

from __future__ import annotations

import numpy as np
import pytest

from tests.accuracy.outside_bound import least_errors
from tests.accuracy.outside_programme import BIAS_KT, HASTY
from tests.accuracy.outside_trials import STALLS, Campaign, trial

ONE = (1,)


def test_three_stalls_are_bound_by_their_readings_the_dial_and_the_handbook() -> None:
    """By hand: three readings of 1 kt in whole knots, and the manual's figure, 2 kt; the dial's 0.5 kt joins each.

    The entry rate, read to 0.2 kt/s, and the weight, 1 % in mass and half of that in speed, put in a little more.
    """
    reading = np.sqrt((HASTY.stated_kt**2 + 1.0 / 12.0) / 3.0 + BIAS_KT**2)
    by_hand = 1.0 / np.sqrt(1.0 / reading**2 + 1.0 / 2.0**2)
    least = least_errors("L17", STALLS, ONE, HASTY)
    assert least.keys() == trial("L17", STALLS, 1).keys()
    for name, kt in least.items():
        assert 0.9 * by_hand < kt < 1.35 * by_hand, name


def test_more_runs_allow_more_and_intervals_are_no_narrower_than_the_bound() -> None:
    one, three = (Campaign(runs=n, devices=("gear",)) for n in (1, 3))
    few, many = least_errors("L17", one, ONE), least_errors("L17", three, ONE)
    for name, outcome in trial("L17", three, 2).items():
        assert many[name] < few[name]
        assert outcome.half_width == pytest.approx(1.96 * many[name], rel=0.35)
        assert outcome.half_width > 1.7 * many[name]
