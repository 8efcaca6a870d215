"""Heights an airplane gains while a device moves: against the energy they take, and a flight of JSBSim's L17."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.accuracy.outside_programme import THE_L17, deceleration, new_crew
from tests.methods.test_level_deceleration import BELIEFS, GEAR_RUN, METHOD, run_of
from tests.methods.test_out_and_back import METHOD as PAIR
from tests.methods.test_out_and_back import run_of as pair_of
from tests.methods.test_out_and_back import text_of as pair_text
from wringout.methods.level_deceleration.ballooning import BACK_S, ballooned, height_shares
from wringout.units import FOOT, KNOT, STANDARD_GRAVITY


def test_height_gained_is_speed_lost() -> None:
    """``h + V^2/2g`` stays: 10 ft at the top of a wave of 4 s travel take 1.0 kt off 100 kt."""
    speeds, times = np.full((1, 3), 100.0 * KNOT), np.array([0.0, 6.0, 12.0])
    out = ballooned(speeds, times, np.array([[10.0 * FOOT]]), [(np.zeros(1), np.array([4.0]))])
    exact = np.sqrt((100.0 * KNOT) ** 2 - 2.0 * STANDARD_GRAVITY * 10.0 * FOOT)
    assert out[0, 1] == pytest.approx(exact, rel=1e-3)
    assert out[0, [0, 2]] == pytest.approx(100.0 * KNOT)


@pytest.mark.parametrize("device", ["half", "full"])
def test_the_wave_is_that_of_an_airplane_nobody_here_wrote(device: str) -> None:
    """JSBSim's L17, flown level by a pilot who never reads 10 ft: out and in again, within a third of the height."""
    flight = deceleration(THE_L17, device, 120.0, new_crew(0), pair=True)
    assert flight.fully_out_s is not None
    assert flight.back_s is not None
    travel = np.array([flight.fully_out_s])
    for begins, way in ((0.0, 1.0), (flight.back_s, -1.0)):
        near = (flight.time_s >= begins) & (flight.time_s <= begins + travel[0] + BACK_S)
        off = flight.altitude_read_ft[near] - np.interp(begins, flight.time_s, flight.altitude_read_ft)
        share = height_shares(flight.time_s[near], np.array([begins]), travel)[0]
        height = float(share @ off / (share @ share))
        assert 6.0 < way * height < 12.0
        assert np.sqrt(np.mean((off - height * share) ** 2)) < abs(height) / 3.0


def test_each_move_has_a_height_of_its_own_within_the_band_held() -> None:
    """A gear only pitches the airplane: half of what flaps are given."""
    for text, share in ((GEAR_RUN, 0.25), (GEAR_RUN.replace("gear down", "flaps full"), 0.5)):
        for held in (50.0, 20.0):
            run = run_of(text, **{"altitude held": f"{held:g} ft"})
            own = {n.key: n for n in METHOD.nuisances(run, BELIEFS)}
            assert own["balloon 1"].sd == pytest.approx(share * held * FOOT)
            assert own["balloon 1"].share == "altitude drift"


def test_a_prediction_balloons_at_its_moves_and_a_pair_alike_with_fuel_burnt() -> None:
    """Ten feet at the way out and minus ten at the way back; a pair whose weight changes by a milligram is the same."""
    pair = pair_of(pair_text("flaps", "full"))
    row, level = BELIEFS.prior_row(), np.array([n.mean for n in PAIR.nuisances(pair, BELIEFS)])
    keys = [n.key for n in PAIR.nuisances(pair, BELIEFS)]
    high = level.copy()
    high[keys.index("balloon 1")], high[keys.index("balloon 2")] = 10.0 * FOOT, -10.0 * FOOT
    change = (PAIR.predict(pair, row, high, BELIEFS) - PAIR.predict(pair, row, level, BELIEFS)) / KNOT
    out, back = (move.select_s for move in pair.moves)
    near_out = (pair.time_s > out) & (pair.time_s < out + 12.0)
    near_back = (pair.time_s > back) & (pair.time_s < back + 12.0)
    assert change[near_out].min() < -0.5
    assert change[near_back].max() > 0.5
    assert np.abs(change[pair.time_s <= out]).max() == 0.0
    assert np.abs(change[(pair.time_s > out + 25.0) & (pair.time_s <= back)]).max() == 0.0
    lighter = replace(pair, return_mass_kg=pair.conditions.mass_kg - 1e-6)
    again = PAIR.predict(lighter, row, high, BELIEFS)
    assert np.abs(again - PAIR.predict(pair, row, high, BELIEFS)).max() < 1e-3 * KNOT
