"""Device drag of airplanes with constant-speed propellers, from hand-called readings, in still and in rough air.

Truth: the models pc7 (one turboprop) and c310 (two piston engines, taken as one disk of twice the area) in the PyPI
wheel of JSBSim 1.3.3 (see tests/outside). Bars set before anything was measured: within 5 % with three runs, within 3 %
with out-and-back pairs. docs/accuracy-methods.md has more repeats, and says where a bar is missed and why.
"""

from __future__ import annotations

from tests.accuracy.outside_trials import Campaign, Outcome, trial

RUNS, PAIRS = Campaign(runs=3, devices=("gear",)), Campaign(pairs=3, devices=("gear",))
REPEATS, PAIRED, ROUGH = 6, 8, 3


def rms(outcomes: dict[str, Outcome]) -> float:
    return max(one.rms for one in outcomes.values())


def test_three_runs_give_the_gear_of_the_turboprop_within_five_percent() -> None:
    assert rms(trial("pc7", RUNS, REPEATS)) < 5.0


def test_three_runs_of_the_twin_miss_the_bar_and_pairs_do_better() -> None:
    """Thrust of the c310 grows 3 to 9 % more, as it slows, than a smooth law fitted elsewhere says: the gear reads low.

    Missed: 5 %. True instead: below 10 %, and less than that from pairs, where thrust cancels.
    """
    runs, pairs = trial("c310", RUNS, REPEATS), trial("c310", PAIRS, PAIRED)
    assert rms(runs) < 10.0
    assert all(one.bias < 0.0 for one in runs.values())
    assert rms(pairs) < 0.75 * rms(runs)


def test_rough_air_costs_accuracy_and_the_interval_widens_with_it() -> None:
    """Missed in light turbulence: 3 %. Slow gusts move the speed as drag would; the interval knows."""
    still, rough = trial("pc7", PAIRS, PAIRED), trial("pc7", PAIRS, ROUGH, 1)
    assert rms(still) < 3.0
    assert rms(still) < rms(rough) < 15.0
    for name, one in rough.items():
        assert one.half_width > 1.5 * still[name].half_width
        assert one.held == 1.0  # of the 3 repeats
