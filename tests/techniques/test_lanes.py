"""The lanes: the same bits however the work is cut, two precisions of one source, and the polynomials in them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.techniques.invented import DETENTS, DOMAIN, FULL, MASS_KG, airplane_draws, situation
from wringout.errors import BadInputError
from wringout.techniques.flying.batch import Batch, Precision, fly_cases, fly_pieces
from wringout.techniques.flying.conditions import conditions_row, sample_conditions
from wringout.techniques.flying.layout import C_REACTIONS
from wringout.techniques.flying.motion import Case, power_of, thrust_at
from wringout.techniques.flying.polynomials import arcsine, cosine, disk_share, power_series, relaxation, sine
from wringout.techniques.flying.scores import CLIMB_TIME, HEIGHT, LOWEST_HEIGHT, SCORE_COUNT, STALL_RATIO
from wringout.techniques.flying.start import S_SIZE, case_at
from wringout.techniques.stated.go_arounds import go_around
from wringout.techniques.stated.orders import orders
from wringout.techniques.stated.procedures import from_bounce, from_flare
from wringout.techniques.stated.types import Conditions, Law
from wringout.units import FOOT

TECHNIQUES = orders(DETENTS, FULL)


def study(draws: int = 12) -> Batch:
    """Return a grid of go-arounds under every law, and of one from the flare, one from a bounce."""
    s = situation()
    procedures = [
        *(go_around(s, law) for law in Law),
        from_flare(FULL, Law.HOLD_ATTITUDE),
        from_bounce(FULL, Law.HOLD_SPEED),
    ]
    return Batch.paired(airplane_draws(draws), procedures, sample_conditions(s, DOMAIN, draws, 4), TECHNIQUES)


@pytest.mark.parametrize("precision", list(Precision))
def test_the_same_bits_for_any_cutting_and_any_number_of_threads(precision: Precision) -> None:
    batch = study()
    whole, _ = fly_cases(batch, 0, len(batch), precision=precision)
    assert whole.shape == (12 * 5 * len(TECHNIQUES), SCORE_COUNT)
    for piece, threads in ((7, 1), (100, 3), (len(batch), 2)):
        cut = np.concatenate([scores for _, scores in fly_pieces(batch, piece, threads, precision)])
        assert np.array_equal(cut, whole, equal_nan=True)
    for case in (0, 17, len(batch) - 1):
        alone, _ = fly_cases(batch, case, case + 1, precision=precision)
        assert np.array_equal(alone[0], whole[case], equal_nan=True)


def test_both_precisions_of_the_one_source_agree() -> None:
    batch = study()
    double, single = (fly_cases(batch, 0, len(batch), precision=p)[0].astype(np.float64) for p in Precision)
    heights = [LOWEST_HEIGHT, *range(HEIGHT, CLIMB_TIME)]
    assert single[:, heights] == pytest.approx(double[:, heights], abs=0.05 * FOOT)
    assert single[:, STALL_RATIO] == pytest.approx(double[:, STALL_RATIO], abs=0.001)
    assert np.array_equal(np.isinf(single), np.isinf(double))


def test_a_map_meets_every_cell_with_every_draw_and_adds_delays_and_slow_motors() -> None:
    s = situation()
    conditions = [conditions_row(s, Conditions(m * MASS_KG, h, 10.0, 1.3)) for m in (0.9, 1.0) for h in (0.0, 1500.0)]
    reactions = sample_conditions(s, DOMAIN, 6, 2)[:, C_REACTIONS:]
    extras = np.array([(0.0, 1.0, 1.0), (0.0, 1.0, 1.0), (2.0, 1.5, 1.0), (0.0, 1.0, 2.0)])
    rows, law = airplane_draws(6), [go_around(s, Law.LEVEL_THEN_CLIMB)]
    batch = Batch.crossed(rows, law, np.array(conditions), reactions, TECHNIQUES[:3], extras=extras)
    scores, _ = fly_cases(batch, 0, len(batch))
    table = scores.reshape(4, 6, 3, SCORE_COUNT)
    for cell in (0, 1):
        paired = np.tile(conditions[cell], (6, 1))
        paired[:, C_REACTIONS:] = reactions
        alone, _ = fly_cases(one := Batch.paired(rows, law, paired, TECHNIQUES[:3]), 0, len(one))
        assert np.array_equal(alone.reshape(6, 3, SCORE_COUNT), table[cell], equal_nan=True)
    assert (table[1, :, :, HEIGHT + 3] < table[0, :, :, HEIGHT + 3]).all()


def test_cases_a_grid_does_not_have_and_no_threads_are_refused() -> None:
    batch = study(2)
    with pytest.raises(BadInputError, match="are not in a grid of"):
        fly_cases(batch, 0, len(batch) + 1)
    with pytest.raises(BadInputError, match="give one or more"):
        next(fly_pieces(batch, 10, threads=0))


@pytest.mark.parametrize("bend", [-0.8, 0.0, 0.8])
@pytest.mark.parametrize("fixed", [False, True])
def test_the_slope_of_thrust_is_that_of_its_differences(fixed: bool, bend: float) -> None:
    """Within the few per cent that the disk's slope is good to, of the ideal disk's own slope T / V."""
    names, row = Case._fields, np.zeros(S_SIZE)
    said = {
        "density": 1.2,
        "thin": 1.0 / 1.2,
        "per_two_disks": 0.5 / 2.9,
        "reference_speed": 45.0,
        "start_power": 1.2e5,
    }
    said |= {"per_reference_speed": 1.0 / 45.0, "thrust_bend": bend, "fixed_pitch": float(fixed), "polar": 0.15 * fixed}
    for name, value in said.items():
        row[names.index(name)] = value
    first = names.index("powers")
    row[first : first + 8] = power_series(0.0 if fixed else 0.2)
    case = case_at(row, 0, 1)
    for speed in np.linspace(25.0, 80.0, 23):
        here, step = thrust_at(case, 0.0, speed, 0.0), 1e-3
        ahead, behind = (thrust_at(case, 0.0, speed + way * step, 0.0).thrust for way in (1.0, -1.0))
        assert here.slope == pytest.approx((ahead - behind) / (2.0 * step), abs=0.03 * here.thrust / speed)


@pytest.mark.parametrize("real", [np.float32, np.float64])
def test_the_polynomials_are_as_accurate_as_they_say(real: type) -> None:
    rounding = 4e-7 if real is np.float32 else 0.0
    for x in np.linspace(-1.2, 1.2, 97):
        assert sine(real(x)) == pytest.approx(math.sin(x), abs=4e-10 + rounding)
        assert cosine(real(x)) == pytest.approx(math.cos(x), abs=4e-9 + rounding)
    for x in np.linspace(-0.5, 0.5, 97):
        assert arcsine(real(x)) == pytest.approx(math.asin(x), abs=5e-8 + rounding)
    first, row = Case._fields.index("powers"), np.zeros(S_SIZE)
    for exponent in np.linspace(-0.5, 0.5, 11):
        row[first : first + 8] = power_series(exponent)
        case = case_at(row.astype(real), 0, 1)
        for ratio in np.linspace(0.4, 2.2, 37):
            part = (ratio - 1.0) / (ratio + 1.0)
            bound = 2e-6 if 0.6 <= ratio <= 1.7 else 3e-4
            assert power_of(real(part), case) == pytest.approx(ratio**exponent, rel=bound + rounding)
    for load in (0.0, *np.geomspace(1e-4, 480.0, 200)):
        exact = brentq(lambda z, k=load: k * z**3 + z - 1.0, 0.0, 1.0, xtol=1e-15)
        assert disk_share(real(load)) == pytest.approx(exact, rel=2e-6 + rounding)
    for x in np.linspace(-3.0, -0.01, 60):
        found = relaxation(real(x))
        assert found.three == pytest.approx((math.expm1(x) - x - x * x / 2.0) / x**3, rel=3e-7 + rounding)
        assert found.fade == pytest.approx(math.exp(x), abs=9e-6 + rounding)
        assert found.one == pytest.approx((found.fade - 1.0) / x, abs=1e-12 + 100 * rounding)
