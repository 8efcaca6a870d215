"""Two results held against each other, number by number: the same, within a stated tolerance, or different."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

TOLERANCE = 1e-6
"""What a number may differ by on another machine, as a share of the larger of the two."""

WORDING = frozenset(
    {
        "answer",
        "cautions",
        "domain",
        "gear_or_flaps_first",
        "label",
        "learned",
        "prior_source",
        "score_title",
        "sentence",
        "support",
        "threshold",
        "title",
        "why_they_differ",
    }
)
"""Fields that hold sentences and names made from the numbers, and decide nothing."""

FLOWN_AT_LEAST = {"ft": 20_000.0}
"""What a number flown is at least taken to be, by its unit: lengths are held to 0.02 ft by a tolerance of 1 millionth.

Where a step ends is decided by comparing, so a last bit can make one longer or shorter. What that changes is a part of
the 0.1 ft that steps are exact to (``techniques/flying/pace.py``); on other processors up to 0.009 ft was seen.
"""
_FLOWN, _FLOWN_FIELDS = "laws", frozenset({"median", "difference", "interval_50", "interval_95"})
_MISSING = object()
_FLOOR = 1e-3
"""Smaller numbers may differ by TOLERANCE of it: what rounding leaves of a difference of two equal heights."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One place at which two results are not the same.

    Attributes:
        path: the place, such as ``findings / ratio.flaps_gear / interval_95 / 0``.
        kept: what the bundle holds there; None where it holds no number or nothing.
        again: what was computed again.
        apart: how far apart two numbers are, as a share of the larger; None where one of them is no number.
        wording: whether only words differ.
    """

    path: str
    kept: Any
    again: Any
    apart: float | None
    wording: bool

    def sentence(self) -> str:
        """Return the difference in words."""
        return f"{self.path}: the bundle holds {_said(self.kept)}, computed again it is {_said(self.again)}"


def _said(value: object) -> str:
    if value is _MISSING or value is None:
        return "nothing"
    if isinstance(value, float | int) and not isinstance(value, bool):
        return f"{value:.9g}"
    text = str(value)
    return f"'{text if len(text) <= 80 else f'{text[:77]}...'}'"


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two results held against each other: how many numbers each holds, and every difference."""

    numbers: int
    differences: tuple[Difference, ...]

    def beyond(self, tolerance: float, same_version: bool) -> tuple[Difference, ...]:
        """Return the differences that count: numbers beyond the tolerance, decisions, and words of the same version."""
        return tuple(d for d in self.differences if _counts(d, tolerance, same_version))

    def within(self, tolerance: float) -> tuple[Difference, ...]:
        """Return the numbers that differ, but by no more than the tolerance."""
        return tuple(d for d in self.differences if d.apart is not None and d.apart <= tolerance)


def _counts(difference: Difference, tolerance: float, same_version: bool) -> bool:
    if difference.apart is not None:
        return difference.apart > tolerance
    if difference.kept is None and not same_version:
        return False
    return same_version or not difference.wording


def compare_documents(kept: object, again: object) -> Comparison:
    """Return how a kept JSON document and the same computed again differ.

    Items of a list that carry a ``key`` are named by it, so that an item too many is said once.
    """
    found = tuple(_differences(kept, again, (), wording=False))
    return Comparison(sum(1 for _ in _numbers(kept)), found)


def _numbers(value: object) -> Iterator[float]:
    if isinstance(value, Mapping):
        for item in value.values():
            yield from _numbers(item)
    elif isinstance(value, Sequence) and not isinstance(value, str):
        for item in value:
            yield from _numbers(item)
    elif _is_number(value):
        yield float(value)  # type: ignore[arg-type]


def _is_number(value: object) -> bool:
    return isinstance(value, float | int) and not isinstance(value, bool)


def _differences(
    kept: object, again: object, path: tuple[str, ...], wording: bool, least: float = _FLOOR
) -> Iterator[Difference]:
    if isinstance(kept, Mapping) and isinstance(again, Mapping):
        yield from _of_tables(kept, again, path, wording, least)
    elif _is_list(kept) and _is_list(again):
        yield from _of_tables(_named(kept), _named(again), path, wording, least)  # type: ignore[arg-type]
    elif _is_number(kept) and _is_number(again):
        if kept != again:
            apart = _apart(float(kept), float(again), least)  # type: ignore[arg-type]
            yield Difference(" / ".join(path), kept, again, apart, wording)
    elif kept != again or type(kept) is not type(again):
        yield Difference(" / ".join(path), _bare(kept), _bare(again), None, wording)


def _is_list(value: object) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, str)


def _bare(value: object) -> object:
    return None if value is _MISSING else value


def _of_tables(
    kept: Mapping[str, object], again: Mapping[str, object], path: tuple[str, ...], wording: bool, least: float
) -> Iterator[Difference]:
    flown = FLOWN_AT_LEAST.get(str(kept.get("unit"))) if path[:1] == (_FLOWN,) else None
    for key in dict.fromkeys((*kept, *again)):
        reach = flown if flown is not None and key in _FLOWN_FIELDS else least
        here, there = kept.get(key, _MISSING), again.get(key, _MISSING)
        yield from _differences(here, there, (*path, key), wording or _is_wording(key, kept.get(key)), reach)


def _is_wording(key: str, value: object) -> bool:
    return key in WORDING and (isinstance(value, str) or _is_list(value) or value is None)


def _named(items: Sequence[object]) -> dict[str, object]:
    """Return a list as a table: by the items' keys where all have one of their own, else by their places."""
    keys = [str(item["key"]) if isinstance(item, Mapping) and "key" in item else "" for item in items]
    own = all(keys) and len(set(keys)) == len(keys)
    return {keys[i] if own else str(i): item for i, item in enumerate(items)}


def _apart(kept: float, again: float, least: float) -> float:
    """Return how far apart two numbers are, as a share of the larger, which is taken to be at least so large."""
    return abs(kept - again) / max(abs(kept), abs(again), least)
