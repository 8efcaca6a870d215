"""What pilots of six-cylinder retractable singles report, and whether a plausible airplane of ours can do the same.

Common practice, no source: level near 7,000 ft at power fixed for 120 kt clean, the airplane settles near 88 to 90 kt
with the gear out and near 79 to 80 kt with full flaps; power-off stalls near 59, 50 and 48 kt clean, half and full
flaps; a dial is good to 1 to 2 kt. These are bounds on what the model must be able to do, not measurements.
"""

import sys

import numpy as np
import pytest
from scipy.optimize import brentq

from tests.airplane.own_words import FT2, KT, LB
from tests.airplane.quillback import QUILLBACK, quillback
from wringout.airplane import vector as v
from wringout.airplane.textbook import lift_coefficient_at
from wringout.methods.level_deceleration.method import LevelDeceleration
from wringout.methods.level_deceleration.run import DecelerationRun
from wringout.methods.register import METHODS
from wringout.recordings.reader import read_recording

READING_KT = 2.0
BELIEFS = quillback(QUILLBACK.replace('"50 ± 2 kt"', '"48 ± 2 kt"').replace('"53 ± 2 kt"', '"50 ± 2 kt"'))
HEADER = "# altitude: 7000 ft\n# weight: 2900 lb\n"
GEAR_OUT = HEADER + "0:00, 120, stable\n0:10, 120, gear down\n0:16, 117\n1:00, 100\n2:00, 91\n5:00, 89\n"
FLAPS_OUT = HEADER + "0:00, 120, stable\n0:10, 120, flaps full\n0:16, 113\n1:00, 95\n2:00, 83\n5:00, 80\n"
DECELERATION = LevelDeceleration()


def run_of(text: str) -> DecelerationRun:
    return DECELERATION.from_recording("F", read_recording(text.encode(), "facts.csv"), {}, BELIEFS)[0]


RUNS = {"gear": run_of(GEAR_OUT), "flaps": run_of(FLAPS_OUT)}


def airplane(gear_ft2: float, flaps_ft2: float, propeller: float) -> np.ndarray:
    """A row within what would be believed of such an airplane before flight, flap area the same at any lift."""
    row = BELIEFS.prior_row()
    row[v.F_GEAR] = gear_ft2 * FT2
    row[v.F_FLAPS + 1 : v.F_FLAPS + v.MAX_SETTINGS] = flaps_ft2 * FT2
    row[v.F_FLAPS + 1] = 0.35 * flaps_ft2 * FT2
    row[v.FLAP_SLOPES : v.FLAP_SLOPES + v.MAX_SETTINGS] = 0.0
    row[v.EFFICIENCY_SLOPE] = propeller
    return row


def settled_kt(device: str, row: np.ndarray) -> float:
    """Indicated airspeed long after the device went out at the power for 120 kt."""
    run = RUNS[device]
    nuisance = np.array([n.mean for n in DECELERATION.nuisances(run, BELIEFS)])
    return float(DECELERATION.curve(run, row, nuisance, BELIEFS, np.array([0.0, 900.0]))[-1]) / KT


def areas_for(gear_kt: float, flaps_kt: float, propeller: float) -> tuple[float, float]:
    """Drag areas [ft2] of gear and full flaps that settle at these speeds."""
    gear = brentq(lambda f: settled_kt("gear", airplane(f, 6.0, propeller)) - gear_kt, 1.5, 5.5, xtol=1e-4)
    flaps = brentq(lambda f: settled_kt("flaps", airplane(4.0, f, propeller)) - flaps_kt, 2.5, 8.0, xtol=1e-4)
    return float(gear), float(flaps)


def test_a_plausible_airplane_settles_there() -> None:
    row = airplane(gear_ft2=3.7, flaps_ft2=5.5, propeller=0.1)
    assert settled_kt("gear", row) == pytest.approx(89.0, abs=READING_KT)
    assert settled_kt("flaps", row) == pytest.approx(79.5, abs=READING_KT)
    # Plausible: within a standard deviation of what the file believed before flight.
    for key, value in (("gear_area", 3.7 * FT2), ("efficiency_slope", 0.1)):
        assert abs(BELIEFS.parameters[BELIEFS.index(key)].prior.to_latent(value)) < 1.0


def test_the_drag_ratio_is_not_the_ratio_of_knots_lost() -> None:
    knots = (120.0 - 79.5) / (120.0 - 89.0)
    ratios = {}
    for propeller in (-0.1, 0.0, 0.1, 0.2):
        gear, flaps = areas_for(89.0, 79.5, propeller)
        ratios[propeller] = flaps / gear
        sys.stdout.write(
            f"propeller slope {propeller:+.1f}: gear {gear:.2f} ft2, full flaps {flaps:.2f} ft2, "
            f"drag ratio {flaps / gear:.2f} beside a ratio of knots lost of {knots:.2f}\n"
        )
    # Same knots, other drags: below the entry speed the propeller pulls harder, and how much harder depends on how its
    # efficiency falls with speed. The flap run ends slower, so it leans on that more.
    assert all(ratio > knots + 0.05 for ratio in ratios.values())
    assert ratios[-0.1] - ratios[0.2] > 0.05
    assert sorted(ratios.values(), reverse=True) == list(ratios.values())


def test_stall_speeds() -> None:
    series = METHODS["stall series"]
    text = "# altitude: 7000 ft\n# weight: 2900 lb\nflap, speed\nup, 59\nhalf, 50\nfull, 48\n"
    (run,) = series.from_recording("S", read_recording(text.encode(), "stalls.csv"), {}, BELIEFS)
    row = BELIEFS.prior_row()
    lifts = [lift_coefficient_at(2900 * LB, speed * KT, row[v.WING_AREA]) for speed in (59, 50, 48)]
    assert lifts[0] < 1.6  # what a wing without flaps can do (common practice, no source)
    assert lifts[2] < 2.3
    row[v.CL_MAXES : v.CL_MAXES + 3] = lifts
    speeds = series.predict(run, row, np.zeros(0), BELIEFS) / KT
    assert speeds == pytest.approx([59.0, 50.0, 48.0], abs=READING_KT)
    assert speeds == pytest.approx([59.0, 50.0, 48.0], abs=0.1)  # near sea level and 7,000 ft the dial reads alike
    (share,) = [h for h in series.by_hand(run, BELIEFS) if h.key == "flap travel"]
    # The same three speeds by hand: (1/50^2 - 1/59^2) / (1/48^2 - 1/59^2) of the gain in CLmax by half flap.
    by_hand = (1 / 50**2 - 1 / 59**2) / (1 / 48**2 - 1 / 59**2)
    assert share.value.value == pytest.approx(100 * by_hand, abs=0.5)
    assert by_hand > 0.7  # half flap gives most of the lift
