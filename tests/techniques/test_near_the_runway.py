"""Flares, bounces and landings without power: steps end where thrust has a kink, and the runway is met at the end."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.techniques.invented import FULL, airplane_row
from tests.techniques.test_against_scipy import random_conditions, random_row, random_technique
from wringout.airplane import vector as v
from wringout.techniques.flying.batch import Batch, Precision, fly_cases
from wringout.techniques.flying.conditions import conditions_row
from wringout.techniques.flying.layout import M_AT, M_RAMP, M_TARGET, P_MOVES, move_rows, procedure_row
from wringout.techniques.flying.scores import CLIMB_TIME, CONTACT_SINK, HEIGHT, LOWEST_HEIGHT
from wringout.techniques.flying.trace import fly_one
from wringout.techniques.stated.procedure import PowerMove, Procedure
from wringout.techniques.stated.procedures import from_bounce, from_flare, power_loss_on_approach
from wringout.techniques.stated.types import Conditions, Law, Technique
from wringout.units import FOOT

HEIGHTS = [LOWEST_HEIGHT, *range(HEIGHT, CLIMB_TIME)]


def case(rng: np.random.Generator, procedure: Procedure, entry: float, fixed_pitch: bool) -> Batch:
    """Return one random airplane, day and technique."""
    row = random_row(rng)
    row[v.PROPELLER_LAW], row[v.EFFICIENCY_SLOPE] = (1.0, 0.03) if fixed_pitch else (0.0, 0.1)
    conditions = replace(random_conditions(rng), entry_speed=entry)
    rows = conditions_row(procedure, conditions)[np.newaxis]
    return Batch.paired(row[np.newaxis], [procedure], rows, [random_technique(rng)])


@pytest.mark.parametrize("fixed_pitch", [False, True])
def test_go_arounds_from_near_the_runway_are_flown_in_steps_short_enough(fixed_pitch: bool) -> None:
    # the bar of heights of go-arounds from the approach; before steps ended where power sets in, up to 2.3 ft were lost
    rng = np.random.default_rng(31)
    for law in (*Law, *Law, *Law):
        for procedure, entry in ((from_flare(FULL, law), 1.15), (from_bounce(FULL, law), 1.08)):
            batch = case(rng, procedure, entry, fixed_pitch)
            fine, _ = fly_cases(batch, 0, 1, 0.05, 1.0)
            for precision in Precision:
                found, _ = fly_cases(batch, 0, 1, precision=precision)
                assert found[0, HEIGHTS] == pytest.approx(fine[0, HEIGHTS], abs=0.2 * FOOT, nan_ok=True)


def test_an_idling_engine_pulls_from_the_first_movement_of_the_lever() -> None:
    flare = from_flare(FULL, Law.HOLD_SPEED)
    (move,) = move_rows(flare)[: int(procedure_row(flare)[P_MOVES])]
    assert (move[M_AT], move[M_RAMP], move[M_TARGET]) == (0.5, 2.0, 1.0)
    trace = fly_one(
        airplane_row(), flare, Conditions(1400.0, 0.0, 0.0, 1.15), Technique("nothing", "Nothing", (), False)
    )
    assert float(np.interp(0.45, trace.t_s, trace.thrust_n)) == 0.0
    assert float(np.interp(1.0, trace.t_s, trace.thrust_n)) > 0.15 * trace.thrust_n.max()


def test_a_ramp_of_power_from_a_dead_engine_to_full_is_two_moves() -> None:
    flare = replace(from_flare(FULL, Law.HOLD_SPEED), dead_area_m2=0.1)
    moves = move_rows(flare)[: int(procedure_row(flare)[P_MOVES])]
    assert moves[:, M_AT].tolist() == [0.5, 1.5]
    assert moves[:, M_RAMP].tolist() == [1.0, 1.0]
    assert moves[:, M_TARGET].tolist() == [0.0, 1.0]
    turned = replace(flare, power=(PowerMove(0.0, 4.0, 1.0), PowerMove(1.0, 1.0, 1.0)))  # hastened at -0.5
    assert move_rows(turned)[: int(procedure_row(turned)[P_MOVES]), M_TARGET].tolist() == [0.0, 0.0, 1.0]
    assert move_rows(turned)[1:3, M_RAMP] == pytest.approx([1.0 / 3.0, 2.0 / 3.0])


@pytest.mark.parametrize("precision", list(Precision))
def test_a_glide_that_ends_on_the_runway_says_how_hard(precision: Precision) -> None:
    # the end of the procedure and the touch are one moment; which of them a last bit put first decided, before
    rng = np.random.default_rng(7)
    for _ in range(24):
        height = float(rng.uniform(60.0, 300.0))
        found, _ = fly_cases(case(rng, power_loss_on_approach(FULL, height), 1.3, False), 0, 1, precision=precision)
        assert found[0, LOWEST_HEIGHT] == pytest.approx(-height, abs=0.01)
        assert 0.5 < found[0, CONTACT_SINK] < 30.0
