"""The verdict: every order of cleaning up on the same draws, under each pilot law, and what may not be favoured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from starlette.responses import Response

from wringout.errors import NotFoundError
from wringout.services.matchups.compare import verdict
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import Tab, get, post

COMPARE = "wringout.web.work:compare_orders_of"
SIDE_SCORES = ("lowest_height", "climb_time", "obstacle_distance", "stall_ratio")
WIDE = 300.0
"""Width of the intervals as drawn, in their own units."""


@dataclass(frozen=True, slots=True)
class Bar:
    """An interval as drawn, in 0 to WIDE: ends of the 95 % and of the 50 % interval, and the middle."""

    low: float
    near: float
    middle: float
    far: float
    high: float


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One order of a law: its words, its deciding score as bar and numbers, its other scores in words, its standing."""

    key: str
    title: str
    complete: bool
    acceptable: bool
    leading: bool
    why_not: str
    bar: Bar | None
    median: float | None
    most: Sequence[float]
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LawPart:
    """What one pilot law shows."""

    law: str
    verdict: Mapping[str, Any]
    rows: tuple[OrderRow, ...]
    low: float
    high: float


def show(ask: Ask) -> Response:
    """Show the newest verdict, or what is missing for one."""
    try:
        _, result, current = verdict(ask.store, ask.slug)
    except NotFoundError as error:
        return study_page(ask, "techniques", "Techniques", "techniques.html", body=None, missing=str(error))
    body: Mapping[str, Any] = result.body
    deciding = str(body["thresholds"]["score"])
    return study_page(
        ask,
        "techniques",
        "Techniques",
        "techniques.html",
        body=body,
        is_current=current,
        result=result,
        laws=[_law(law, deciding) for law in body["laws"]],
        score=body["thresholds"]["score_title"],
        unit_key=_score(body["laws"][0]["techniques"][0], deciding)["unit"],
        wide=WIDE,
        side_titles=[_score(body["laws"][0]["techniques"][0], key)["title"] for key in SIDE_SCORES],
    )


def compare(ask: Ask) -> Response:
    """Compare the techniques in the background."""
    address = f"/studies/{ask.slug}/techniques"
    ask.jobs.start(ask.slug, "matchup", "Flying every order", address, COMPARE, slug=ask.slug)
    return ask.go(address)


def _score(technique: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    found: Mapping[str, Any] = next(score for score in technique["scores"] if score["key"] == key)
    return found


def _law(law: Mapping[str, Any], deciding: str) -> LawPart:
    scores = [_score(one, deciding) for one in law["techniques"]]
    ends = [end for score in scores for end in score["interval_95"] if end is not None]
    low, high = (min(ends), max(ends)) if ends else (0.0, 1.0)
    rows = tuple(_row(one, score, law, low, high) for one, score in zip(law["techniques"], scores, strict=True))
    return LawPart(str(law["law"]), law["verdict"], rows, low, high)


def _row(one: Mapping[str, Any], score: Mapping[str, Any], law: Mapping[str, Any], low: float, high: float) -> OrderRow:
    ends = (*score["interval_95"], *score["interval_50"], score["median"])
    bar = None
    if None not in ends and high > low:
        at = [WIDE * (end - low) / (high - low) for end in ends]
        bar = Bar(at[0], at[2], at[4], at[3], at[1])
    return OrderRow(
        key=str(one["key"]),
        title=str(one["title"]),
        complete=bool(one["complete"]),
        acceptable=bool(one["acceptable"]),
        leading=one["key"] in law["verdict"]["leading"],
        why_not="" if one["acceptable"] else str(one["sentence"]),
        bar=bar,
        median=score["median"],
        most=tuple(score["interval_95"]),
        others=tuple(_words(_score(one, key)) for key in SIDE_SCORES),
    )


def _words(score: Mapping[str, Any]) -> str:
    if score["median"] is None:
        return "never" if score.get("never_share") else "none"
    unit = str(score["unit"])
    places = 2 if unit in {"", "1"} else 1 if unit == "s" else 0
    return f"{score['median']:,.{places}f}{'' if unit in {'', '1'} else f' {unit}'}"


AT = "/studies/{slug}/techniques"
TAB = Tab(60, "techniques", "Techniques", "/techniques")
ROUTES = [get(AT, show), post(AT, compare)]
