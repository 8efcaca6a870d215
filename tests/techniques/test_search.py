"""The search for the best reachable technique: never worse than the known orders, and dropping what breaks margins."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.techniques.invented import DETENTS, DOMAIN, FULL, airplane_draws, situation
from wringout.errors import BadInputError
from wringout.techniques.judging.maps import map_study
from wringout.techniques.judging.search import between, paused, search
from wringout.techniques.stated.orders import orders
from wringout.techniques.stated.types import Action, Device, Law, Technique, Thresholds

TECHNIQUES = tuple(t for t in orders(DETENTS, FULL) if t.complete)
STUDY = map_study(
    airplane_draws(80),
    situation(),
    DOMAIN,
    TECHNIQUES,
    Law.LEVEL_THEN_CLIMB,
    Thresholds(),
    3,
)


def test_partial_travel_and_pauses_are_tried() -> None:
    stops = between(DETENTS, FULL, 1)
    assert [d.name for d in stops] == ["up", "10°", "half", "30°", "full"]
    tried = paused(TECHNIQUES[0])
    assert len(tried) == 4 * len(TECHNIQUES[0].actions)
    assert len({t.key for t in tried}) == len(tried)


def test_the_best_found_is_no_worse_than_the_known_orders_and_the_reason_is_said() -> None:
    told: list[tuple[int, int]] = []
    printed = Technique("printed", "As printed", (Action(Device.GEAR, 0.0),), complete=False)
    found = search(STUDY, DETENTS, stops=1, progress=lambda *at: told.append(at), beside=(TECHNIQUES[0], printed))
    assert found.tried > len(TECHNIQUES)
    assert told == sorted(told)
    assert told[-1][0] == found.tried
    assert len(found.distances) == len(TECHNIQUES) + 1
    assert printed in [d.technique for d in found.distances]
    assert found.best.complete
    assert found.nearest in TECHNIQUES
    # it was chosen on other draws than these, so it may trail by a little, never by what matters
    assert min(d.mean for d in found.distances) > -STUDY.thresholds.difference
    assert max(d.median for d in found.distances) > 0.0
    assert found.interval_95[0] <= found.median <= found.interval_95[1]
    assert found.reason.startswith(("The first 4 s gain", "Neither gains"))


def test_partial_travel_is_left_out_where_it_makes_too_many_orders_and_a_fixed_gear_stays_down(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("wringout.techniques.judging.search.MOST_ORDERS", 20)  # of 32 with two stops in each gap
    fixed = tuple(t for t in orders(DETENTS, FULL, gear_down=False) if t.complete)
    found = search(replace(STUDY, techniques=fixed), DETENTS, stops=2, gear_moves=False)
    assert found.stops == 1
    assert {action.device for action in found.best.actions} == {Device.FLAPS}


def test_what_breaks_a_margin_is_dropped_and_a_search_without_anything_left_says_so() -> None:
    strict = replace(STUDY, thresholds=Thresholds(min_stall_ratio=1.175))
    found = search(strict, DETENTS, stops=1)
    assert found.dropped > 0
    with pytest.raises(BadInputError, match="no technique keeps the stated margins"):
        search(replace(STUDY, thresholds=Thresholds(min_stall_ratio=1.9)), DETENTS, stops=1)
