"""Tables of the brief: intervals that know how few readings they rest on, and cells that keep their words whole."""

from __future__ import annotations

import math
import re
from types import SimpleNamespace
from typing import Any

import pytest

from tests.briefs.made import evidence
from wringout.briefs.document import Column, Document, Row, Section, Table, line, text_of
from wringout.briefs.html import html_of
from wringout.briefs.story.runs import strengths_table
from wringout.methods.types import HandResult
from wringout.propagation import Measured


def intervals(dof: float) -> list[tuple[float, float]]:
    """Return the central 50 and 95 % intervals that the table prints for 7.00 s with a standard uncertainty of 0.10."""
    result = HandResult("gear down", "Gear travel down", 1, False, Measured(7.0, 0.1, "s", {}, dof), math.nan, "")
    run: Any = SimpleNamespace(report=SimpleNamespace(results=(result,)))
    cells = strengths_table(evidence(), run).rows[0].cells
    return [tuple(map(float, text_of(cell).split(" to "))) for cell in cells[2:]]  # type: ignore[misc]


@pytest.mark.parametrize(
    ("dof", "half", "most"),
    [
        # Student's t for 95 %: 12.71 and 3.18, JCGM 100:2008, table G.2. For 50 %: one degree of freedom has the closed
        # form tan(pi/4) = 1; 0.765 is of common printed tables, from memory.
        (1.0, 1.0, 12.71),
        (3.0, 0.765, 3.18),
        (math.inf, 0.6745, 1.96),
    ],
)
def test_few_repeats_widen_the_printed_interval(dof: float, half: float, most: float) -> None:
    for (low, high), factor in zip(intervals(dof), (half, most), strict=True):
        assert low == pytest.approx(7.0 - 0.1 * factor, abs=0.0051)
        assert high == pytest.approx(7.0 + 0.1 * factor, abs=0.0051)


def test_only_a_word_too_long_for_a_column_is_broken_anywhere() -> None:
    cells = ("timings.csv", "stalls, power off", "7f" * 32)
    table = Table((Column("a"), Column("b"), Column("c")), (Row(tuple(line(cell) for cell in cells)),))
    page = html_of(Document("t", "a", "", "", False, "a4", (Section("s", "S", (table,)),)))
    assert re.findall(r"<td([^>]*)>", page) == ["", "", ' class="long"']
