"""Maps: the verdict's own rule in every cell, the same bits however flown, borders, and what would settle a cell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import sobol_indices, uniform

from tests.techniques.invented import DETENTS, DOMAIN, FULL, MASS_KG, airplane_draws, situation
from wringout.errors import BadInputError
from wringout.techniques.flying.batch import Precision
from wringout.techniques.flying.matchup import fly_matchup
from wringout.techniques.judging.borders import Level, answer, borders
from wringout.techniques.judging.cells import judge_cell
from wringout.techniques.judging.map_inputs import cell_sensitivity
from wringout.techniques.judging.maps import (
    Axis,
    Condition,
    MapStudy,
    TechniqueMap,
    fly_cells,
    fly_map,
    inputs_at,
    map_study,
)
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.judging.sensitivity import first_order, ranking
from wringout.techniques.judging.verdict import judge
from wringout.techniques.stated.orders import orders
from wringout.techniques.stated.procedures import from_flare
from wringout.techniques.stated.types import Domain, Law, Thresholds

TECHNIQUES = orders(DETENTS, FULL)
WEIGHTS = Axis(Condition.WEIGHT, (0.9 * MASS_KG, MASS_KG, 1.1 * MASS_KG))
DELAYS = Axis(Condition.DELAY, (1.0, 4.0))


def study(draws: int = 60, x: Axis = WEIGHTS, y: Axis = DELAYS, **changes: object) -> MapStudy:
    made = map_study(
        airplane_draws(draws), situation(), DOMAIN, TECHNIQUES, Law.LEVEL_THEN_CLIMB, Thresholds(), 3, (x, y)
    )
    return replace(made, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "limits",
    [
        Thresholds(difference=0.5, probability=0.6),
        Thresholds(difference=3.0),
        Thresholds(min_stall_ratio=1.19, difference=0.3, probability=0.55),
        Thresholds(min_stall_ratio=1.9),
        Thresholds(score="climb_time", difference=0.2, probability=0.6),
    ],
)
def test_a_cell_says_what_the_verdict_says(limits: Thresholds) -> None:
    found = fly_matchup(airplane_draws(80), situation(), DOMAIN, TECHNIQUES, Law.HOLD_SPEED, limits, 3)
    verdict = judge(found)
    cell = judge_cell(found.scores, tuple(t.complete for t in TECHNIQUES), situation().start_height_m, limits)
    assert cell.outcome is verdict.outcome
    assert tuple(TECHNIQUES[j].key for j in cell.leading) == verdict.leading
    for pair in verdict.pairs:
        i, j = (next(n for n, t in enumerate(TECHNIQUES) if t.key == key) for key in (pair.first, pair.second))
        assert (cell.ahead[i, j], cell.ahead[j, i]) == (pair.first_ahead, pair.second_ahead)
        assert cell.gap[i, j] == pair.difference


def test_a_cell_flown_in_float64_is_the_matchup_of_its_conditions() -> None:
    narrow = Domain((MASS_KG, MASS_KG), DOMAIN.pressure_altitude_m, DOMAIN.isa_deviation_k, DOMAIN.entry_speed)
    held = study(precision=Precision.FLOAT64, y=Axis(Condition.GEAR_TRANSIT, (1.0, 2.0)))
    flown = fly_matchup(airplane_draws(60), situation(), narrow, TECHNIQUES, held.law, held.thresholds, 3)
    cell = next(iter(fly_cells(held, [1])))
    wanted = judge_cell(flown.scores, tuple(t.complete for t in TECHNIQUES), 30.0, held.thresholds)
    assert np.array_equal(cell.median, wanted.median)
    assert np.array_equal(cell.gap, wanted.gap)


def test_the_same_bits_on_any_number_of_threads_and_progress_and_stopping() -> None:
    told: list[tuple[int, int]] = []
    one = fly_map(study(), lambda done, total: told.append((done, total)), threads=1)
    three = fly_map(study(), threads=3)
    assert told == [(n, 6) for n in range(1, 7)]
    for a, b in zip(one.cells, three.cells, strict=True):
        assert np.array_equal(a.median, b.median)
        assert np.array_equal(a.ahead, b.ahead)
        assert a.interval_95 == b.interval_95

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fly_map(study(), stop)


def test_what_is_stated_reaches_the_draws_and_the_rest_stays() -> None:
    made = study()
    rows, conditions = inputs_at(made, {Condition.DELAY: 4.0, Condition.WEIGHT: 1000.0, Condition.FLAP_TRANSIT: 2.0})
    assert (conditions[:, 0] == 1000.0).all()
    assert conditions[:, 8:] == pytest.approx(2.0 * made.sampled[:, 8:])
    assert (conditions[:, 1:4] == made.sampled[:, 1:4]).all()
    assert (rows != made.rows).any(axis=0).sum() == 2
    dense = inputs_at(made, {Condition.DENSITY_ALTITUDE: 1000.0})[1]
    # standard atmosphere at 1,000 m: 1.1117 kg/m3 (US Standard Atmosphere 1976, table, from memory)
    assert dense[:, 4] == pytest.approx(1.1117, abs=2e-4)


def test_a_border_stands_where_two_techniques_are_level() -> None:
    made = study(thresholds=Thresholds(difference=0.1, probability=0.6))
    gap = np.zeros((2, 2))
    base = next(iter(fly_cells(made, [0])))
    cells = []
    for n in range(6):
        ahead = 3.0 - 2.0 * (n % 3)  # 3, 1, -1 m: level half-way between the second and the third weight
        best = 0 if ahead > 0 else 1
        gap = np.array([[0.0, ahead], [-ahead, 0.0]])
        cells.append(replace(base, outcome=type(base.outcome).FAVOURED, best=best, gap=gap, probability=0.95))
    found = borders(TechniqueMap(made, tuple(cells)))
    assert len(found) == 2
    assert {b.condition for b in found} == {Condition.WEIGHT}
    assert found[0].crossing == pytest.approx(1.05 * MASS_KG)
    assert found[0].level is Level.MEDIANS
    assert found[0].before == answer(cells[1])
    assert found[0].probabilities == (0.95, 0.95)


def test_a_border_with_one_leader_stands_where_it_is_probable_enough_or_breaks_its_margin() -> None:
    made = study(thresholds=Thresholds(difference=0.1, probability=0.8, allowed_share=0.1))
    base = next(iter(fly_cells(made, [0])))
    broken = np.zeros(len(TECHNIQUES))
    sure = replace(base, outcome=Outcome.FAVOURED, best=0, broken=broken, probability=0.9)
    unsure = replace(sure, outcome=Outcome.TOO_CLOSE, probability=0.6)
    out = replace(sure, outcome=Outcome.NOT_ACCEPTABLE, best=-1, broken=broken + 0.3)
    found = borders(TechniqueMap(made, (sure, unsure, unsure, sure, out, out)))
    one, two = found[:2]
    assert one.level is Level.PROBABILITY
    assert one.crossing == pytest.approx((0.9 + 0.1 / 3.0) * MASS_KG)  # a third of the way from 90 to 60 %
    assert two.level is Level.MARGIN
    assert two.crossing == pytest.approx((0.9 + 0.1 / 3.0) * MASS_KG)  # a third of the way from 0 to 30 %
    assert len(found) == 4  # and from the first delay to the second in both other columns


def test_a_third_axis_is_more_of_the_same_map() -> None:
    flat = study(y=Axis(Condition.GEAR_TRANSIT, (1.0, 2.0)), fixed={Condition.DELAY: 4.0})
    deep = study(axes=(WEIGHTS, Axis(Condition.GEAR_TRANSIT, (1.0, 2.0)), DELAYS))
    assert deep.cells == 12
    assert deep.places(11) == (2, 1, 1)
    for cell, wanted in zip(fly_cells(deep, range(6, 12)), fly_cells(flat, range(6)), strict=True):
        assert np.array_equal(cell.gap, wanted.gap)


def test_any_procedure_can_be_mapped() -> None:
    flare = from_flare(FULL, Law.HOLD_SPEED)
    made = replace(study(y=Axis(Condition.ENTRY_SPEED, (1.15, 1.3))), situation=flare)
    slow, fast = (cell.median[0] for cell in fly_cells(made, [0, 3]))
    assert fast > slow  # more energy at the start


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        (WEIGHTS, WEIGHTS, "weight is on two axes"),
        (Axis(Condition.DELAY, (3.0, 1.0)), WEIGHTS, "do not rise"),
        (Axis(Condition.DELAY, (1.0, 40.0)), WEIGHTS, "40 is out of range for pilot delay"),
        (Axis(Condition.ENTRY_SPEED, (0.9, 1.3)), WEIGHTS, "0.9 is out of range for entry speed"),
    ],
)
def test_a_map_that_cannot_be_flown_is_refused(x: Axis, y: Axis, words: str) -> None:
    with pytest.raises(BadInputError, match=words):
        study(x=x, y=y)


def ishigami(x: np.ndarray) -> np.ndarray:
    return np.asarray(np.sin(x[0]) + 7.0 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0]))


def test_variance_shares_of_the_ishigami_function() -> None:
    # Ishigami and Homma 1990: first-order shares 0.3139, 0.4424, 0 for a = 7, b = 0.1
    rng = np.random.default_rng(1)
    x = rng.uniform(-np.pi, np.pi, (3, 4000))
    found = [first_order(values, ishigami(x)) for values in x]
    by_scipy = sobol_indices(func=ishigami, n=4096, dists=[uniform(-np.pi, 2 * np.pi)] * 3, rng=rng).first_order
    for (share, error), exact, scipys in zip(found, (0.3139, 0.4424, 0.0), by_scipy, strict=True):
        assert share == pytest.approx(exact, abs=max(4.0 * error, 0.01))
        assert share == pytest.approx(scipys, abs=0.04)


def test_variance_shares_of_inputs_that_go_together() -> None:
    # Y = A + B, unit normals with correlation r: knowing A removes (1 + r)^2 / (2 + 2 r) of the variance
    rng = np.random.default_rng(2)
    a, b = rng.multivariate_normal([0, 0], [[1, 0.5], [0.5, 1]], 5000).T
    found = ranking({"a": a, "b": b, "flat": np.ones(5000), "noise": rng.random(5000)}, a + b, 1.0, 0.9)
    assert [item.key for item in found][2:] == ["noise"]
    assert found[0].variance == pytest.approx(0.75, abs=0.02)
    assert found[-1].variance < 0.005
    assert found[0].settled > found[-1].settled == 0.0


def test_what_would_settle_gear_or_flaps_first_is_an_input_that_varies() -> None:
    keys = [t.key for t in TECHNIQUES]
    made = study(400)
    found = cell_sensitivity(made, 1, keys.index("gear-up,flaps-up"), keys.index("flaps-up,gear-up"))
    assert {"gear_area", "flap_up_time", "reaction.1"} <= {item.key for item in found}
    assert "weight" not in {item.key for item in found}  # it is on an axis
    assert found[0].variance > 0.1
