"""What the chances of a plan say together, in sentences: what was asked, and why flying does or does not change it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

Json = Mapping[str, Any]
MOSTLY = 0.8
"""Share of the flights from which on a sentence speaks of most of them."""
PLANNED, NOT_FLOWN = "as planned", "not flown"


def question_sentence(question: Json) -> str:
    """Return which two techniques are to be decided between, in what, from a question as JSON."""
    matters = question["difference_that_matters"]
    flown = ", ".join(words for words in (question.get("procedure", ""), question["law"]) if words)
    return (
        f"{flown}: “{question['first']['title']}” against “{question['second']['title']}”; a difference of "
        f"{matters['value']:g} {matters['unit']} matters."
    )


def chance_sentences(variants: Sequence[Json], by_law: bool = True) -> list[str]:
    """Return what a reader of the table must know: a margin no run can mend, and what flying adds to not flying.

    ``by_law`` is whether a pilot law flies pitch, so that another one could be asked about.
    """
    found = {str(one["title"]): one for one in variants}
    shown = found.get(PLANNED) or (variants[0] if variants else None)
    if shown is None:
        return []
    trials = shown["decided"]["trials"]
    broken = (shown.get("truth") or {}).get("not_acceptable", 0)
    out = []
    if broken >= MOSTLY * trials:
        out.append(
            f"With the airplane known exactly, one or both techniques still break a stated margin in {broken} of "
            f"{trials} flights. No run can change that: ask {'under another pilot law, ' if by_law else ''}about other "
            "techniques, or state another margin."
        )
    without = found.get(NOT_FLOWN)
    if without is not None and without is not shown:
        out.append(_compared(shown, without))
    return out


def _compared(planned: Json, without: Json) -> str:
    now, then = (100.0 * one["decided"]["probability"] for one in (without, planned))
    if then > now:
        return f"Without the flight it is decided in {now:.0f} % of the trials, {planned['title']} in {then:.0f} %."
    return (
        f"Without the flight it is decided in {now:.0f} % of the trials already, {planned['title']} in {then:.0f} %: "
        "for this question the flight adds nothing that could be seen."
    )
