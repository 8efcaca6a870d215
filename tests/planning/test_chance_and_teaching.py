"""The chance to decide and what a run teaches, against closed forms, a statistics library, and brute force."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from statsmodels.regression.linear_model import OLS
from statsmodels.stats.proportion import proportion_confint

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.vector import FloatArray
from wringout.errors import BadInputError
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw
from wringout.estimate.problem import StudyRun
from wringout.estimate.reduction import reduce_runs
from wringout.methods.register import METHODS
from wringout.planning.chance import Trial, believed_before_flying, chance_to_decide, is_decided, is_wrong, share_of
from wringout.planning.deciding import Call, Contest, usual_rivals
from wringout.planning.plan import TestPlan
from wringout.planning.readings import Planned, planned_run
from wringout.planning.teaching import (
    State,
    after,
    before_flying,
    information_of,
    lesson,
    lessons,
    marginal_information,
)
from wringout.planning.template import SIMULATED
from wringout.services.matchups.plans import PlanDocument, plan_of
from wringout.services.planning.words import EXAMPLES
from wringout.services.study.thresholds import thresholds_of
from wringout.techniques.stated.orders import Detent, orders
from wringout.techniques.stated.types import Law
from wringout.units import KNOT

Make = Callable[..., TestPlan]
FULL = {"device": "flaps", "to": "full", "entry speed": "100 kt"}


@pytest.fixture(scope="module")
def contest(beliefs: Beliefs) -> Contest:
    plan = plan_of(PlanDocument(), beliefs)
    known = orders([Detent(s.name, s.angle_rad) for s in beliefs.settings], plan.situation.start_flap_rad)
    first, second = usual_rivals(known)
    thresholds = thresholds_of({})
    return Contest(first, second, Law.HOLD_SPEED, plan.situation, plan.domain, thresholds, plan.limits)


def planned(make: Make, beliefs: Beliefs, *points: tuple[str, str, dict[str, str]]) -> list[Planned]:
    return [planned_run(p, beliefs, "called", "smooth") for p in make(*points).points]


@pytest.mark.parametrize(("count", "trials"), [(0, 12), (5, 12), (60, 60), (1, 200)])
def test_the_interval_is_the_exact_binomial_one(count: int, trials: int) -> None:
    """statsmodels, method "beta" (Clopper and Pearson)."""
    low, high = proportion_confint(count, trials, 0.05, method="beta")
    found = share_of(count, trials)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)


def test_information_is_that_of_a_regression_with_the_prior_as_readings() -> None:
    """Linear Gaussian: statsmodels' least squares over airplane and nuisances, priors as pseudo-readings."""
    rng = np.random.default_rng(3)
    common, own = rng.normal(size=(9, 4)), rng.normal(size=(9, 2))
    design = np.vstack((np.eye(6), np.hstack((common, own))))
    covariance = OLS(np.zeros(15), design).fit().normalized_cov_params[:4, :4]
    state = after(State(np.zeros(4), np.eye(4)), marginal_information(common, own))
    np.testing.assert_allclose(state.covariance, covariance, atol=1e-12)


def test_one_number_read_n_times_has_the_closed_form() -> None:
    """Variance 1/(1 + n/s^2), information log(1 + n/s^2)/2 nats (linear Gaussian, any text on experimental design)."""
    n, sd = 7, 0.6
    found = lesson("x", State(np.zeros(1), np.eye(1)), np.array([[n / sd**2]]), np.array([2.0]))
    assert found.sd_after**2 == pytest.approx(4.0 / (1.0 + n / sd**2))
    assert found.nats == pytest.approx(0.5 * np.log(1.0 + n / sd**2))


def test_the_expected_cut_agrees_with_brute_force(make: Make, beliefs: Beliefs) -> None:
    """The run is flown and fitted again and again; what is left of the flap area's doubt agrees with the prediction."""
    (run,) = planned(make, beliefs, ("F1", "level deceleration", FULL))
    state, g = before_flying(beliefs), np.zeros(len(beliefs.parameters))
    g[beliefs.index("flap_area")] = 1.0
    predicted = lesson("F1", state, information_of(run.as_planned, beliefs, state.z), g).sd_after
    rng, left = np.random.default_rng(5), []
    for _ in range(8):
        z = 0.3 * rng.standard_normal(g.size)  # near the middle of the beliefs, where the prediction is linearised
        joint = fit(beliefs, [run.simulated(beliefs.row_from_latent(z), beliefs, rng)])
        left.append(float(np.sqrt(joint.covariance[: g.size, : g.size][g > 0][:, g > 0][0, 0])))
    assert predicted == pytest.approx(float(np.median(left)), rel=0.25)
    assert predicted < 0.6


def test_the_draws_are_those_of_the_reduction(make: Make, beliefs: Beliefs) -> None:
    runs = planned(make, beliefs, ("F1", "level deceleration", FULL), ("G1", "level deceleration", {}))
    rng = np.random.default_rng(2)
    flown = [run.simulated(beliefs.prior_row(), beliefs, rng) for run in runs]
    np.testing.assert_array_equal(
        draw(fit(beliefs, flown), 60, 9).rows, reduce_runs(beliefs, flown, 60, 9).posterior.rows
    )


def test_every_method_can_be_simulated_in_a_plan_and_repeats_with_its_seed(make: Make, beliefs: Beliefs) -> None:
    assert set(METHODS) == SIMULATED
    for key in SIMULATED:
        (run,) = planned(make, beliefs, ("P1", key, dict(EXAMPLES.get(key, {}))))
        assert run.is_fitted == (key != "go around pairs")
        one, two, other = (
            _seen(run.simulated(beliefs.prior_row(), beliefs, np.random.default_rng(s))) for s in (1, 1, 2)
        )
        np.testing.assert_array_equal(one, two)
        assert not np.array_equal(one, other)


def _seen(flown: StudyRun) -> FloatArray:
    return np.asarray(flown.run.scores if flown.method.key == "go around pairs" else flown.method.observed(flown.run))


@pytest.mark.parametrize(("key", "until_kt", "faster"), [("level acceleration", 100, True), ("slow down", 110, False)])
def test_a_timed_run_ends_at_its_planned_speed(
    make: Make, beliefs: Beliefs, key: str, until_kt: int, faster: bool
) -> None:
    words = {"speeds": f"75, {until_kt} kt", "from speed": "140 kt", "to speed": f"{until_kt} kt"}
    (run,) = planned(make, beliefs, ("P1", key, {**EXAMPLES.get(key, {}), **words}))
    read_kt = run.simulated(beliefs.prior_row(), beliefs, np.random.default_rng(1)).run.ias_mps / KNOT
    before, last = read_kt[3:-1], read_kt[-1]
    assert (last > until_kt and (before <= until_kt).all()) if faster else last < read_kt[0]
    assert len(read_kt) < len(run.run.ias_mps)


def test_pairs_and_a_plan_without_points_add_nothing_to_what_is_believed(
    make: Make, beliefs: Beliefs, contest: Contest
) -> None:
    believed = believed_before_flying(beliefs, 1, 60)
    pairs = planned(make, beliefs, ("P1", "go around pairs", dict(EXAMPLES["go around pairs"])))
    one, other = (chance_to_decide(believed, some, contest, trials=4, draws=50) for some in ((), pairs))
    assert one == other
    assert one.unusable == 0
    assert lessons(pairs, beliefs, before_flying(beliefs), np.ones(len(beliefs.parameters))) == ()


def test_rough_air_scatters_more_and_a_logger_less(make: Make, beliefs: Beliefs) -> None:
    (point,) = make(("G1", "level deceleration", {})).points
    scatter = {}
    for recording, air in (("called", "smooth"), ("called", "rough"), ("logger", "smooth")):
        run = planned_run(point, beliefs, recording, air)  # type: ignore[arg-type]
        rng, row = np.random.default_rng(4), beliefs.prior_row()
        seen = np.array([run.simulated(row, beliefs, rng).run.ias_mps[0] for _ in range(60)])
        scatter[recording, air] = float(seen.std())
    assert scatter["logger", "smooth"] < scatter["called", "smooth"] < scatter["called", "rough"]


def test_a_chance_repeats_with_its_seed_and_can_be_stopped(make: Make, beliefs: Beliefs, contest: Contest) -> None:
    runs = planned(make, beliefs, ("F1", "level deceleration", FULL))
    believed, said = believed_before_flying(beliefs, 1), []
    one = chance_to_decide(believed, runs, contest, 4, 50, 7, lambda share, _: said.append(share))
    two = chance_to_decide(believed, runs, contest, 4, 50, 7, cancelled=lambda: False)
    assert one.trials == two.trials
    assert said == [0.25, 0.5, 0.75, 1.0]
    assert not one.stopped
    asked = iter([False, False, True])
    cut = chance_to_decide(believed, runs, contest, 4, 50, 7, cancelled=lambda: next(asked))
    assert cut.stopped
    assert cut.trials == one.trials[:2]
    with pytest.raises(BadInputError, match="stopped"):
        chance_to_decide(believed, runs, contest, 4, 50, 7, cancelled=lambda: True)


@pytest.mark.parametrize(
    ("said", "truth", "decided", "wrong"),
    [
        (Call.FIRST, Call.FIRST, True, False),
        (Call.FIRST, Call.SECOND, True, True),
        (Call.ALIKE, Call.FIRST, True, True),
        (Call.FIRST, Call.UNDECIDED, True, False),
        (Call.UNDECIDED, Call.FIRST, False, False),
        (Call.NOT_ACCEPTABLE, Call.NOT_ACCEPTABLE, True, False),
        (Call.NOT_ACCEPTABLE, Call.ALIKE, False, False),
    ],
)
def test_what_counts_as_decided_and_as_wrong(said: Call, truth: Call, decided: bool, wrong: bool) -> None:
    assert (is_decided(Trial(said, truth)), is_wrong(Trial(said, truth))) == (decided, wrong)
