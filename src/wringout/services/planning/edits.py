"""Editing a test plan part by part, so that two windows that change different fields lose nothing of each other.

A part is the flight, its question, one point, one hazard or the go/no-go list, edited as a flat table of texts. What
was typed is merged with what stands there now, field by field, against what the form showed; only a field that both
changed is a conflict.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError, ConflictError, NotFoundError
from wringout.methods.register import METHODS
from wringout.planning.deciding import law_named
from wringout.planning.document import HazardSection, PointSection, TestPlanDocument, plan_from_table
from wringout.planning.hazard_list import STARTERS
from wringout.planning.propose import Wishes, kinds
from wringout.services.opening import the_study
from wringout.services.planning.plans import KIND, KeptPlan, keep_plan
from wringout.services.planning.words import EXAMPLES
from wringout.store import Store, get_document

Fields = dict[str, str]
WORD, LOAD = "w:", "l:"
FLIGHT_TEXTS = (
    "start", "latitude", "longitude", "ground_elevation", "floor", "isa_deviation", "altimeter_setting", "climb",
    "back", "fuel", "fuel_flow", "fuel_reserve", "recording", "air",
)  # fmt: skip
ENGINE_TEXTS = ("highest_rpm", "highest_manifold_pressure", "highest_density_altitude")
HAZARD_TEXTS = (
    "hazard", "cause", "effect", "stop", "likelihood", "severity", "residual_likelihood", "residual_severity",
)  # fmt: skip
QUESTION_TEXTS = ("first", "second", "law", "knowing")
TRIES = 3


@dataclass(frozen=True, slots=True)
class Clash:
    """One field that was changed here and elsewhere: its name, and how it stands now."""

    field: str
    theirs: str


class ClashError(ConflictError):
    """Fields that were changed here and elsewhere; nothing of the part was saved."""

    def __init__(self, what: str, where: str = "", advice: str = "", clashes: Sequence[Clash] = ()) -> None:
        super().__init__(what, where, advice)
        self.clashes = tuple(clashes)


def raw_plan(store: Store, slug: str | None, key: str) -> tuple[TestPlanDocument | None, int]:
    """Return a plan as written, whether or not it fits the airplane, and its revision (0 for none)."""
    with store.reading() as view:
        found = get_document(view, the_study(view, slug).id, KIND, key)
    if found is None:
        return None, 0
    if found.body is None:
        return None, found.revision
    return plan_from_table(cast(Mapping[str, Any], found.body), f"test plan {key}"), found.revision


def edit_plan(
    store: Store, slug: str | None, key: str, change: Callable[[TestPlanDocument], TestPlanDocument]
) -> KeptPlan:
    """Keep a plan as ``change`` makes it of the newest; begun anew if somebody else was faster.

    Raises:
        BadInputError: what comes out does not fit the airplane or cannot be read.
        ConflictError: somebody else was faster every time, or ``change`` says so.
        NotFoundError: there is no such plan.
    """
    for i in range(TRIES):
        document, revision = raw_plan(store, slug, key)
        if document is None:
            raise NotFoundError(f"the study has no test plan {key!r}", advice="propose one first")
        wanted = change(document)
        if wanted == document:
            return keep_plan(store, slug, document, key, revision)
        try:
            return keep_plan(store, slug, wanted, key, revision)
        except ConflictError:
            if i == TRIES - 1:
                raise
    raise AssertionError  # pragma: no cover


def merged(was: Mapping[str, str], typed: Mapping[str, str], theirs: Mapping[str, str], keep_mine: bool) -> Fields:
    """Return the fields of both edits; raises ClashError where both changed one to different texts."""
    out, clashes = dict(theirs), []
    for name, text in typed.items():
        before, there = was.get(name, ""), theirs.get(name, "")
        if text == before:
            continue
        if there not in (before, text) and not keep_mine:
            clashes.append(Clash(name, there))
        out[name] = text
    if clashes:
        raise ClashError(
            "another window changed the same words meanwhile", advice="keep yours or take theirs", clashes=clashes
        )
    return out


def part_fields(document: TestPlanDocument, part: str, key: str = "") -> Fields:
    """Return a part as a flat table of texts; raises NotFoundError for a point or hazard that is not there any more."""
    if part == "point":
        point = _found(document.points, key, "point")
        base = {"key": point.key, "minutes": f"{point.minutes:g}", "bank": point.bank, "remark": point.remark}
        return base | {f"{WORD}{name}": text for name, text in point.words.items()}
    if part == "hazard":
        hazard = _found(document.hazards, key, "hazard")
        out = {name: str(getattr(hazard, name)) for name in HAZARD_TEXTS}
        return out | {"mitigation": "\n".join(hazard.mitigation), "methods": ", ".join(hazard.methods)}
    if part == "list":
        return {"go_no_go": "\n".join(document.go_no_go)}
    if part == "flight":
        return _flight_fields(document)
    if part == "question":
        return {name: str(getattr(document.question, name)) for name in QUESTION_TEXTS}
    raise NotFoundError(f"a plan has no part {part!r}", advice="go back to the plan")


def _flight_fields(document: TestPlanDocument) -> Fields:
    flight, engine = document.flight, document.engine
    out = {name: _text(getattr(flight, name)) for name in FLIGHT_TEXTS}
    out |= {name: _text(getattr(engine, name)) for name in ENGINE_TEXTS}
    out["other"] = "\n".join(engine.other)
    return out | {f"{LOAD}{name}": str(value) for name, value in flight.load.items()}


def _text(value: object) -> str:
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def _found(items: Sequence[Any], key: str, what: str) -> Any:
    for item in items:
        if item.key == key:
            return item
    raise NotFoundError(f"the plan has no {what} {key!r} any more", advice="another window took it out; load the page")


def with_part(document: TestPlanDocument, part: str, key: str, fields: Mapping[str, str]) -> TestPlanDocument:
    """Return the plan with a part put in its place; raises BadInputError naming the field that cannot be read."""
    raw: dict[str, Any] = document.model_dump(mode="json", exclude_none=True)
    if part == "point":
        raw["points"] = [_point(p, fields) if p["key"] == key else p for p in raw["points"]]
    elif part == "hazard":
        raw["hazards"] = [_hazard(h, fields) if h["key"] == key else h for h in raw["hazards"]]
    elif part == "list":
        raw["go_no_go"] = _lines(fields["go_no_go"])
    elif part == "question":
        raw["question"] = _question(fields)
    else:
        raw["flight"] = {n: _number(n, fields[n]) for n in FLIGHT_TEXTS if fields.get(n, "").strip()}
        raw["flight"]["load"] = {n.removeprefix(LOAD): t for n, t in fields.items() if n.startswith(LOAD) and t.strip()}
        raw["engine"] = {n: fields[n] for n in ENGINE_TEXTS if fields.get(n, "").strip()}
        raw["engine"]["other"] = _lines(fields.get("other", ""))
    return plan_from_table(raw, "test plan")


def _question(fields: Mapping[str, str]) -> Fields:
    texts = {name: fields.get(name, "").strip() for name in QUESTION_TEXTS}
    law_named(texts["law"])
    if texts["first"] and texts["first"] == texts["second"]:
        raise BadInputError("both orders are the same", "test plan, question", "choose two that differ")
    return texts


def _number(name: str, text: str) -> str | float:
    if name not in ("latitude", "longitude", "isa_deviation"):
        return text
    return _read(text, f"test plan, flight.{name}", "write a number of degrees, such as 48.0")


def _read(text: str, where: str, advice: str) -> float:
    try:
        return float(text.replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        raise BadInputError(f"{text!r} is not a number", where, advice) from None


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _point(raw: dict[str, Any], fields: Mapping[str, str]) -> dict[str, Any]:
    words = {n.removeprefix(WORD): t.strip() for n, t in fields.items() if n.startswith(WORD) and t.strip()}
    minutes = _read(fields["minutes"], f"point {raw['key']}, minutes", "write a number of minutes, such as 6")
    return raw | {
        "key": fields["key"].strip(),
        "minutes": minutes,
        "bank": fields["bank"],
        "remark": fields["remark"],
        "words": words,
    }


def _hazard(raw: dict[str, Any], fields: Mapping[str, str]) -> dict[str, Any]:
    methods = [name.strip() for name in fields["methods"].split(",") if name.strip()]
    texts = {name: fields[name] for name in HAZARD_TEXTS}
    return raw | texts | {"mitigation": _lines(fields["mitigation"]), "methods": methods}


def save_part(
    store: Store,
    slug: str | None,
    plan: str,
    part: str,
    key: str,
    typed: Mapping[str, str],
    was: Mapping[str, str],
    keep_mine: bool = False,
) -> KeptPlan:
    """Save a part of a plan as it was typed, merged with what other windows saved meanwhile.

    Args:
        store: where the study is kept.
        slug: the study.
        plan: the key of the plan.
        part: "flight", "question", "point", "hazard" or "list".
        key: of the point or hazard.
        typed: the fields as they stand in the form.
        was: the fields as the form showed them when it was loaded or last saved.
        keep_mine: put mine in the place of what another window wrote.

    Raises:
        BadInputError: a field cannot be read, or the plan does not fit the airplane.
        ConflictError: a :class:`ClashError`, or others were faster again and again.
        NotFoundError: there is no such plan, or the point or hazard was taken out meanwhile.
    """

    def change(document: TestPlanDocument) -> TestPlanDocument:
        theirs = part_fields(document, part, key)
        return with_part(document, part, key, merged(was, typed, theirs, keep_mine))

    return edit_plan(store, slug, plan, change)


def new_points(beliefs: Beliefs) -> dict[str, PointSection]:
    """Return a first draft of every kind of point, by the name it is offered under."""
    out = {kind.name: kind.point for kind in kinds(beliefs, Wishes())}
    for key in METHODS:
        if key not in {point.method for point in out.values()}:
            out[key] = PointSection(key="N", method=key, words=dict(EXAMPLES.get(key, {"altitude": "7,000 ft"})))
    return out


def add_point(store: Store, slug: str | None, plan: str, like: str, beliefs: Beliefs) -> tuple[KeptPlan, str]:
    """Add a point at the end: again one that stands in the plan, or a new one; return its key.

    Raises:
        BadInputError: there is no such kind of point.
    """
    made = ""

    def change(document: TestPlanDocument) -> TestPlanDocument:
        nonlocal made
        there = {f"again:{point.key}": point for point in document.points}
        drafts = {f"new:{name}": point for name, point in new_points(beliefs).items()}
        model = (there | drafts).get(like)
        if model is None:
            raise BadInputError(f"{like!r} is no kind of point", "points", "choose one from the list")
        made = _free_key(model.key.rstrip("0123456789") or "P", {p.key.lower() for p in document.points})
        return document.model_copy(update={"points": [*document.points, model.model_copy(update={"key": made})]})

    return edit_plan(store, slug, plan, change), made


def _free_key(letter: str, taken: set[str]) -> str:
    return next(f"{letter}{n}" for n in range(1, len(taken) + 2) if f"{letter}{n}".lower() not in taken)


def move_point(store: Store, slug: str | None, plan: str, key: str, by: int) -> KeptPlan:
    """Move a point earlier (negative) or later; raises NotFoundError where it is not there any more."""

    def change(document: TestPlanDocument) -> TestPlanDocument:
        points = list(document.points)
        at = points.index(_found(points, key, "point"))
        points.insert(max(at + by, 0), points.pop(at))
        return document.model_copy(update={"points": points})

    return edit_plan(store, slug, plan, change)


def take_out(store: Store, slug: str | None, plan: str, part: str, key: str) -> KeptPlan:
    """Take a point or a hazard out of a plan; the earlier revision stays."""
    name = "points" if part == "point" else "hazards"

    def change(document: TestPlanDocument) -> TestPlanDocument:
        items = getattr(document, name)
        _found(items, key, part)
        return document.model_copy(update={name: [item for item in items if item.key != key]})

    return edit_plan(store, slug, plan, change)


def starters_left(document: TestPlanDocument) -> tuple[HazardSection, ...]:
    """Return the hazards of the starter list that a plan does not hold."""
    there = {hazard.key for hazard in document.hazards}
    return tuple(hazard for hazard in STARTERS if hazard.key not in there)


OWN_HAZARD = HazardSection(
    key="own",
    hazard="A hazard of your own",
    cause="What brings it about",
    effect="What it leads to",
    mitigation=[],
    stop="What ends the point",
    likelihood="occasional",
    severity="critical",
    residual_likelihood="occasional",
    residual_severity="critical",
    source="written for this flight",
)


def add_hazard(store: Store, slug: str | None, plan: str, key: str) -> tuple[KeptPlan, str]:
    """Add a hazard of the starter list, or one of one's own ("own"); return its key."""
    made = key

    def change(document: TestPlanDocument) -> TestPlanDocument:
        nonlocal made
        offered = {hazard.key: hazard for hazard in starters_left(document)}
        model = OWN_HAZARD if key == "own" else offered.get(key)
        if model is None:
            raise BadInputError(f"{key!r} is no hazard of the starter list", "hazards", "choose one from the list")
        if key == "own":
            made = _free_key("own", {hazard.key for hazard in document.hazards})
        return document.model_copy(update={"hazards": [*document.hazards, model.model_copy(update={"key": made})]})

    return edit_plan(store, slug, plan, change), made
