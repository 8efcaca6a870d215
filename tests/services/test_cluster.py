"""A map on two worker processes started here: the same bits as on threads, also when one worker dies on the way."""

from __future__ import annotations

import os
import signal

import distributed
import numpy as np
import pytest

from tests.techniques.invented import DETENTS, DOMAIN, FULL, MASS_KG, airplane_draws, situation
from wringout.errors import BadInputError
from wringout.services.matchups.cluster import fly_map_on
from wringout.techniques.judging.maps import Axis, Condition, MapStudy, fly_map, map_study
from wringout.techniques.stated.orders import orders
from wringout.techniques.stated.types import Law, Thresholds


def study() -> MapStudy:
    return map_study(
        airplane_draws(50),
        situation(),
        DOMAIN,
        [t for t in orders(DETENTS, FULL) if t.complete],
        Law.LEVEL_THEN_CLIMB,
        Thresholds(),
        3,
        (
            Axis(Condition.WEIGHT, tuple(np.linspace(0.9, 1.05, 6) * MASS_KG)),
            Axis(Condition.DENSITY_ALTITUDE, tuple(np.linspace(0.0, 2000.0, 6))),
        ),
    )


def test_two_workers_give_the_same_bits_and_one_may_die() -> None:
    made = study()
    wanted = fly_map(made)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None, silence_logs=50
    ) as cluster:
        killed: list[int] = []

        def kill_one(done: int, total: int) -> None:
            if done == 1:
                worker = next(iter(cluster.workers.values()))
                killed.append(worker.process.process.pid)
                os.kill(killed[0], signal.SIGKILL)

        found = fly_map_on(made, cluster.scheduler_address, kill_one)
    assert len(killed) == 1
    for a, b in zip(found.cells, wanted.cells, strict=True):
        assert (a.outcome, a.leading, a.probability) == (b.outcome, b.leading, b.probability)
        assert np.array_equal(a.interval_95, b.interval_95, equal_nan=True)
        assert np.array_equal(a.median, b.median)
        assert np.array_equal(a.gap, b.gap)


def test_an_address_without_a_scheduler_is_refused_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("wringout.services.matchups.cluster._LONGEST_WAIT_S", 1)
    with pytest.raises(BadInputError, match="no Dask scheduler answers"):
        fly_map_on(study(), "tcp://127.0.0.1:9")
