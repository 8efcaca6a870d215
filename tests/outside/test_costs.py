"""What a device costs in level flight, by forces, energies, and against the airplane held still: all JSBSim's own."""

import numpy as np
import pytest

from .airplanes import C310, L17, PC7, Outside
from .costs import at_speed, cost_area, energy_force_lbf, force_lbf, passes
from .flight_dynamics_model import entry_throttle, weight_lb
from .polars import device_area

ALTITUDE_FT = 3000.0


def test_forces_are_what_height_and_speed_say() -> None:
    throttle = entry_throttle(120.0, ALTITUDE_FT, L17)
    for flight in passes(L17, 103.0, ALTITUDE_FT, throttle, 30.0, 0.0):
        of_forces, of_energy = (
            at_speed(flight, values, 103.0) for values in (force_lbf(flight), energy_force_lbf(flight, weight_lb(L17)))
        )
        assert of_forces is not None
        assert of_energy == pytest.approx(of_forces, rel=0.003)


@pytest.mark.parametrize(
    ("airplane", "entry_kias", "at_kias"), [(L17, 135.0, (110.0, 90.0)), (C310, 128.0, (110.0, 95.0))]
)
def test_a_gear_costs_what_it_adds_in_drag_held_still(
    airplane: Outside, entry_kias: float, at_kias: tuple[float, ...]
) -> None:
    """Neither of these airplanes has thrust that blows over its gear."""
    found = cost_area(airplane, at_kias, ALTITUDE_FT, entry_throttle(entry_kias, ALTITUDE_FT, airplane), gear=1.0)
    np.testing.assert_allclose(found, device_area(airplane, at_kias, ALTITUDE_FT, 0.0, 1.0), rtol=0.01)


def test_a_slipstream_makes_flaps_dearer() -> None:
    """The model pc7 lets thrust blow over its wing; L17 does not, and there thrust only changes the trim."""
    blown, plain = (
        float(cost_area(a, (v,), ALTITUDE_FT, entry_throttle(e, ALTITUDE_FT, a), 15.0)[0])
        / float(device_area(a, (v,), ALTITUDE_FT, 15.0, 0.0)[0])
        for a, e, v in ((PC7, 104.0, 92.0), (L17, 120.0, 111.0))
    )
    assert 1.03 < blown < 1.15
    assert 0.95 < plain < 1.0
