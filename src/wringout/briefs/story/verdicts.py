"""Techniques and verdict."""

from __future__ import annotations

from wringout.briefs.document import Block, Section
from wringout.briefs.evidence import Evidence


def answer_of_matchup(evidence: Evidence) -> list[Block]:
    """Return the answer of the first matchup."""
    return []


def techniques(evidence: Evidence) -> list[Section]:
    """Return the sections on techniques."""
    return []
