"""What is said of every procedure, over many made-up matchups: it is named, and no other one is spoken of."""

from __future__ import annotations

import re
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.briefs import study
from tests.briefs.made import DECIDES, evidence, matchup
from wringout.briefs.content import Units
from wringout.briefs.document import text_of
from wringout.briefs.procedure_words import clock_label, is_go_around
from wringout.briefs.readers.lesson import shown_by
from wringout.briefs.readers.plain_answers import domain_words, threshold_words, verdict_words
from wringout.briefs.standings import judged
from wringout.briefs.verdict_words import domain_sentence, threshold_sentence, verdict_sentence
from wringout.errors import BadInputError
from wringout.methods.register import method
from wringout.services.matchups.documents import gear_or_flaps_first, under
from wringout.services.matchups.plan_situations import PROCEDURES, ProcedureName
from wringout.services.matchups.plans import Plan, check_score, plan_of, usual_plan
from wringout.techniques.scores import SCORE_INDEX
from wringout.techniques.types import Law, Thresholds
from wringout.units import FOOT

ILL = re.compile(
    r"  |\{|\}| ,|\.\.|,,|\b(\w+) \1\b|\ba [aeio]|\ban [^aeioh]|\b1 (?:orders|others)\b|\bone orders\b|\(-0\b"
    r"|\bnone of the one\b|\bnan\b|\binf\b|\bsafe",
)
GO_AROUND = re.compile(r"go.around", re.IGNORECASE)
STATED = {"energy_height_30s": 25 * FOOT, "end_time": 2.0, "end_distance": 100.0 * FOOT}


@cache
def plan(procedure: ProcedureName) -> Plan:
    return plan_of(usual_plan(procedure), study.beliefs())


@settings(max_examples=120, deadline=None)
@given(
    st.sampled_from(PROCEDURES),
    st.lists(st.floats(-150.0, 150.0), min_size=1, max_size=9),
    st.floats(0.1, 60.0),
    st.sampled_from(list(Law)),
    st.sampled_from(["aviation", "metric"]),
    st.sampled_from(list(STATED)),
)
def test_each_procedure_is_spoken_of_as_itself(
    procedure: ProcedureName, offsets: list[float], noise: float, law: Law, units: Units, score: str
) -> None:
    situation = plan(procedure).under(law)
    limits = Thresholds(score=score, difference=STATED[score])
    made = matchup(
        offsets, noise, draws=60, law=law, situation=situation, domain=plan(procedure).domain, thresholds=limits
    )
    made.scores[:, :, SCORE_INDEX[score]] = made.scores[:, :, DECIDES]
    one, held = judged(made), evidence(units)
    opening = [text_of(verdict_sentence(held, one)), verdict_words(held, one), under(made, one.verdict.sentence)]
    domains = [domain_sentence(held, made), domain_words(held, one), one.verdict.domain]
    stated = [threshold_sentence(held, one), threshold_words(held, one), one.verdict.threshold]
    each = [*(s.sentence for s in one.verdict.standings), *(p.sentence for p in one.verdict.pairs)]
    for text in filter(None, (*opening, *domains, *stated, *each, gear_or_flaps_first(made))):
        assert text.endswith("."), text
        assert text[0].isupper() or text[0] == "“", text
        assert not ILL.search(re.sub("“.*?”", "“X”", text)), text
        assert is_go_around(situation) or not GO_AROUND.search(text), text
    if not situation.by_law:
        assert {re.split("[,:]", text)[0] for text in opening} == {re.split("[,:]", opening[0])[0]}
        assert opening[0].startswith(("In an ", "In a ", "When "))
    assert f"“{situation.title}”" in domains[2]
    assert (
        is_go_around(situation) == (shown_by([one]) == "go around pairs") == ("go around" in clock_label(situation, ""))
    )
    assert method(shown_by([one])).card(study.beliefs(), {}).steps


def test_a_height_does_not_judge_what_is_flown_to_lose_it() -> None:
    for procedure in PROCEDURES:
        for score in ("energy_height_30s", "lowest_height", "end_time"):
            refused = procedure in ("emergency descent", "slow-down") and score != "end_time"
            if refused:
                with pytest.raises(BadInputError, match="stays higher, which is not what"):
                    check_score(usual_plan(procedure), Thresholds(score=score))
            else:
                check_score(usual_plan(procedure), Thresholds(score=score))
