"""What a reduction found, in sentences: the true drag ratio first, then each device, then lift and travel."""

from __future__ import annotations

from collections.abc import Sequence

from wringout.estimate.findings import Finding
from wringout.estimate.reduction import Reduction

__all__ = ["answer_sentences", "ratio_of_knots_lost"]


def _finding(reduction: Reduction, key: str) -> Finding | None:
    return next((finding for finding in reduction.findings if finding.key == key), None)


def answer_sentences(reduction: Reduction) -> list[str]:
    return []


def ratio_of_knots_lost(reduction: Reduction, first: Sequence[str], second: Sequence[str]) -> float | None:
    return None
