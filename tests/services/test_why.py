"""Why one order of a matchup is ahead: held against the energy heights of the flights themselves."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.services.texts import AIRPLANE
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.briefs.figures.benefit import flight_figure, flight_words
from wringout.services.matchups.plans import plan_of, techniques_of, usual_plan
from wringout.services.matchups.why_documents import matchup_why, part_words
from wringout.techniques.flying.matchup import fly_matchup
from wringout.techniques.judging.verdict import judge
from wringout.techniques.stated.types import Law, Matchup, Thresholds
from wringout.units import FOOT, FOOT_PER_MINUTE

BELIEFS = airplane_from_document(parse_airplane(AIRPLANE, "airplane.toml"), "airplane.toml")


def flown(procedure: str, score: str) -> Matchup:
    plan, rng = plan_of(usual_plan(procedure), BELIEFS), np.random.default_rng(6)
    rows = np.array([BELIEFS.row_from_latent(rng.standard_normal(len(BELIEFS.parameters))) for _ in range(12)])
    law = Law.LEVEL_THEN_CLIMB if Law.LEVEL_THEN_CLIMB in plan.laws else plan.laws[0]
    asked = replace(Thresholds(), score=score, difference=5.0)
    return fly_matchup(
        rows, plan.under(law), plan.domain, techniques_of(plan, BELIEFS), law, asked, 1, limits=plan.limits
    )


def test_the_reason_is_the_arithmetic_of_the_two_flights() -> None:
    matchup = flown("go-around", "energy_height_30s")
    why = matchup_why(matchup, judge(matchup).standings)
    assert why is not None
    traces = {t.key: trace for t, trace in zip(matchup.techniques, matchup.traces, strict=True)}
    first, second = (traces[why[name]["key"]] for name in ("first", "second"))
    times = np.linspace(0.0, 60.0, 601)
    ahead = np.subtract(*(np.interp(times, t.t_s, t.energy_height_m) for t in (first, second)))
    assert why["benefit"]["ahead_ft"][-1] == pytest.approx(ahead[-1] / FOOT, abs=0.01)
    told = re.fullmatch(r".* ends (\d+) ft .* The first (\d+) s gain (\d+) % of the benefit\.", why["sentence"])
    assert told is not None, why["sentence"]
    final, seconds, share = (int(text) for text in told.groups())
    assert final == pytest.approx(abs(ahead[-1]) / FOOT, abs=0.5)
    assert share == pytest.approx(100.0 * float(np.interp(seconds, times, ahead)) / ahead[-1], abs=0.6)
    # what is left over is the rate of energy height, here by differences of the energy height itself
    flight, trace = why["flights"][0], first
    at = np.array(flight["t_s"])
    energy = np.interp([25.0, 50.0], trace.t_s, trace.energy_height_m)
    between = (at >= 25.0) & (at <= 50.0)
    mean = np.trapezoid(np.array(flight["total_fpm"])[between], at[between]) / 25.0
    assert mean == pytest.approx(float(energy[1] - energy[0]) / 25.0 / FOOT_PER_MINUTE, rel=0.01)
    assert flight["gear_area_ft2"][0] > 1.0
    assert flight["gear_area_ft2"][-1] == pytest.approx(0.0, abs=1e-6)
    assert "drag area over time, gear" in flight_words(flight, 1.1)
    assert flight_figure(flight, 1.1).count("<svg") == 1


def test_where_energy_is_to_be_lost_no_reason_is_told() -> None:
    matchup = flown("slow-down", "end_time")
    assert matchup_why(matchup, judge(matchup).standings) is None


@given(st.floats(5.0, 400.0), st.floats(0.5, 900.0), st.sampled_from((1.0, -1.0)))
def test_no_part_of_a_difference_is_said_to_be_larger_than_the_difference(
    whole: float, part: float, sign: float
) -> None:
    said = part_words(sign * whole, sign * part, "the drag of the gear")
    figures = [int(figure) for figure in re.findall(r"(\d+) ft", said)]
    if "of it" in said:
        assert figures == [round(part)]
        assert figures[0] <= round(whole)
    else:
        assert figures[0] - figures[1] == round(whole)
        assert figures[1] > 0
        assert ("lost again" in said) == (sign > 0.0)
        assert ("won back" in said) == (sign < 0.0)


def test_a_part_larger_than_the_whole_is_said_with_what_was_lost_again() -> None:
    assert part_words(8.0, 13.0, "the drag of the gear") == (
        ": 13 ft through the drag of the gear, of which 5 ft were lost again through the rest"
    )
    assert part_words(-8.0, -13.0, "the drag of the gear").endswith("of which 5 ft were won back through the rest")
