"""Heights an airplane gains while a device moves: against the energy they take, and a flight of JSBSim's L17."""

from __future__ import annotations

import numpy as np
import pytest

from tests.accuracy.outside_programme import THE_L17, deceleration, new_crew
from tests.methods.test_level_deceleration import BELIEFS, GEAR_RUN, METHOD, run_of
from wringout.methods.level_deceleration.ballooning import BACK_S, ballooned, height_shares
from wringout.units import FOOT, KNOT, STANDARD_GRAVITY


def test_height_gained_is_speed_lost() -> None:
    """``h + V^2/2g`` stays: 10 ft at the top of a wave of 4 s travel take 1.0 kt off 100 kt."""
    speeds, times = np.full((1, 3), 100.0 * KNOT), np.array([0.0, 6.0, 12.0])
    out = ballooned(speeds, times, np.array([[10.0 * FOOT]]), [(np.zeros(1), np.array([4.0]))])
    exact = np.sqrt((100.0 * KNOT) ** 2 - 2.0 * STANDARD_GRAVITY * 10.0 * FOOT)
    assert out[0, 1] == pytest.approx(exact, rel=1e-3)
    assert out[0, [0, 2]] == pytest.approx(100.0 * KNOT)


@pytest.mark.parametrize(("device", "sign"), [("half", 1.0), ("full", 1.0)])
def test_the_wave_is_that_of_an_airplane_nobody_here_wrote(device: str, sign: float) -> None:
    """JSBSim's L17, flown level by a pilot who never reads 10 ft: out and in again, within a third of the height."""
    flight = deceleration(THE_L17, device, 120.0, new_crew(0), pair=True)
    assert flight.fully_out_s is not None
    assert flight.back_s is not None
    travel = np.array([flight.fully_out_s])
    for begins, way in ((0.0, sign), (flight.back_s, -sign)):
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
