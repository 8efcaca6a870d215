"""Knots lost held beside true drag, from a reduction as it was kept: the classic mistake and its size."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from wringout.briefs.knots_lost import ratio_of_losses
from wringout.propagation import Measured

RATIO = "ratio.flaps_gear"


@dataclass(frozen=True, slots=True)
class Beside:
    """Full flaps over gear, once as knots lost and once as drag; plain ratios.

    Attributes:
        knots: the ratio of the knots lost, which is no ratio of drags.
        knots_most: its 95 % interval.
        drag: the ratio of the drags.
        drag_most: its 95 % interval.
        runs: the runs the knots were lost in.
    """

    knots: float
    knots_most: tuple[float, float]
    drag: float
    drag_most: tuple[float, float]
    runs: tuple[str, ...]


def knots_beside_drag(body: Mapping[str, Any]) -> Beside | None:
    """Return both ratios of a kept reduction, or None where it holds only one of them."""
    ratio = next((finding for finding in body["findings"] if finding["key"] == RATIO), None)
    lost = body.get("knots_lost") or []
    if ratio is None or len(lost) < 2 or None in (ratio["value"], *ratio["interval_95"]):
        return None
    gear, flaps = (Measured(one["value"], one["standard_uncertainty"], one["unit"]) for one in lost)
    quotient = ratio_of_losses(flaps, gear)
    if quotient is None:
        return None
    low, high = ratio["interval_95"]
    runs = tuple(run for one in lost for run in one["runs"])
    return Beside(quotient.value, quotient.interval(), ratio["value"], (low, high), runs)
