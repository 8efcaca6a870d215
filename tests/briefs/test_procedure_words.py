"""What is said of every procedure, over many made-up matchups: it is named, and no other one is spoken of."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.briefs import study
from tests.briefs.made import DECIDES, evidence, matchup
from wringout.briefs.belief_words import beliefs_sentence
from wringout.briefs.content import Units
from wringout.briefs.document import Document, Items, Paragraph, every_block, text_of
from wringout.briefs.procedure_words import clock_label, is_go_around
from wringout.briefs.readers.lesson import lesson_document, shown_by
from wringout.briefs.readers.members import members_document
from wringout.briefs.readers.plain_answers import domain_words, threshold_words, verdict_words
from wringout.briefs.readers.slides import slides_document
from wringout.briefs.standings import judged
from wringout.briefs.story.build import build_document
from wringout.briefs.verdict_words import domain_sentence, threshold_sentence, verdict_sentence
from wringout.errors import BadInputError
from wringout.methods.register import method
from wringout.services.matchups.documents import gear_or_flaps_first, under
from wringout.services.matchups.plan_situations import PROCEDURES, ProcedureName
from wringout.services.matchups.plans import Plan, check_score, plan_of, usual_plan
from wringout.techniques.flying.scores import SCORE_INDEX
from wringout.techniques.stated.types import Law, Thresholds
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


def told(document: Document) -> Iterator[str]:
    for section in document.sections:
        for block in every_block(section.blocks):
            lines = (block.line,) if isinstance(block, Paragraph) else block.lines if isinstance(block, Items) else ()
            yield from map(text_of, lines)


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


def test_what_was_never_flown_is_named_in_every_brief_and_what_was_flown_is_not() -> None:
    flown, one_run = study.content(), study.one_run_study().reduction
    believed = replace(flown, reduction=one_run)
    said = (
        "In part this rests on what was believed before flying, not on what was flown: no run in use measures the drag "
        "of the flaps, the stall speeds, how long the gear takes to come up and how long the flaps take to come up."
    )
    verdicts = {item.key: item.verdict for item in one_run.learned}
    for build in (members_document, lesson_document, slides_document, build_document):
        assert sum(said in text for text in told(build(believed))) >= 1
        assert not any("no run in use measures" in text for text in told(build(flown)))
    descent, situation = plan("emergency descent").situation, flown.matchups[0].situation
    assert beliefs_sentence(verdicts, situation) == said
    assert "how long the flaps take to go down" in beliefs_sentence(verdicts, descent)
    assert beliefs_sentence(dict.fromkeys(verdicts, "still the prior"), situation).startswith("This rests on what was")
    fixed_gear = {"flap_area": "still the prior", "cl_max": "measured", "cl_gain": "still the prior"}
    assert beliefs_sentence(fixed_gear, situation).endswith("measures the drag of the flaps.")
