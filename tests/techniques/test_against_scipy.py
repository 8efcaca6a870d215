"""The kernel, in both precisions, against scipy's DOP853 at tight tolerance on equations written a second time."""

from __future__ import annotations

import numpy as np
import pytest

from tests.techniques.by_scipy import GoAroundBySolveIvp
from tests.techniques.invented import FULL, HALF, airplane_row
from wringout.airplane import vector as v
from wringout.airplane.vector import FloatArray
from wringout.techniques.flying.batch import Batch, Precision, fly_cases
from wringout.techniques.flying.conditions import conditions_row
from wringout.techniques.flying.scores import CLIMB_TIME, ENERGY_HEIGHT, HEIGHT, SCORE_TIMES_S, STALL_RATIO
from wringout.techniques.flying.trace import BATCH_STEP_S, fly_one
from wringout.techniques.stated.go_arounds import go_around
from wringout.techniques.stated.types import (
    Action,
    Conditions,
    Device,
    EntrySpeed,
    Gate,
    GoAround,
    Handling,
    Law,
    Technique,
)
from wringout.units import DEGREE, FOOT, KNOT, SQUARE_FOOT

HEIGHT_TOLERANCE_M = 0.1 * FOOT
SPEED_TOLERANCE_MPS = 0.01 * KNOT


def random_row(rng: np.random.Generator) -> FloatArray:
    row = airplane_row()
    for column in (v.F_CLEAN, v.F_GEAR, v.OSWALD, v.RATED_POWER, v.GEAR_UP_TIME, v.FLAP_UP_TIME, v.LIFT_SLOPE):
        row[column] *= rng.uniform(0.85, 1.15)
    row[v.GEAR_BUMP] = rng.uniform(0.0, 0.4)
    row[v.KAPPA] = rng.uniform(0.0, 0.4)
    row[v.EFFICIENCY_SLOPE] = rng.uniform(-0.1, 0.4)
    if rng.random() < 0.3:
        row[v.PROPELLER_LAW], row[v.EFFICIENCY_SLOPE] = 1.0, rng.uniform(0.02, 0.08)
    row[v.CLEAN_SLOPE] = rng.uniform(-0.4, 0.4) * SQUARE_FOOT
    row[v.FLAP_SLOPES + 1], row[v.FLAP_SLOPES + 2] = rng.uniform(-0.5, 1.0, 2) * SQUARE_FOOT
    row[v.FLAP_FLOORS + 1], row[v.FLAP_FLOORS + 2] = (0.9, 1.1) * row[v.F_FLAPS + 1 : v.F_FLAPS + 3] * rng.random(2)
    row[v.MASS_FACTOR] = rng.uniform(0.97, 1.03)
    own = np.random.default_rng(int(1e9 * row[v.F_CLEAN]))  # dice of its own: the rest stays as it was drawn before
    row[v.THRUST_BEND] = own.uniform(-0.8, 0.8)
    return row


def random_technique(rng: np.random.Generator) -> Technique:
    """Return gear up and flaps up by way of half or not, in any order, gated, paused or interrupted at random."""
    flaps = [Action(Device.FLAPS, 0.0)]
    if rng.random() < 0.6:
        flaps.insert(0, Action(Device.FLAPS, HALF))
    gates = (Gate.NONE, Gate.NONE, Gate.POSITIVE_CLIMB, Gate.SPEED)
    chosen = gates[rng.integers(4)]
    value = {Gate.NONE: 0.0, Gate.POSITIVE_CLIMB: rng.uniform(0.1, 1.0), Gate.SPEED: rng.uniform(34.0, 38.0)}[chosen]
    actions: list[Action] = list(flaps)
    actions.insert(int(rng.integers(len(flaps) + 1)), Action(Device.GEAR, 0.0, gate=chosen, gate_value=value))
    spaced = tuple(
        Action(a.device, a.target, float(rng.uniform(0.0, 2.0)), a.gate, a.gate_value, bool(rng.random() < 0.7))
        for a in actions
    )
    return Technique("random", "Random", spaced[: int(rng.integers(1, 4))])


def random_situation(rng: np.random.Generator) -> GoAround:
    return GoAround(
        start_flap_rad=FULL,
        entry_speed=EntrySpeed(1.3),
        descent_rad=float(rng.uniform(2.0, 4.0)) * DEGREE,
        power_delay_s=float(rng.uniform(0.0, 2.0)),
        power_ramp_s=float(rng.choice([0.0, rng.uniform(0.5, 3.0)])),
        pitch_up_rad=None if rng.random() < 0.5 else float(rng.uniform(4.0, 9.0)) * DEGREE,
        climb_speed_factor=float(rng.uniform(1.15, 1.35)),
        handling=Handling(path_time_s=float(rng.uniform(0.8, 1.5)), speed_time_s=float(rng.uniform(3.0, 6.0))),
    )


def random_conditions(rng: np.random.Generator) -> Conditions:
    reactions = tuple(float(x) for x in rng.uniform(0.5, 3.0, 3))
    # sea level, so that calibrated and equivalent airspeed are the same for the speed gates
    return Conditions(float(rng.uniform(1200.0, 1450.0)), 0.0, float(rng.uniform(-10.0, 20.0)), 1.3, reactions)


def single_precision(
    row: FloatArray, situation: GoAround, at: Conditions, technique: Technique, law: Law
) -> FloatArray:
    """Return the scores of the same case by the float32 build of the lanes."""
    batch = Batch.paired(
        row[np.newaxis], [go_around(situation, law)], conditions_row(situation, at)[np.newaxis], [technique]
    )
    return np.asarray(fly_cases(batch, 0, 1, precision=Precision.FLOAT32)[0][0], dtype=np.float64)


@pytest.mark.parametrize("law", list(Law))
@pytest.mark.parametrize("seed", range(12))
def test_random_techniques_agree_with_scipy(seed: int, law: Law) -> None:
    rng = np.random.default_rng(1000 + seed)
    row, technique, situation = random_row(rng), random_technique(rng), random_situation(rng)
    at = random_conditions(rng)
    trace = fly_one(row, situation, at, technique, law, longest_step_s=BATCH_STEP_S)
    states, made = GoAroundBySolveIvp(row, situation, at, law).fly(technique.actions, SCORE_TIMES_S)
    assert not np.isnan(states).any()
    mine = np.array([[np.flatnonzero(np.abs(trace.t_s - t) < 1e-9)[-1]] for t in SCORE_TIMES_S])[:, 0]
    assert trace.height_m[mine] == pytest.approx(states[:, 2], abs=HEIGHT_TOLERANCE_M)
    assert trace.tas_mps[mine] == pytest.approx(states[:, 0], abs=SPEED_TOLERANCE_MPS)
    assert trace.distance_m[mine] == pytest.approx(states[:, 3], abs=0.2)
    assert trace.scores[HEIGHT : HEIGHT + 5] == pytest.approx(states[:, 2], abs=HEIGHT_TOLERANCE_M)
    energy = states[:, 2] + (states[:, 0] ** 2 - trace.tas_mps[0] ** 2) / (2.0 * 9.80665)
    assert trace.scores[ENERGY_HEIGHT : ENERGY_HEIGHT + 5] == pytest.approx(energy, abs=HEIGHT_TOLERANCE_M)
    fast = single_precision(row, situation, at, technique, law)
    speed = np.sqrt(
        trace.tas_mps[0] ** 2 + 2.0 * 9.80665 * (fast[ENERGY_HEIGHT : ENERGY_HEIGHT + 5] - fast[HEIGHT : HEIGHT + 5])
    )
    assert fast[HEIGHT : HEIGHT + 5] == pytest.approx(states[:, 2], abs=HEIGHT_TOLERANCE_M)
    assert speed == pytest.approx(states[:, 0], abs=SPEED_TOLERANCE_MPS)
    assert trace.action_times_s[: len(made)] == pytest.approx(made, abs=0.01)
    assert np.isnan(trace.action_times_s[len(made) :]).all()


def test_the_steps_of_a_batch_are_fine_enough_over_4000_random_techniques() -> None:
    rng = np.random.default_rng(77)
    batches = []
    for _ in range(4000):
        row, technique, situation = random_row(rng), random_technique(rng), random_situation(rng)
        at, law = random_conditions(rng), list(Law)[int(rng.integers(3))]
        table = conditions_row(situation, at)[np.newaxis]
        batches.append(Batch.paired(row[np.newaxis], [go_around(situation, law)], table, [technique]))
    fine = np.array([fly_cases(batch, 0, 1, 0.05, 1.0)[0][0] for batch in batches])
    for precision in Precision:
        found = np.array([fly_cases(batch, 0, 1, precision=precision)[0][0] for batch in batches], dtype=np.float64)
        heights = slice(0, ENERGY_HEIGHT + len(SCORE_TIMES_S))  # the lowest, those at the score times, energy heights
        assert np.abs(found[:, heights] - fine[:, heights]).max() < 0.1 * FOOT
        assert np.abs(found[:, STALL_RATIO] - fine[:, STALL_RATIO]).max() < 0.005
        assert found[:, CLIMB_TIME] == pytest.approx(fine[:, CLIMB_TIME], abs=0.05)


def test_a_flight_through_the_stall_margin_agrees_with_scipy_while_lift_is_capped() -> None:
    situation = GoAround(start_flap_rad=FULL, entry_speed=EntrySpeed(1.12), pitch_up_rad=14.0 * DEGREE)
    at = Conditions(1450.0, 0.0, 15.0, 1.12, (0.3, 0.3))
    technique = Technique("t", "T", (Action(Device.FLAPS, 0.0), Action(Device.GEAR, 0.0)))
    times = (3.0, 5.0, 8.0, 10.0, 15.0)
    trace = fly_one(airplane_row(), situation, at, technique, Law.HOLD_ATTITUDE, longest_step_s=BATCH_STEP_S)
    assert trace.scores[STALL_RATIO] == 1.0
    states, _ = GoAroundBySolveIvp(airplane_row(), situation, at, Law.HOLD_ATTITUDE).fly(technique.actions, times)
    height = np.interp(times, trace.t_s, trace.height_m)
    at_nodes = [k for k, t in enumerate(times) if np.abs(trace.t_s - t).min() < 1e-9]
    assert len(at_nodes) >= 3
    assert height[at_nodes] == pytest.approx(states[at_nodes, 2], abs=HEIGHT_TOLERANCE_M)
