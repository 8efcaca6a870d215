"""What would change the answer, and what the handbooks print, as the brief says it."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.briefs import study
from tests.briefs.made import evidence, matchup
from tests.briefs.test_words import NEVER, UNITS
from wringout.briefs.change_words import turning_sentence
from wringout.briefs.content import PrintedOrder, Units
from wringout.briefs.document import Paragraph, Table, text_of
from wringout.briefs.evidence import gather
from wringout.briefs.standings import judged
from wringout.briefs.story.changes import changes
from wringout.briefs.story.printed import DEFERS, printed
from wringout.briefs.story.verdicts import judge_all
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.judging.turning import turning
from wringout.techniques.stated.types import Law

OFFSETS = st.lists(st.floats(-150.0, 150.0), min_size=1, max_size=7)


@settings(max_examples=150, deadline=None)
@given(OFFSETS, st.floats(0.1, 60.0), st.sampled_from(list(Law)), st.floats(0.9, 1.4), UNITS)
def test_the_sentence_fits_what_the_verdict_is(
    offsets: list[float], noise: float, law: Law, ratio: float, units: Units
) -> None:
    made = matchup(offsets, noise, draws=100, law=law)
    made = replace(made, thresholds=replace(made.thresholds, min_stall_ratio=ratio))
    one, found = judged(made), turning(made)
    text = text_of(turning_sentence(evidence(units), one, found))
    assert text[0].isupper()
    assert text.endswith(".")
    assert [wrong for wrong in ("  ", "..", " ,", "inf", "nan", "None") if wrong in text] == []
    assert not NEVER.search(text), text
    if one.verdict.outcome is Outcome.NOT_ACCEPTABLE:
        assert "in place of" in text or "no smaller stall margin" in text
    elif one.verdict.outcome is Outcome.FAVOURED:
        assert "stays favoured" in text or "is the only order" in text
    else:
        assert "would be favoured over every other order if" in text or "no smaller difference would settle it" in text
    if units == "metric":
        assert "\N{NO-BREAK SPACE}ft" not in text


def test_the_brief_says_what_the_doubt_hangs_on() -> None:
    held = gather(study.content())
    section = changes(held, judge_all(held))
    assert section is not None
    tables = [block for block in section.blocks if isinstance(block, Table)]
    assert tables
    for table in tables:
        assert 1 <= len(table.rows) <= 5
        for row in table.rows:
            share = float(text_of(row.cells[1]).partition(" ")[0])
            assert 2.0 <= share <= 100.0
    assert changes(held, ()) is None


ENTRY = PrintedOrder("Pilot's Handbook", "QH-1", "B", "1974-11-20", "Section 4", "1001 and on", "power full; gear up")


def test_handbooks_are_cited_in_full_and_the_approved_manual_comes_first() -> None:
    older = replace(ENTRY, revision="A", date="1966-05-01", superseded_by="revision B", invented=True, order="")
    section = printed(gather(study.content(printed=(ENTRY, older))))
    assert section is not None
    first = section.blocks[0]
    assert isinstance(first, Paragraph)
    assert text_of(first.line) == DEFERS
    assert "approved manual in the airplane decides" in DEFERS
    table = next(block for block in section.blocks if isinstance(block, Table))
    cited, replaced = (" | ".join(map(text_of, row.cells)) for row in table.rows)
    for words in ("Pilot's Handbook", "QH-1", "revision B", "1974-11-20", "Section 4", "1001 and on", "gear up"):
        assert words in cited
    assert "Superseded by revision B" in replaced
    assert "No order." in replaced
    assert "(invented)" in replaced
    assert printed(gather(study.content())) is None
