"""Maps of a study: kept in the units of the trade, the same for the same question, refused in a sentence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from tests.services.texts import AIRPLANE
from wringout.errors import BadInputError, NotFoundError
from wringout.services.findings.reduce import Reduced
from wringout.services.matchups.compare import prepare
from wringout.services.matchups.found_best import found_best
from wringout.services.matchups.map_axes import read_written, written_axis
from wringout.services.matchups.maps import (
    MapAsked,
    fly_technique_map,
    forget_map,
    prepare_map,
    technique_map,
    technique_maps,
)
from wringout.services.matchups.next_run import label_of, ranked, setup_of
from wringout.services.matchups.plans import PlanDocument, usual_plan
from wringout.services.matchups.searches import SearchAsked, search_technique, technique_search
from wringout.services.opening import the_study
from wringout.services.register.entries import put_in_register
from wringout.services.register.printed_beside import search_beside_printed
from wringout.services.register.printed_orders import put_variant
from wringout.store import Store
from wringout.techniques.judging.maps import Condition, fly_map
from wringout.techniques.judging.sensitivity import run_to_fly
from wringout.techniques.stated.types import Law
from wringout.units import DEGREE, FOOT, POUND

ASKED = MapAsked({Condition.WEIGHT: "2,600 to 3,000 lb in 3", Condition.DELAY: "1 to 5 s in 2"}, draws=100)


def test_a_map_is_kept_in_the_units_of_the_trade_and_is_the_same_for_the_same_question(
    reduced: tuple[Store, Reduced],
) -> None:
    store, _ = reduced
    told: list[float] = []
    kept = fly_technique_map(store, None, ASKED, lambda share, _: told.append(share))
    assert told == sorted(told)
    assert (told[0], len(told)) == (0.0, 8)
    body = dict(kept.body)
    assert [axis["unit"] for axis in body["axes"]] == ["lb", "s"]
    assert body["axes"][0]["values"] == pytest.approx([2600.0, 2800.0, 3000.0])
    assert [cell["at"] for cell in body["cells"]][:4] == [[2600.0, 1.0], [2800.0, 1.0], [3000.0, 1.0], [2600.0, 5.0]]
    with store.reading() as view:
        contest, made, _ = prepare_map(view, the_study(view, None), ASKED)
    cell, kept_cell = fly_map(made).cells[4], body["cells"][4]
    assert kept_cell["difference"] * FOOT == pytest.approx(cell.difference)
    assert kept_cell["best"] == made.techniques[cell.best].key
    assert kept_cell["stall_ratio"] == pytest.approx(cell.stall_ratio)
    assert body["draws"] == 100
    assert contest.plan.document.model_dump(mode="json") == body["plan"]
    # without a change nothing new is kept, whatever the number of threads
    again = fly_technique_map(store, None, ASKED, threads=1)
    assert (again.revision, again.body) == (kept.revision, kept.body)
    found = technique_map(store, None, kept.key)
    assert found.current
    assert found.body == kept.body
    assert [one.key for one in technique_maps(store, None)] == [kept.key]
    forget_map(store, None, kept.key)
    with pytest.raises(NotFoundError, match="There is no map 'weight-delay-level'; fly it first"):
        technique_map(store, None, kept.key)


def test_a_map_that_is_stopped_leaves_nothing(reduced: tuple[Store, Reduced]) -> None:
    store, _ = reduced

    def stop(share: float, words: str) -> None:
        if share > 0.3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fly_technique_map(store, None, replace(ASKED, law=Law.HOLD_SPEED), stop)
    assert technique_maps(store, None) == ()


def test_what_would_settle_it_names_a_run_in_the_words_of_the_airplane(reduced: tuple[Store, Reduced]) -> None:
    store, _ = reduced
    with store.reading() as view:
        contest, made, _ = prepare_map(view, the_study(view, None), ASKED)
    ranking = ranked(fly_map(made), contest.beliefs)
    shares = [one.variance for one in ranking.inputs]
    assert shares == sorted(shares, reverse=True)
    run = ranking.next_run
    assert run is not None
    assert run.method == run_to_fly(run.key).method  # type: ignore[union-attr]
    last = len(contest.beliefs.settings) - 1
    name = contest.beliefs.settings[last].name
    assert label_of(f"flap_area.{last}", contest.beliefs) == f"drag area of flaps {name}"
    assert setup_of(f"flap_area.{last}", contest.beliefs) == {"flaps": name, "gear": "up"}


def test_ranges_are_read_as_people_write_them(reduced: tuple[Store, Reduced]) -> None:
    store, _ = reduced
    with store.reading() as view:
        situation = prepare(view, the_study(view, None), PlanDocument(), 100).plan.situation
    found = read_written({Condition.WEIGHT: "1200 kg to 3,000 lb in 2", Condition.DELAY: " 2 s "}, situation)
    assert found.axes[0].values == pytest.approx((1200.0, 3000.0 * POUND))
    assert found.held == {Condition.DELAY: 2.0}
    assert written_axis(found.axes[0], situation) == "2,645.55 to 3,000 lb in 2"


def changed(**written: str) -> MapAsked:
    return replace(
        ASKED, written={**ASKED.written, **{Condition[name.upper()]: text for name, text in written.items()}}
    )


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (lambda: changed(delay=""), "a map needs two conditions that vary"),
        (lambda: changed(delay="5 to 1 s"), "map, pilot delay: 5 is not below 1 s"),
        (lambda: changed(delay="1 to 5 ft"), "'ft' is not a unit of time"),
        (lambda: changed(delay="1 to 5 s in 900"), "'900' is no number of values; 2 to 60"),
        (lambda: changed(delay="1 to 90 s"), "90 s cannot be flown; 0 to 20 s"),
        (lambda: changed(weight="2,600 to 9,000 lb"), "is above the maximum mass"),
        (lambda: changed(weight="2,600 to 3,000 lb in 60", delay="1 to 5 s in 60"), "3,600 cells are too many"),
        (lambda: replace(ASKED, orders=("gear-up,wings-up",)), "'gear-up,wings-up' is no order of this plan"),
        (lambda: replace(ASKED, draws=20), "20 draws cannot be used"),
    ],
)
def test_what_cannot_be_flown_is_refused_in_a_sentence(
    reduced: tuple[Store, Reduced], asked: Callable[[], MapAsked], words: str
) -> None:
    with pytest.raises(BadInputError) as told:
        fly_technique_map(reduced[0], None, asked())
    assert words in str(told.value)


def test_the_best_reachable_is_kept_with_its_reason_and_what_is_printed_beside_it(
    reduced: tuple[Store, Reduced],
) -> None:
    store, _ = reduced
    entry = {
        "family": "Example", "model": "Example", "serials": "1 and on", "document": "Handbook", "revision": "A",
        "date": "1974-11-20", "steps": "power full; flaps up; gear up",
    }  # fmt: skip
    put_in_register(store, entry)
    put_variant(store, "Example", "Example", AIRPLANE.encode(), "airplane.toml", "gear-or-flaps")
    told: list[float] = []
    asked = SearchAsked({Condition.WEIGHT: "2,900 lb"}, draws=100, stops=1)
    kept = search_beside_printed(store, None, asked, date(2026, 1, 1), lambda share, _: told.append(share))
    assert told == sorted(told)
    body = kept.body
    assert body["held"] == [{"condition": "weight", "value": 2900.0, "unit": "lb"}]
    printed = next(one for one in body["orders"] if one["printed_in"])
    assert printed["key"] == "flaps-up,gear-up"
    assert any("Printed in Handbook" in text for text in body["printed"])
    assert body["tried"] > len(body["orders"]) > body["dropped"] - body["tried"]
    why = body["why"]
    total = [g + f + r for g, f, r in zip(why["gear_ft"], why["flaps_ft"], why["rest_ft"], strict=True)]
    assert total == pytest.approx(why["ahead_ft"], abs=1e-6)
    flight = body["flight"]
    drags = zip(*(flight[f"{part}_fpm"] for part in ("clean", "induced", "gear", "flaps")), strict=True)
    left = [thrust - sum(drag) for thrust, drag in zip(flight["thrust_fpm"], drags, strict=True)]
    assert left == pytest.approx(flight["total_fpm"], abs=1e-3)
    assert 1.0 < min(flight["stall_ratio"]) < 1.4
    again = search_beside_printed(store, None, asked, date(2026, 1, 1))
    assert (again.revision, again.body) == (kept.revision, body)
    assert technique_search(store, None, asked.law).body == body
    with pytest.raises(BadInputError, match="a range is written where one value is wanted"):
        search_technique(store, None, replace(asked, written=ASKED.written))
    with store.reading() as view:
        best = found_best(view, prepare(view, the_study(view, None), PlanDocument(), 100), asked.law)
    moved = [(a.device, a.target, a.wait_s) for a in best.technique.actions]
    said = [(one["device"], one["angle_deg"], one["wait_s"]) for one in body["best"]["actions"]]
    assert [(d, None if d == "gear" else pytest.approx(x / DEGREE), w) for d, x, w in moved] == said
    mapped = fly_technique_map(store, None, replace(ASKED, with_search=True))
    assert mapped.key == "weight-delay-level-found"
    assert best.sentence in mapped.body["support"]
    assert "at weight 2,900 lb" in best.sentence
    assert mapped.body["found_by_search"] == best.technique.key
    assert best.technique.key in {t["key"] for t in mapped.body["techniques"]}
    other = replace(ASKED, with_search=True, plan=usual_plan("go-around from the flare"))
    with pytest.raises(BadInputError, match="the search kept for “level, then climb” has another plan"):
        fly_technique_map(store, None, other)
    with pytest.raises(NotFoundError, match="Nothing was searched for a pilot who flies “hold speed”"):
        fly_technique_map(store, None, replace(ASKED, with_search=True, law=Law.HOLD_SPEED))
    with pytest.raises(BadInputError, match="9 stops between two settings cannot be tried"):
        search_technique(store, None, replace(asked, stops=9))
