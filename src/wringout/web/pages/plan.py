"""Plan and cards: points as sentences beside their limits, loading, hazards, the chance to decide, the cards."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError, ConflictError, NotFoundError
from wringout.planning.document import QuestionSection
from wringout.services.airplane.sheet import newest_text
from wringout.services.flights.capture_keys import key_of_flight
from wringout.services.planning.cards import look_of, print_cards
from wringout.services.planning.chances import kept_chance
from wringout.services.planning.edits import (
    LOAD,
    WORD,
    ClashError,
    add_hazard,
    add_point,
    move_point,
    new_points,
    part_fields,
    raw_plan,
    save_part,
    starters_left,
    take_out,
)
from wringout.services.planning.pages import PlanSheet, envelope_of, knots_of, matrix_rows, study_plan_sheet
from wringout.services.planning.plans import (
    USUAL_KEY,
    VARIANTS,
    KeptPlan,
    keep_plan,
    kept_plan,
    plan_keys,
    plan_toml,
    read_test_plan,
    wishes_of,
)
from wringout.services.planning.question import rivals
from wringout.services.planning.words import entry_word, sentence_of
from wringout.web.ask import Ask
from wringout.web.drawn.plan_scale import ends_of, plan_scale, scale_in
from wringout.web.frame import study_page
from wringout.web.map_forms import LAWS
from wringout.web.routing import get, post
from wringout.web.settings import LOOPBACK_NAMES
from wringout.web.units import chosen, number_in, told_in

PAPERS = (("a5", "A5"), ("half-letter", "half letter"), ("a4", "A4"), ("letter", "letter"))
MOST_TRIALS = 500
Json = dict[str, Any]


def show(ask: Ask) -> Response:
    """Show a plan, or what is missing for one."""
    return _page(ask, ask.query("flight") or USUAL_KEY)


def _page(
    ask: Ask, key: str, status: int = HTTPStatus.OK, typed: Mapping[str, Json] | None = None, refused: str = ""
) -> Response:
    document, revision = raw_plan(ask.store, ask.slug, key)
    context: Json = {
        "key": key,
        "keys": plan_keys(ask.store, ask.slug),
        "refused": refused,
        "plan_text": ask.text("text"),
        "revision": revision,
    }
    context |= {"form": ask.text, "has_airplane": newest_text(ask.store, ask.slug)[1] > 0, "plan": None, "oob": False}
    if document is not None and context["has_airplane"]:
        context["plan_text"] = context["plan_text"] or plan_toml(document)
        try:
            context |= _context(ask, study_plan_sheet(ask.store, ask.slug, key), dict(typed or {}))
        except BadInputError as error:
            context["refused"] = refused or f"The plan does not fit the airplane any more: {error}"
    return study_page(ask, "plan", "Plan and cards", "plan.html", status, **context)


def _context(ask: Ask, sheet: PlanSheet, typed: Mapping[str, Json]) -> Json:
    kept = sheet.kept
    chance = kept_chance(ask.store, ask.slug, kept.key)
    return {
        "plan": sheet,
        "envelope": sheet.envelope if chosen() == "aviation" else envelope_of(kept, metric=True),
        "lead_words": _lead(sheet, chance),
        "chance": None if chance is None else replace(chance, body=told_in(chance.body)),
        "points": [_point(sheet, i, typed.get(f"point-{p.point.key}", {})) for i, p in enumerate(sheet.points)],
        "flight": _part(kept, "flight", "", typed.get("flight-", {})),
        "list": _part(kept, "list", "", typed.get("list-", {})),
        "question": _part(kept, "question", "", typed.get("question-", {})),
        "offers": _offers(rivals(ask.store, ask.slug), kept.document.question),
        "law_choices": [(law, law) for law in LAWS],
        "hazards": [
            _part(kept, "hazard", h.hazard.key, typed.get(f"hazard-{h.hazard.key}", {})) | {"sheet": h}
            for h in sheet.hazards
        ],
        "matrix": matrix_rows(sheet),
        "stations": [] if kept.beliefs.loading is None else [s.name for s in kept.beliefs.loading.stations],
        "kinds": tuple(new_points(kept.beliefs)),
        "starters": starters_left(kept.document),
        "variants": VARIANTS,
        "papers": PAPERS,
        "shared": bool(ask.site.settings.hosts - LOOPBACK_NAMES),
        "load_prefix": LOAD,
    }


def _offers(known: list[tuple[str, str]], question: QuestionSection) -> dict[str, list[tuple[str, str]]]:
    """Return what both orders of the question are chosen from; one that stands there and is none any more stays."""
    out = {}
    for name in ("first", "second"):
        key = getattr(question, name)
        gone = [] if key in dict(known) else [(key, f"{key} (no order of the matchup's plan now)")]
        out[name] = [*known, *gone]
    return out


def _part(kept: KeptPlan, part: str, key: str, typed: Json) -> Json:
    fields = part_fields(kept.document, part, key)
    shown = fields | typed.get("fields", {})
    was = typed.get("was") or json.dumps(fields, sort_keys=True)
    base = {"part": part, "key": key, "fields": shown, "was": was, "refused": "", "clashes": (), "saved": ()}
    return base | {name: value for name, value in typed.items() if name not in ("fields", "was")}


def _point(sheet: PlanSheet, at: int, typed: Json) -> Json:
    one = sheet.points[at]
    part = _part(sheet.kept, "point", one.point.key, typed)
    words = {n.removeprefix(WORD): t for n, t in part["fields"].items() if n.startswith(WORD)}
    phrases = sentence_of(sheet.kept.document.points[at], sheet.kept.beliefs, words)
    entry = entry_word(phrases)
    scale = scale_in(one)
    low, high = ends_of(scale)
    return part | {
        "sheet": one,
        "phrases": phrases,
        "entry": entry,
        "entry_speed": number_in(knots_of(words.get(entry, "")), "kt"),
        "low": low,
        "high": high,
        "drawing": plan_scale(scale),
        "last": at == len(sheet.points) - 1,
    }


def _lead(sheet: PlanSheet, chance: Any) -> tuple[str, str, str]:
    if not sheet.points:
        return "The plan has no points yet.", "#propose", "Propose some"
    if sheet.flight_blocked:
        return f"No card is printed yet: {sheet.flight_blocked[0].sentence}", "#flight", "Change the flight"
    if sheet.blocked_keys:
        names = ", ".join(sheet.blocked_keys)
        return (
            f"Beyond a limit, and without a card until changed: {names}.",
            f"#point-{sheet.blocked_keys[0]}",
            "Go there",
        )
    n = f"{len(sheet.points)} point{'s' if len(sheet.points) != 1 else ''} in {sheet.minutes:.0f} minutes"
    found = [v for v in (chance.variants if chance else []) if v["title"] == "as planned"]
    if found and chance.current:
        low, high = (100.0 * (x or 0.0) for x in found[0]["decided"]["interval_95"])
        trials = found[0]["decided"]["trials"]
        return (
            f"{n} would decide the question with a probability of {low:.0f} to {high:.0f} % "
            f"(95 %, {trials} simulated flights).",
            "#cards",
            "Print the cards",
        )
    return (
        f"{n} keep every limit that is stated. How probable it is that they decide the question is not known.",
        "#chance",
        "Work it out",
    )


def save(ask: Ask) -> Response:
    """Save a part of the plan; windows that changed other fields lose nothing."""
    plan, part, key = ask.path("plan"), ask.path("part"), ask.text("part-key")
    form = ask.form.multi_items() if ask.form is not None else []
    typed = {n.removeprefix("f:"): str(v).replace("\r\n", "\n") for n, v in form if n.startswith("f:")}
    was = _table(ask.text("was"))
    told: Json = {"fields": typed, "was": ask.text("was")}
    status = HTTPStatus.OK
    try:
        save_part(ask.store, ask.slug, plan, part, key, typed, was, bool(ask.text("keep-mine")))
        told = {"saved": tuple(typed), "was": json.dumps(typed, sort_keys=True), "fields": typed}
    except ClashError as error:
        told |= {"refused": str(error), "clashes": error.clashes}
        status = HTTPStatus.CONFLICT
    except NotFoundError as error:
        told |= {"refused": f"{error} What you typed was not saved and still stands here."}
        status = HTTPStatus.CONFLICT
    except (BadInputError, ConflictError) as error:
        told |= {"refused": str(error)}
        status = HTTPStatus.UNPROCESSABLE_ENTITY
    if status == HTTPStatus.OK and typed.get("key", key) != key:
        return ask.go(f"/studies/{ask.slug}/plan?flight={plan}#point-{typed['key'].strip()}")
    if not ask.is_part:
        if status == HTTPStatus.OK:
            return ask.go(f"/studies/{ask.slug}/plan?flight={plan}#{part}-{key}".removesuffix("-"))
        return _page(ask, plan, status, {f"{part}-{key}": told})
    mine = {"part": part, "key": key, "refused": "", "clashes": (), "saved": (), **told}
    context = _context(ask, study_plan_sheet(ask.store, ask.slug, plan), {})
    context |= {"mine": mine, "key": plan, "slug": ask.slug, "oob": True}
    return ask.page("plan_saved.html", status, **context)


def _table(text: str) -> dict[str, str]:
    try:
        found = json.loads(text)
    except ValueError:
        return {}
    return {str(k): str(v) for k, v in found.items()} if isinstance(found, dict) else {}


def change(ask: Ask) -> Response:
    """Add, move or take out a point or a hazard."""
    plan, what, key = ask.path("plan"), ask.text("what"), ask.text("part-key")
    at = ""
    if what == "add-point":
        _, key = add_point(ask.store, ask.slug, plan, ask.text("like"), kept_plan(ask.store, ask.slug, plan).beliefs)
        at = f"#point-{key}"
    elif what == "add-hazard":
        _, key = add_hazard(ask.store, ask.slug, plan, ask.text("like"))
        at = f"#hazard-{key}"
    elif what in ("earlier", "later"):
        move_point(ask.store, ask.slug, plan, key, -1 if what == "earlier" else 1)
        at = f"#point-{key}"
    elif what in ("out-point", "out-hazard"):
        take_out(ask.store, ask.slug, plan, what.removeprefix("out-"), key)
        at = "#points" if what == "out-point" else "#hazards"
    else:
        raise BadInputError(f"{what[:20]!r} is nothing a plan can do", "form", "load the page again")
    return ask.go(f"/studies/{ask.slug}/plan?flight={plan}{at}")


def save_text(ask: Ask) -> Response:
    """Save the plan as text."""
    plan, made_from = ask.path("plan"), ask.text("revision")
    try:
        document = read_test_plan(ask.text("text").encode(), "test plan")
        keep_plan(ask.store, ask.slug, document, plan, int(made_from) if made_from.isdigit() else None)
    except BadInputError as error:
        return _page(ask, plan, HTTPStatus.UNPROCESSABLE_ENTITY, refused=str(error))
    except ConflictError as error:
        return _page(ask, plan, HTTPStatus.CONFLICT, refused=f"{error} Save again to put your text in its place.")
    return ask.go(f"/studies/{ask.slug}/plan?flight={plan}")


def propose(ask: Ask) -> Response:
    """Begin to propose points for the study's question."""
    key, repeats = ask.text("flight", USUAL_KEY).strip() or USUAL_KEY, ask.text("repeats", "2")
    altitude, ground, recording = ask.text("altitude").strip(), ask.text("ground"), ask.text("recording", "called")
    try:
        if not (repeats.isdigit() and 1 <= int(repeats) <= 6):
            raise BadInputError(f"{repeats[:12]!r} is no number of repeats", "repeats", "1 to 6")
        wishes_of(None, int(repeats), altitude or None, ground, recording)
    except BadInputError as error:
        return _page(ask, ask.text("here", USUAL_KEY), HTTPStatus.UNPROCESSABLE_ENTITY, refused=str(error))
    here = f"/studies/{ask.slug}/plan?flight={key}"
    words: Json = {"altitude": altitude, "ground": ground, "recording": recording}
    ask.jobs.start(
        ask.slug, "proposal", "Proposing points", here, "wringout.web.work.plans:propose_points_of",
        slug=ask.slug, key=key, repeats=int(repeats), **words,
    )  # fmt: skip
    return ask.go(here)


def work_out(ask: Ask) -> Response:
    """Begin to compute the chance to decide, in the ways that were ticked."""
    plan, trials = ask.path("plan"), ask.text("trials", "20")
    wanted = [title for title in VARIANTS if title in ask.texts("way")]
    if not wanted:
        raise BadInputError("no way of flying was ticked", "chance", "tick at least one")
    if not (trials.isdigit() and 4 <= int(trials) <= MOST_TRIALS):
        raise BadInputError(f"{trials[:12]!r} flights cannot be simulated", "flights", f"take 4 to {MOST_TRIALS}")
    here = f"/studies/{ask.slug}/plan?flight={plan}"
    ask.jobs.start(
        ask.slug, "chance", "Flying the plan in simulation", f"{here}#chance", "wringout.web.work.plans:chance_of",
        slug=ask.slug, key=plan, trials=int(trials), wanted=wanted,
    )  # fmt: skip
    return ask.go(here)


def cards(ask: Ask) -> Response:
    """Hand out the cards as PDF; points beyond a limit are left out."""
    plan = ask.path("plan")
    night, metric = ask.query("light") == "night", ask.query("units") == "metric"
    kept = kept_plan(ask.store, ask.slug, plan)
    only = (ask.query("point"),) if ask.query("point") else ()
    printed = print_cards(kept, ask.query("paper", "a5"), look_of(metric, night, _address(ask, plan)), only)
    name = f"cards-{ask.slug}-{plan}.pdf"
    return Response(
        printed.pdf, media_type="application/pdf", headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )


def _address(ask: Ask, flight: str) -> str:
    """Return the address of the flight's page of taps as another device sees it; "" where none can reach it."""
    others = sorted(ask.site.settings.hosts - LOOPBACK_NAMES)
    if not others:
        return ""
    key, port = key_of_flight(ask.store, ask.slug, flight, ask.now), ask.request.url.port
    place = others[0] if port is None else f"{others[0]}:{port}"
    return f"{ask.request.url.scheme}://{place}/capture/{ask.slug}/{flight}/{key.key}/"


HERE = "/studies/{slug}/plan"
ROUTES = [
    get(HERE, show),
    post(f"{HERE}/propose", propose),
    post(f"{HERE}/{{plan}}/save/{{part}}", save),
    post(f"{HERE}/{{plan}}/change", change),
    post(f"{HERE}/{{plan}}/text", save_text),
    post(f"{HERE}/{{plan}}/chance", work_out),
    get(f"{HERE}/{{plan}}/cards.pdf", cards),
]
