"""When a tap was made, from the two clocks a device keeps: one that can be set, and one that only ever runs.

The running clock counts from the moment the page was opened (High Resolution Time, W3C: monotonic, not subject to
clock adjustments), so it orders and spaces the taps of one opening. The date and time link openings and devices. Where
the two part company, either somebody set the clock (the running clock is believed) or the device slept with the page
hidden and the running clock stood still (the date and time are believed).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

APART_MS = 250.0
"""How far the two clocks may part between neighbouring taps before it means something; judged, no source."""


@dataclass(frozen=True, slots=True)
class Moment:
    """What the two clocks said at one event. ``hidden_before`` is whether the page was out of sight just before it."""

    wall_ms: float
    mono_ms: float
    epoch: str
    hidden_before: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """A clock that was set: before which event, and by how much, ms (positive: set forward)."""

    at: int
    by_ms: float


def times_of(moments: Sequence[Moment]) -> tuple[list[float], list[Step]]:
    """Return when each event of one device happened, ms since 1970 UTC on its clock as it first stood, and every step.

    Args:
        moments: of one device, in the order of its log.

    A step while the page was closed cannot be told from time having passed, and is not corrected.
    """
    times: list[float] = []
    steps: list[Step] = []
    stepped = 0.0
    apart = 0.0
    for i, moment in enumerate(moments):
        before = moments[i - 1] if i else None
        now_apart = moment.wall_ms - moment.mono_ms
        if before is None or before.epoch != moment.epoch:
            apart = now_apart
        elif abs(now_apart - apart) > APART_MS:
            slept = moment.hidden_before and now_apart > apart
            if not slept:
                stepped += now_apart - apart
                steps.append(Step(i, now_apart - apart))
            apart = now_apart
        times.append(moment.mono_ms + apart - stepped)
    return times, steps


@dataclass(frozen=True, slots=True)
class Comparison:
    """One comparison with another clock: that clock less this one, and how long the answer took, ms."""

    offset_ms: float
    round_trip_ms: float


def best_offset(comparisons: Sequence[Comparison]) -> tuple[float, float] | None:
    """Return the offset of the quickest answer and half its round trip, the bound of its error, ms; None without any.

    The quickest exchange bounds the offset best (RFC 5905, section 10, clock filter).
    """
    if not comparisons:
        return None
    quickest = min(comparisons, key=lambda one: one.round_trip_ms)
    return quickest.offset_ms, 0.5 * quickest.round_trip_ms
