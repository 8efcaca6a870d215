"""The verdict: every order of cleaning up on the same draws, under each pilot law, and what may not be favoured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from markupsafe import Markup
from starlette.responses import Response

from wringout.errors import BadInputError, NotFoundError
from wringout.services.matchups.compare import check_plan, verdict
from wringout.services.matchups.landing_climb import landing_climb
from wringout.services.matchups.plans import plan_text
from wringout.techniques.judging.wording import per_cent
from wringout.web.ask import Ask
from wringout.web.drawn.scale import Scale, axis, scale_of, strip
from wringout.web.figures import shown, unit_name, whole
from wringout.web.frame import study_page
from wringout.web.map_forms import refuse_second
from wringout.web.plan_forms import PlanForm, refused_form, shown_form, typed_plan
from wringout.web.routing import Tab, get, post
from wringout.web.units import title_in, told_in

COMPARE = "wringout.web.work.studies:compare_orders_of"
SIDE_SCORES = ("lowest_height", "climb_time", "obstacle_distance", "stall_ratio")


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One order of a law: its words, its deciding score drawn and in numbers, its standing.

    ``others`` are its other scores, each with its 95 % interval or in how many draws it never came about.
    """

    key: str
    title: str
    complete: bool
    acceptable: bool
    leading: bool
    why_not: str
    drawn: Markup
    median: float | None
    most: Sequence[float]
    others: tuple[tuple[str, str], ...]

    @property
    def in_question(self) -> bool:
        """Whether it keeps the margins and ends cleaned up; the others are folded away."""
        return self.leading or (self.acceptable and self.complete)


@dataclass(frozen=True, slots=True)
class LawPart:
    """What one pilot law shows."""

    law: str
    verdict: Mapping[str, Any]
    why: Mapping[str, Any] | None
    rows: tuple[OrderRow, ...]
    axis: Markup


def show(ask: Ask) -> Response:
    """Show the newest verdict, or what is missing for one."""
    return _page(ask)


def _page(ask: Ask, form: PlanForm | None = None, status: int = HTTPStatus.OK) -> Response:
    about: dict[str, Any] = {"form": form or shown_form(ask)}
    try:
        _, result, current = verdict(ask.store, ask.slug)
    except NotFoundError as error:
        about |= {"body": None, "missing": str(error)}
        return study_page(ask, "techniques", "Techniques", "techniques.html", status, **about)
    body: Mapping[str, Any] = told_in(result.body)
    deciding = str(body["thresholds"]["score"])
    return study_page(
        ask,
        "techniques",
        "Techniques",
        "techniques.html",
        status,
        **about,
        body=body,
        climb=_climb(ask),
        is_current=current,
        result=result,
        laws=[_law(law, deciding) for law in body["laws"]],
        score=body["thresholds"]["score_title"],
        unit_key=_score(body["laws"][0]["techniques"][0], deciding)["unit"],
        side_titles=[_score(body["laws"][0]["techniques"][0], key)["title"] for key in SIDE_SCORES],
    )


def _climb(ask: Ask) -> Mapping[str, Any] | None:
    """Return the climb in the landing configuration; None where the study has to be reduced again first."""
    try:
        return landing_climb(ask.store, ask.slug)
    except NotFoundError:
        return None


def compare(ask: Ask) -> Response:
    """Compare the techniques in the background, with the plan as typed or the last one."""
    address = f"/studies/{ask.slug}/techniques"
    try:
        document, draws, seed = typed_plan(ask)
        if document is not None:
            check_plan(ask.store, ask.slug, document)
            refuse_second(ask, "matchup", "a matchup")
    except (BadInputError, NotFoundError) as error:
        return _page(ask, refused_form(ask, error), HTTPStatus.UNPROCESSABLE_ENTITY)
    plan = "" if document is None else plan_text(document)
    ask.jobs.start(
        ask.slug, "matchup", "Flying every order", address, COMPARE, slug=ask.slug, plan=plan, draws=draws, seed=seed
    )
    return ask.go(address)


def _score(technique: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    found: Mapping[str, Any] = next(score for score in technique["scores"] if score["key"] == key)
    return found


def _law(law: Mapping[str, Any], deciding: str) -> LawPart:
    scale = scale_of([_score(one, deciding)["interval_95"] for one in law["techniques"]], margin=0.03)
    rows = tuple(_row(one, _score(one, deciding), law, scale) for one in law["techniques"])
    return LawPart(str(law["law"]), law["verdict"], law.get("why"), rows, axis(scale))


def _row(one: Mapping[str, Any], score: Mapping[str, Any], law: Mapping[str, Any], scale: Scale) -> OrderRow:
    leading = one["key"] in law["verdict"]["leading"]
    return OrderRow(
        key=str(one["key"]),
        title=title_in(str(one["title"])),
        complete=bool(one["complete"]),
        acceptable=bool(one["acceptable"]),
        leading=leading,
        why_not="" if one["acceptable"] else str(one["sentence"]),
        drawn=strip(score["median"], score["interval_50"], score["interval_95"], scale, heavy=leading),
        median=score["median"],
        most=tuple(score["interval_95"]),
        others=tuple(_words(_score(one, key)) for key in SIDE_SCORES),
    )


def _words(score: Mapping[str, Any]) -> tuple[str, str]:
    """Return a score's median, and under it its 95 % interval, or in how many draws it never came about."""
    if score["median"] is None:
        return ("never" if score.get("never_share") else "none"), ""
    unit, (low, high) = str(score["unit"]), score["interval_95"]
    places = 2 if unit in {"", "1"} else 1 if unit == "s" else whole(unit, score["median"], low, high)
    name = "" if unit in {"", "1"} else f"\N{NO-BREAK SPACE}{unit_name(unit)}"
    most = "" if low is None or high is None else f"{shown(low, places)} to {shown(high, places)}"
    if not most and score.get("never_share"):
        most = f"never in {per_cent(score['never_share'])}"
    return f"{shown(score['median'], places)}{name}", most


AT = "/studies/{slug}/techniques"
TAB = Tab(60, "techniques", "Techniques", "/techniques")
ROUTES = [get(AT, show), post(AT, compare)]
