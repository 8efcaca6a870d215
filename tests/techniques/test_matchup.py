"""A matchup: common draws and conditions, and the same numbers however the work is cut."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.techniques.invented import CAS_ENTRY, DETENTS, DOMAIN, FULL, airplane_draws, airplane_row, situation
from wringout.airplane import vector as v
from wringout.errors import BadInputError
from wringout.techniques.flying.conditions import conditions_of, conditions_row, sample_conditions
from wringout.techniques.flying.layout import C_DENSITY, C_EAS_PER_CAS, C_ENTRY_EAS, C_REACTIONS, CONDITION_NAMES
from wringout.techniques.flying.limits import NO_LIMITS
from wringout.techniques.flying.matchup import fly_matchup, fly_matchups, representative
from wringout.techniques.flying.scores import SCORE_COUNT, SCORE_INDEX
from wringout.techniques.flying.trace import BATCH_STEP_S, fly_one, trace_of
from wringout.techniques.stated.orders import orders
from wringout.techniques.stated.types import Domain, EntryReference, EntrySpeed, Law, Matchup, Technique, Thresholds
from wringout.units import FOOT, KNOT

TECHNIQUES = orders(DETENTS, FULL)


def small(threads: int = 2, seed: int = 3, techniques: tuple[Technique, ...] = TECHNIQUES, draws: int = 70) -> Matchup:
    return fly_matchup(
        airplane_draws(draws), situation(), DOMAIN, techniques, Law.HOLD_SPEED, Thresholds(), seed, threads=threads
    )


def test_the_numbers_do_not_depend_on_the_number_of_threads() -> None:
    one = small(threads=1)
    for threads in (2, 3, 7):
        assert np.array_equal(one.scores, small(threads=threads).scores, equal_nan=True)
    assert one.scores.shape == (70, len(TECHNIQUES), SCORE_COUNT)
    assert not np.isnan(one.scores).any()


def test_the_seed_decides_the_conditions() -> None:
    assert np.array_equal(small().conditions, small().conditions, equal_nan=True)
    assert not np.array_equal(small().scores, small(seed=4).scores)


def test_every_technique_meets_the_same_draws_whoever_flies_beside_it() -> None:
    alone = small(techniques=TECHNIQUES[3:4])
    assert np.array_equal(alone.scores[:, 0], small().scores[:, 3])


def test_all_laws_share_conditions_and_keep_their_own_scores() -> None:
    found = fly_matchups(airplane_draws(8), situation(), DOMAIN, TECHNIQUES, tuple(Law), Thresholds(), 1)
    assert [m.law for m in found] == list(Law)
    for m in found[1:]:
        assert np.array_equal(m.conditions, found[0].conditions, equal_nan=True)
        assert not np.array_equal(m.scores, found[0].scores)


def test_one_trajectory_is_the_same_path_as_the_batch() -> None:
    matchup, rows = small(), airplane_draws(70)
    for draw in (0, 33, 69):
        for j in (0, 8, 12):
            alone = trace_of(
                rows[draw],
                situation(),
                matchup.conditions[draw],
                TECHNIQUES[j],
                Law.HOLD_SPEED,
                NO_LIMITS,
                BATCH_STEP_S,
            )
            assert np.array_equal(alone.scores, matchup.scores[draw, j])
    at = conditions_of(matchup.conditions[5])
    public = fly_one(rows[5], situation(), at, TECHNIQUES[2], Law.HOLD_SPEED, longest_step_s=BATCH_STEP_S)
    assert public.scores == pytest.approx(matchup.scores[5, 2], rel=1e-9)


def test_the_representative_draw_is_in_the_middle_and_all_traces_are_on_it() -> None:
    matchup = small()
    assert [t.technique for t in matchup.traces] == [t.key for t in TECHNIQUES]
    index = SCORE_INDEX[matchup.thresholds.score]
    drawn = matchup.scores[matchup.representative, :, index]
    share_below = np.mean(matchup.scores[:, :, index] < drawn, axis=0)
    assert ((share_below > 0.3) & (share_below < 0.7)).all()
    for j, trace in enumerate(matchup.traces):
        assert trace.scores[index] == pytest.approx(drawn[j], abs=0.1 * FOOT)
        assert np.diff(trace.t_s).max() <= 0.2 + 1e-9
        assert (np.diff(trace.t_s) >= 0.0).all()


def test_a_score_never_reached_does_not_hide_the_middle() -> None:
    scores = np.zeros((5, 2, SCORE_COUNT))
    column = SCORE_INDEX["climb_time"]
    scores[:, 0, column] = [1.0, 2.0, 3.0, math.inf, math.inf]
    scores[:, 1, column] = math.inf
    assert representative(scores, Thresholds(score="climb_time")) == 1


def test_conditions_fill_the_domain_and_reactions_have_their_mean_and_spread() -> None:
    drawn = sample_conditions(situation(reaction_s=(2.0, 0.7)), DOMAIN, 20_000, 11)
    ranges = (DOMAIN.mass_kg, DOMAIN.pressure_altitude_m, DOMAIN.isa_deviation_k, DOMAIN.entry_speed)
    for column, (low, high) in enumerate(ranges):
        assert low <= drawn[:, column].min() < low + 0.01 * (high - low)
        assert high >= drawn[:, column].max() > high - 0.01 * (high - low)
        assert drawn[:, column].mean() == pytest.approx(0.5 * (low + high), abs=0.02 * (high - low))
    reactions = drawn[:, C_REACTIONS:]
    # lognormal with the stated mean and standard deviation: standard errors 0.002 and about 0.003 s
    assert reactions.mean() == pytest.approx(2.0, abs=0.01)
    assert reactions.std() == pytest.approx(0.7, abs=0.02)
    assert np.log(reactions).mean() == pytest.approx(math.log(2.0) - 0.5 * math.log1p(0.35**2), abs=0.01)
    still = sample_conditions(situation(reaction_s=(0.0, 0.0)), DOMAIN, 5, 11)
    assert (still[:, C_REACTIONS:] == 0.0).all()
    assert len(CONDITION_NAMES) == drawn.shape[1]


def test_the_air_of_the_conditions_is_the_standard_atmosphere() -> None:
    # ISA density at 2,000 ft: 1.154897 kg/m3 (ICAO Doc 7488/3; recomputed outside the project)
    domain = replace(DOMAIN, pressure_altitude_m=(2000.0 * FOOT,) * 2, isa_deviation_k=(0.0, 0.0))
    drawn = sample_conditions(situation(), domain, 3, 0)
    assert drawn[:, C_DENSITY] == pytest.approx(1.154897, abs=2e-6)
    assert np.isnan(drawn[:, C_ENTRY_EAS]).all()
    assert drawn[:, C_EAS_PER_CAS] == pytest.approx(1.0, abs=5e-4)
    calibrated = situation(entry_speed=EntrySpeed(CAS_ENTRY, EntryReference.CAS))
    drawn = sample_conditions(calibrated, replace(domain, entry_speed=(CAS_ENTRY, CAS_ENTRY)), 3, 0)
    assert drawn[:, C_ENTRY_EAS] == pytest.approx(CAS_ENTRY, abs=0.02 * KNOT)


def test_conditions_survive_being_taken_apart() -> None:
    drawn = sample_conditions(situation(), DOMAIN, 4, 1)
    for row in drawn:
        assert conditions_row(situation(), conditions_of(row)) == pytest.approx(row, rel=1e-12, nan_ok=True)


def test_progress_is_told_and_can_stop_the_work() -> None:
    told: list[tuple[int, int]] = []
    fly_matchups(
        airplane_draws(70), situation(), DOMAIN, TECHNIQUES, tuple(Law), Thresholds(), 1,
        progress=lambda done, total: told.append((done, total)),
    )  # fmt: skip
    total = 70 * len(TECHNIQUES) * 3
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert told[-1] == (total, total)

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fly_matchup(airplane_draws(70), situation(), DOMAIN, TECHNIQUES, Law.HOLD_SPEED, Thresholds(), 1, progress=stop)


def test_more_flap_drag_to_shed_favours_flaps_first() -> None:
    """With the flap's area doubled, flaps first gains energy; with the gear's doubled, gear first does."""
    both = tuple(t for t in TECHNIQUES if t.key in ("gear-up,flaps-up", "flaps-up,gear-up"))
    gains = []
    for column, settings in ((v.F_FLAPS, v.MAX_SETTINGS), (v.F_GEAR, 1)):
        rows = np.tile(airplane_row(), (40, 1))
        rows[:, column : column + settings] *= 2.0
        rows[:, v.RATED_POWER] *= 1.3
        found = fly_matchup(rows, situation(), DOMAIN, both, Law.LEVEL_THEN_CLIMB, Thresholds(), 2)
        energy = found.scores[:, :, SCORE_INDEX["energy_height_30s"]]
        gains.append(float(np.median(energy[:, 1] - energy[:, 0])))
    assert gains[0] > 3.0
    assert gains[1] < -1.0


def test_more_threads_than_none_are_needed() -> None:
    with pytest.raises(BadInputError, match="give one or more"):
        small(threads=0)


def test_a_domain_is_taken_as_stated() -> None:
    point = Domain((1300.0, 1300.0), (0.0, 0.0), (0.0, 0.0), (1.3, 1.3))
    found = fly_matchup(
        np.tile(airplane_row(), (3, 1)), situation(reaction_s=(2.0, 0.0)), point, TECHNIQUES, Law.HOLD_SPEED,
        Thresholds(), 9,
    )  # fmt: skip
    assert np.ptp(found.scores, axis=0) == pytest.approx(np.zeros((len(TECHNIQUES), SCORE_COUNT)), abs=1e-12)
