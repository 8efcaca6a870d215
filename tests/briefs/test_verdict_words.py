"""Sentences and places of techniques, held to the verdict over many made-up matchups."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.briefs.made import DECIDES, evidence, matchup
from tests.briefs.test_words import NEVER
from wringout.briefs.document import text_of
from wringout.briefs.numbers import NO_BREAK
from wringout.briefs.standings import judged
from wringout.briefs.story.verdicts import _chosen, _table
from wringout.briefs.verdict_words import (
    behind_words,
    domain_sentence,
    share_words,
    threshold_sentence,
    verdict_anchor,
    verdict_sentence,
)
from wringout.techniques.flying.scores import STALL_RATIO
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.stated.types import EntryReference, EntrySpeed, Law
from wringout.units import FOOT, KNOT

OFFSETS = st.lists(st.floats(-150.0, 150.0), min_size=2, max_size=9)


@settings(max_examples=60)
@given(OFFSETS, st.floats(0.1, 60.0), st.sampled_from(list(Law)), st.sampled_from(["aviation", "metric"]))
def test_the_sentence_says_what_the_verdict_found(offsets: list[float], noise: float, law: Law, units: str) -> None:
    one = judged(matchup(offsets, noise, law=law))
    text = text_of(verdict_sentence(evidence(units), one))  # type: ignore[arg-type]
    assert text[0].isupper()
    assert text.endswith(".")
    assert ".." not in text
    assert not NEVER.search(text), text
    assert ("too close to call" in text) == (one.verdict.outcome is Outcome.TOO_CLOSE)
    assert ("is favoured" in text) == (one.verdict.outcome is Outcome.FAVOURED)
    assert f"“{one.orders[0].technique.title}”" in text
    if units == "metric":
        assert f"{NO_BREAK}ft" not in text
    assert not re.search(r"\bnone of the one\b|\bat least 100\b|\bbetween [\d.]+ to\b", text), text


@settings(max_examples=40)
@given(OFFSETS, st.floats(0.1, 60.0))
def test_places_are_the_differences_draw_by_draw(offsets: list[float], noise: float) -> None:
    flown = matchup(offsets, noise)
    one = judged(flown)
    leader = one.places[0]
    assert leader.leads
    assert leader.technique.complete
    values = flown.scores[:, :, DECIDES]
    assert np.median(values[:, leader.index]) == pytest.approx(max(np.median(values, axis=0)), abs=2.0)
    for place in one.places[1:]:
        gain = values[:, place.index] - values[:, leader.index]
        assert place.ahead == pytest.approx(float(np.median(gain)), abs=0.5)
        assert place.most[0] <= place.half[0] <= place.ahead <= place.half[1] <= place.most[1]
        assert place.behind_share == pytest.approx(float(np.mean(gain <= -flown.thresholds.difference)))


def test_a_clear_lead_is_said_with_size_and_interval() -> None:
    one = judged(matchup([0.0, -100.0, -60.0], 2.0))
    text = text_of(verdict_sentence(evidence(), one))
    assert "is favoured over every other acceptable order" in text
    found = re.search(rf"behind by ([\d.]+){NO_BREAK}ft \(95{NO_BREAK}%: ([\d.]+) to ([\d.]+){NO_BREAK}ft\)", text)
    assert found is not None, text
    value, low, high = map(float, found.groups())
    assert low <= value <= high
    assert value == pytest.approx(60.0, abs=1.0)


def test_orders_that_fly_alike_are_said_so_without_digits_of_rounding() -> None:
    flown = matchup([0.0, -3.0, -50.0], 0.0)
    scores = flown.scores.copy()
    scores[:, 1] = scores[:, 0]
    scores[:, 1, DECIDES] += 1e-13 * np.sin(np.arange(flown.draws))
    one = judged(replace(flown, scores=scores))
    assert [place.same_as_leader for place in one.places] == [True, True, False]
    cells = [[text_of(cell) for cell in row.cells] for row in _table(evidence(), one).rows]
    assert [row[2:4] for row in cells] == [["", "leader"], ["0", "flies as the leader"], ["−50.00", "−50.00 to −50.00"]]
    assert behind_words(evidence(), one, one.places[2]).replace(NO_BREAK, " ") == "50.00 ft (95 %: 50.00 to 50.00 ft)"


def test_the_order_that_begins_with_the_other_lever_is_drawn_in_time() -> None:
    one = judged(matchup([0.0, -1.0, -2.0, -3.0, -4.0, -5.0, -6.0], 0.0))
    leader, other, last = _chosen(one)
    first_levers = [technique.actions[0].device for technique in one.matchup.techniques]
    assert first_levers[leader] is not first_levers[other]
    assert (leader, last) == (one.orders[0].index, one.orders[-1].index)


def test_a_lead_smaller_than_what_matters_is_no_win() -> None:
    one = judged(matchup([0.0, -20.0], 0.1))
    assert "too close to call" in text_of(verdict_sentence(evidence(), one))


def test_broken_margins_are_named_with_their_share() -> None:
    flown = matchup([0.0, -5.0], 1.0)
    scores = flown.scores.copy()
    scores[:50, :, STALL_RATIO] = 1.02
    text = text_of(verdict_sentence(evidence(), judged(replace(flown, scores=scores))))
    assert "neither of the two orders is acceptable" in text
    assert f"V/Vs falls below 1.10 in 25{NO_BREAK}% of the draws" in text
    scores[:, 1, STALL_RATIO] = 1.3
    text = text_of(verdict_sentence(evidence(), judged(replace(flown, scores=scores))))
    assert "is the only order that keeps the stated margins" in text


def test_a_difference_without_end_is_said_so() -> None:
    one = judged(matchup([0.0, -50.0], 1.0))
    endless = replace(one.places[1], ahead=-np.inf, most=(-np.inf, -3.0))
    assert behind_words(evidence(), one, endless).startswith("without end")


def test_domain_and_threshold_carry_every_bound_with_its_unit() -> None:
    flown = matchup([0.0, -5.0])
    text = domain_sentence(evidence(), flown)
    for words in (
        f"2,700 to 3,200{NO_BREAK}lb",
        f"0 to 4,000{NO_BREAK}ft",
        f"0 to 20{NO_BREAK}°C",
        "1.25 to 1.35 times",
        "200 draws",
    ):
        assert words in text
    assert f"1,225 to 1,451{NO_BREAK}kg" in domain_sentence(evidence("metric"), flown)  # 0.45359237 kg a pound
    by_speed = replace(
        flown,
        situation=replace(flown.situation, entry_speed=EntrySpeed(35.0, EntryReference.CAS)),
        domain=replace(flown.domain, entry_speed=(70 * KNOT, 75 * KNOT)),
    )
    assert f"70 to 75{NO_BREAK}kt calibrated" in domain_sentence(evidence(), by_speed)
    said = threshold_sentence(evidence(), judged(flown))
    for words in (f"25{NO_BREAK}ft", f"90{NO_BREAK}%", f"5{NO_BREAK}%", "1.10", "before flying"):
        assert words in said
    assert f"{25 * FOOT:.1f}{NO_BREAK}m" in threshold_sentence(evidence("metric"), judged(flown))


@pytest.mark.parametrize(
    ("share", "said"), [(0.0, "0"), (1.0, "100"), (0.004, "under 1"), (0.996, "over 99"), (0.5, "50")]
)
def test_shares_are_nought_or_all_only_when_they_are(share: float, said: str) -> None:
    assert share_words(share) == f"{said}{NO_BREAK}%"


def test_each_law_has_its_own_place() -> None:
    assert len({verdict_anchor(matchup([0.0, 1.0], law=law)) for law in Law}) == len(Law)
