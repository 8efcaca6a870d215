"""Every method on three airplanes nobody here wrote, through text, against what their simulator says of them.

Truth: the models L17, pc7 and c310 in the PyPI wheel of JSBSim 1.3.3 (see tests/outside). Bars set before anything was
measured: clean CD0 and k within 5 % from five glides, stall speeds within 1 kt, best-rate speed within 3 kt, a device
within 3 % from out-and-back pairs, the position correction within 1 kt, and 95 % intervals that hold the truth in 90 to
99 % of all. Root mean square errors over few repeats here; docs/accuracy-methods.md has more of each, rough air
too, and says where a bar is missed and why. A missed bar is not widened here: what is true instead is asserted, and the
comment says so.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tests.accuracy.outside_programme import PROGRAMMES, airplane_text, dial, exact_crew, new_crew
from tests.accuracy.outside_texts import climbs_text, deceleration_text, glides_text, legs_text
from tests.accuracy.outside_trials import (
    CLIMBS,
    GLIDES,
    GLIDES_KNOWN,
    STALLS,
    Campaign,
    reduced,
    taken_in,
    trial,
    true_values,
)
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document

MODELS = tuple(PROGRAMMES)
EACH = pytest.mark.parametrize("model", MODELS)
PAIRS = Campaign(pairs=3, devices=("gear",))
GLIDED, STALLED, CLIMBED, PAIRED = 24, 32, 6, 10  # repeats of each


@EACH
def test_five_glides_give_the_clean_polar_within_five_percent(model: str) -> None:
    """With the crew's word on how closely it held zero thrust; see the next test for glides without it."""
    glides = trial(model, GLIDES_KNOWN, GLIDED)
    assert glides["k"].rms < 5.0
    assert glides["CD0"].rms < 5.0
    programme = PROGRAMMES[model]
    exact, truth = reduced(programme, GLIDES_KNOWN, exact_crew()), true_values(programme, GLIDES_KNOWN)
    for name in ("CD0", "k"):
        assert exact[name][0] == pytest.approx(truth[name][0], rel=0.05)


@EACH
def test_a_thrust_nobody_knows_stays_in_the_drag_at_zero_lift_and_the_interval_says_so(model: str) -> None:
    """Believed without a word: a hundredth of the disk as drag area, 10 to 30 lbf. The bar is missed by two of three.

    It shifts all glides alike, so that they tell k and not CD0, which stays about as good as the handbook's best glide.
    """
    known, unknown = trial(model, GLIDES_KNOWN, GLIDED), trial(model, GLIDES, GLIDED)
    assert unknown["CD0"].held >= 0.9
    assert unknown["CD0"].half_width > 1.3 * known["CD0"].half_width
    assert unknown["k"].rms < 5.0
    assert unknown["k"].half_width < 1.1 * known["k"].half_width


@EACH
def test_three_stalls_of_each_setting_give_stall_speeds_within_a_knot(model: str) -> None:
    for outcome in trial(model, STALLS, STALLED).values():
        assert outcome.rms < 1.0, outcome.name


@EACH
def test_five_climbs_give_the_best_rate_speed_within_three_knots(model: str) -> None:
    assert trial(model, CLIMBS, CLIMBED)["best rate"].rms < 3.0


def test_intervals_of_steady_flight_hold_the_truth_about_as_often_as_they_say() -> None:
    campaigns = ((GLIDES, GLIDED), (STALLS, STALLED), (CLIMBS, CLIMBED))
    held = [one.held for model in MODELS for flown, n in campaigns for one in trial(model, flown, n).values()]
    assert 0.90 <= np.mean(held) <= 0.99


@EACH
def test_three_pairs_give_the_gear_within_three_percent(model: str) -> None:
    assert max(one.rms for one in trial(model, PAIRS, PAIRED).values()) < 3.0


def test_flaps_entered_fast_and_slow_come_out_of_one_fit() -> None:
    """L17's full flaps cost 2.6 ft2 above a lift coefficient of 0.65, however slow: entries from 120 to 98 kt see it.

    With a flap's area a straight line in lift, without a floor, they came out 11 % low at entry and no interval held.
    """
    flaps = Campaign(pairs=3, devices=("full",))
    programme, found = PROGRAMMES["L17"], trial("L17", flaps, 4)
    exact, truth = reduced(programme, flaps, exact_crew()), true_values(programme, flaps)
    for name, outcome in found.items():
        assert exact[name][0] == pytest.approx(truth[name][0], rel=0.06)
        assert outcome.rms < 7.0, name
    assert np.mean([outcome.held for outcome in found.values()]) >= 0.75


@EACH
def test_legs_in_wind_give_the_position_correction_within_a_knot(model: str) -> None:
    """Three legs at each speed in a wind nobody knows; the dial's own bias is part of the correction."""
    off, held = [], []
    for seed in (1, 2):
        crew = new_crew(seed)
        beliefs = airplane_from_document(parse_airplane(airplane_text(PROGRAMMES[model], crew)))
        for kias in PROGRAMMES[model].glides[1::2]:
            legs = taken_in("L1", legs_text(PROGRAMMES[model], kias, crew), beliefs)
            results = {result.key: result for result in legs.method.by_hand(legs.run, beliefs)}
            value = results["position correction"].value
            truth = kias - float(dial(np.array([kias]), np.zeros(1), crew)[0])
            low, high = value.interval()
            off.append(value.value - truth)
            held.append(low <= truth <= high)
    assert np.sqrt(np.mean(np.square(off))) < 1.0
    assert np.mean(held) >= 0.8


def test_what_is_fitted_came_out_of_text_with_errors_in_it() -> None:
    """Whole knots every 6 s, a mark beside its call, errors that are new with every repeat."""
    programme = PROGRAMMES["L17"]
    first, again, other = (deceleration_text(programme, "gear", 130.0, new_crew(seed)) for seed in (1, 1, 2))
    assert first == again != other
    rows = [line.split(", ") for line in first.splitlines() if line and not line.startswith(("#", "time"))]
    read = [(float(row[0]), row[1]) for row in rows if row[1]]
    assert {b - a for (a, _), (b, _) in pairwise(read)} == {6.0}
    assert all(knots.isdigit() for _, knots in read)
    assert [row[2] for row in rows if len(row) > 2] == ["gear down"]
    assert "# power: zero thrust" in glides_text(programme, new_crew(1))
    assert climbs_text(programme, new_crew(1)).count("start") == 5
