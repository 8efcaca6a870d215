"""The matrix of a family and its anomalies: each kind is found where it is and not where it is not."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.handbooks.made import entry
from wringout.handbooks.agreement import ASK, Kind, Variant, agreement
from wringout.handbooks.flown import Against, FlownOrder, FlownVariant, LawResult, Margins
from wringout.handbooks.queries import supersessions

FOOT = 0.3048
GEAR_FIRST = entry(model="Q2", steps="power full; gear up; flaps up")
FLAPS_FIRST = entry(model="Q1", steps="power full; flaps half; gear up; flaps up")
NONE = entry(model="Q3", prints="none", steps="")


def order(key: str, median_ft: float, stall: float = 1.2, low_ft: float = 80.0, acceptable: bool = True) -> FlownOrder:
    margins = Margins(stall, low_ft * FOOT, 0.0, 0.0, 0.0)
    m = median_ft * FOOT
    return FlownOrder(key, key, True, m, (m - 5, m + 5), acceptable, margins, f"“{key}”: said.")


def flown(
    cost_ft: float, outcome: str, best: FlownOrder, printed: FlownOrder, second_ft: float | None = None
) -> FlownVariant:
    costs = [cost_ft] if second_ft is None else [cost_ft, second_ft]
    against = tuple(
        Against(printed.key, outcome, c * FOOT, ((c - 8) * FOOT, (c + 8) * FOOT), 0.95, f"pair of {c:.0f} ft.")
        for c in costs
    )
    law = LawResult("hold speed", best, (printed,) * len(costs), (), against, (), "domain")
    return FlownVariant(
        "energy_height_30s", "energy height at 30 s", "m", "ft", True, 25 * FOOT, "said before.", 18, 400, 1, (law,)
    )  # fmt: skip


def kinds(*variants: Variant) -> list[Kind]:
    return [item.kind for item in agreement(variants).anomalies]


def test_the_same_devices_in_reverse_order_are_seen_in_one_family_only() -> None:
    assert kinds(Variant(GEAR_FIRST), Variant(FLAPS_FIRST)) == [Kind.REVERSED]
    assert kinds(Variant(GEAR_FIRST), Variant(replace(FLAPS_FIRST, family="Other"))) == []
    assert kinds(Variant(GEAR_FIRST), Variant(entry(model="Q4", steps="power full; flaps up"))) == []
    (found,) = agreement([Variant(GEAR_FIRST), Variant(FLAPS_FIRST)]).anomalies
    assert found.models == ("Q2", "Q1")


def test_no_order_and_a_changed_order_are_said() -> None:
    after = entry(revision="B", date="1980-01-01", steps="power full; gear up; flaps up")
    revisions = supersessions([entry(), after])
    found = agreement([Variant(NONE)], revisions).anomalies
    assert [item.kind for item in found] == [Kind.CHANGED, Kind.PRINTS_NONE]
    assert "printed “flaps half, gear up, flaps up”" in found[0].sentence
    assert agreement([], supersessions([entry(), entry(revision="B", date="1980-01-01")])).anomalies == ()


def test_a_costly_order_is_an_anomaly_and_a_close_one_is_not() -> None:
    best, printed = order("best", 200.0), order("printed", 150.0)
    assert kinds(Variant(FLAPS_FIRST, flown=flown(50, "favoured", best, printed))) == [Kind.COSTS]
    assert kinds(Variant(FLAPS_FIRST, flown=flown(50, "too close to call", best, printed))) == []
    (row,) = agreement([Variant(FLAPS_FIRST, flown=flown(50, "favoured", best, printed))]).rows
    assert row.standing == "costs more"
    assert row.cost == pytest.approx((50 * FOOT, 50 * FOOT))
    assert "50 ft (95 %: 42 ft to 58 ft; 25 ft is what matters)" in row.sentence
    (close,) = agreement([Variant(FLAPS_FIRST, flown=flown(10, "too close to call", best, printed))]).rows
    assert close.standing == "agrees"


def test_a_margin_the_printed_order_keeps_is_said_with_both_numbers() -> None:
    best, printed = order("best", 200.0, stall=1.12, low_ft=60.0), order("printed", 190.0, stall=1.21, low_ft=85.0)
    (found,) = agreement([Variant(FLAPS_FIRST, flown=flown(10, "too close to call", best, printed))]).anomalies
    assert found.kind is Kind.KEEPS_A_MARGIN
    assert "a lowest V/Vs of 1.21 instead of 1.12" in found.sentence
    assert "a lowest height of 85 ft instead of 60 ft" in found.sentence


def test_readings_that_differ_by_what_matters_are_said() -> None:
    best, printed = order("best", 200.0), order("printed", 190.0)
    assert kinds(Variant(FLAPS_FIRST, flown=flown(5, "too close to call", best, printed, 40.0))) == [Kind.WORDS_MATTER]
    assert kinds(Variant(FLAPS_FIRST, flown=flown(5, "too close to call", best, printed, 20.0))) == []


def test_an_order_that_breaks_a_margin_is_said() -> None:
    best, printed = order("best", 200.0), order("printed", 190.0, acceptable=False)
    assert kinds(Variant(FLAPS_FIRST, flown=flown(5, "not acceptable", best, printed))) == [Kind.NOT_ACCEPTABLE]


def test_where_no_order_keeps_the_margins_that_is_said() -> None:
    printed = order("printed", 190.0, acceptable=False)
    found = flown(5, "not acceptable", printed, printed)
    nobody = replace(found, laws=(replace(found.laws[0], best=None, against_printed=()),))
    (row,) = agreement([Variant(FLAPS_FIRST, flown=nobody)]).rows
    assert (row.standing, row.cost) == ("no order acceptable", None)
    assert "no order that was flown keeps the stated margins" in row.sentence
    assert row.favoured == (("hold speed", "none acceptable"),)


def test_nothing_advises_to_depart_from_the_manual_and_everything_says_whom_to_ask() -> None:
    best, printed = order("best", 200.0, stall=1.1), order("printed", 100.0)
    found = agreement(
        [
            Variant(FLAPS_FIRST, flown=flown(100, "favoured", best, printed)),
            Variant(GEAR_FIRST, problem="its airplane is not known"),
            Variant(NONE),
        ]
    )
    said = [row.sentence for row in found.rows] + [item.sentence for item in found.anomalies]
    for sentence in said:
        assert not re.search(r"\b(should|must|safe|safer|recommend|use instead|better to|fly the other)\b", sentence), (
            sentence
        )
    for item in found.anomalies:
        assert "type-certificate holder or your instructor" in item.ask
    assert "Fly what the approved manual prints" in ASK
    assert found.rows[1].standing == "not flown"
    assert "its airplane is not known" in found.rows[1].sentence
