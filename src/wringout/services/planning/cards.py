"""The cards of a test plan on paper; a point beyond a limit gets none until it is changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from wringout.briefs.cards.content import CardLook, cards_content
from wringout.briefs.cards.pdf import cards_pdf
from wringout.errors import BadInputError, LimitError
from wringout.planning.checks import Check, Level, blocked
from wringout.services.planning.plans import KeptPlan, check_plan


@dataclass(frozen=True, slots=True)
class PrintedCards:
    """The PDF, which points are on it, which are blocked, and every check."""

    pdf: bytes
    printed: tuple[str, ...]
    blocked: tuple[str, ...]
    checks: tuple[Check, ...]


def print_cards(
    kept: KeptPlan, paper: str = "a5", look: CardLook | None = None, only: Sequence[str] = ()
) -> PrintedCards:
    """Return the cards of a plan; points that violate a limit are left out.

    Args:
        kept: the plan.
        paper: "a5", "half-letter", "a4" or "letter".
        look: units, day or night, and the address of the capture page.
        only: keys of the points to print; all where none is named. A named point that is blocked is refused.

    Raises:
        BadInputError: the plan has no points, or a paper or point that is not there.
        LimitError: a limit of the whole flight is violated, or a named point or every point is blocked.
    """
    checks = check_plan(kept)
    wanted = [kept.plan.point(key) for key in only] or list(kept.plan.points)
    if not wanted:
        raise BadInputError("the plan has no points", f"test plan {kept.key}", "propose some, or write them")
    for check in checks:
        if check.level is Level.VIOLATED and check.point == "":
            raise LimitError(
                check.sentence.rstrip("."), f"test plan {kept.key}", "no card is printed until it is changed"
            )
    bad = [p for p in wanted if blocked(checks, p.key)]
    good = [p for p in wanted if p not in bad]
    if bad and (only or not good):
        why = next(c for c in checks if c.point == bad[0].key and c.level is Level.VIOLATED)
        raise LimitError(
            why.sentence.rstrip("."), f"point {bad[0].key}", "no card is printed for it until it is changed"
        )
    content = cards_content(kept.plan, kept.beliefs, checks, good, look or CardLook())
    return PrintedCards(cards_pdf(content, paper), tuple(p.key for p in good), tuple(p.key for p in bad), checks)


def look_of(metric: bool, night: bool, address: str) -> CardLook:
    """Return how cards are printed."""
    return CardLook(metric, night, address.strip())


def write_cards(printed: PrintedCards, path: Path) -> None:
    """Write the PDF; raises BadInputError where it cannot be written."""
    try:
        path.write_bytes(printed.pdf)
    except OSError as error:
        reason = error.strerror or str(error)
        raise BadInputError(f"the file cannot be written ({reason})", str(path), "choose another place") from None
