"""Trying techniques: actions arranged on a line of time, flown at once, and held against another order."""

from __future__ import annotations

import json
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError
from wringout.services.matchups.trial_documents import benefit_words, trial_document
from wringout.services.matchups.trial_drafts import drafts, forget_draft, keep_draft
from wringout.services.matchups.trials import (
    Desk,
    Law,
    density_altitude_ft,
    desk,
    knobs,
    steps_of,
    technique_of,
    try_out,
)
from wringout.web.ask import Ask
from wringout.web.figures import quantity, unit_name
from wringout.web.frame import study_page
from wringout.web.routing import get, post, post_json
from wringout.web.units import number_in, places_for_unit, title_in, told_in, unit_in, words_in

MOST_KNOWN = 80
LISTS = {
    "height_ft": ("height", "ft"),
    "distance_ft": ("distance", "ft"),
    "energy_height_ft": ("energy_height", "ft"),
    "speed_kcas": ("speed", "kt"),
    "climb_fpm": ("climb", "ft/min"),
    "gear_area_ft2": ("gear_area", "ft2"),
    "flap_area_ft2": ("flap_area", "ft2"),
}
"""Lists of a trial that have a unit, with their names in the reader's units and the unit they come in."""
MOST_OTHERS = 2
"""Flights that are drawn beside the one in hand and the one it is held against; more lines cannot be told apart."""


def show(ask: Ask) -> Response:
    """Show the desk."""
    found = desk(ask.store, ask.slug)
    kept = drafts(ask.store, ask.slug)
    return study_page(
        ask,
        "techniques",
        "Try a technique",
        "trials.html",
        desk=found,
        knobs=knobs(found),
        laws=[str(law) for law in Law],
        kept=kept,
        data=_in_page(found, [(one.key, one.revision, one.body or {}) for one in kept]),
    )


def _in_page(found: Desk, kept: list[tuple[str, int, Any]]) -> dict[str, Any]:
    return {
        "known": [
            {"key": t.key, "title": title_in(t.title), "steps": steps_of(found, t)} for t in found.known[:MOST_KNOWN]
        ],
        "kept": [{"key": key, "revision": revision, **body} for key, revision, body in kept],
        "flaps": ["up" if s.angle_rad == 0.0 else s.name for s in found.beliefs.settings],
        "retractable": found.beliefs.retractable,
        "least_margin": found.thresholds.min_stall_ratio,
    }


def fly(ask: Ask) -> Response:
    """Fly the technique in hand and the one it is held against; a step that cannot be flown is named."""
    body = ask.json()
    if not isinstance(body, dict):
        raise BadInputError("what was sent is no technique", "request", "an object with steps")
    found = desk(ask.store, ask.slug)
    law = _law(str(body.get("law", Law.HOLD_SPEED)))
    turned = body.get("conditions") or {}
    if not isinstance(turned, dict):
        raise BadInputError("the conditions are no table", "request, conditions", "an object of numbers")
    others = body.get("others", [])
    if not isinstance(others, list) or len(others) > MOST_OTHERS:
        raise BadInputError("the others are no short list", "request, others", f"at most {MOST_OTHERS} lists of steps")
    asked = {"hand": body.get("hand", []), "against": body.get("against", [])}
    asked |= {f"other {number}": steps for number, steps in enumerate(others, 1)}
    try:
        techniques = [technique_of(found, name, _steps(steps, name)) for name, steps in asked.items()]
        traces = [try_out(found, technique, law, turned) for technique in techniques]
        density_altitude = density_altitude_ft(found, turned)
    except BadInputError as error:
        return ask.numbers({"problem": words_in(str(error))})
    documents = [_flown(trial_document(trace, t.title)) for trace, t in zip(traces, techniques, strict=True)]
    said = words_in(benefit_words(traces[0], traces[1]))
    density = quantity(density_altitude, "ft")
    units = {name: unit_name(unit_in(unit)) for name, unit in LISTS.values()}
    return ask.numbers(
        {"problem": "", "trials": documents, "benefit": said, "density_altitude": density, "units": units}
    )


def _flown(trial: dict[str, Any]) -> dict[str, Any]:
    """Return a trial with its lists and scores in the reader's units; the answer names the units beside them."""
    found = {LISTS[key][0] if key in LISTS else key: value for key, value in trial.items()}
    found |= {name: number_in(trial[key], unit) for key, (name, unit) in LISTS.items()}
    scores = [{**one, "places": places_for_unit(one["places"], one["unit"])} for one in trial["scores"]]
    return found | {"title": title_in(str(trial["title"])), "scores": told_in(scores)}


def _law(text: str) -> Law:
    try:
        return Law(text)
    except ValueError:
        raise BadInputError(f"'{text[:40]}' is no pilot law", "law", f"one of {', '.join(Law)}") from None


def _steps(steps: Any, name: str) -> list[dict[str, Any]]:
    if not isinstance(steps, list) or not all(isinstance(step, dict) for step in steps):
        raise BadInputError("the steps are no list", f"request, {name}", "a list of objects")
    return steps


def keep(ask: Ask) -> Response:
    """Keep the technique in hand under a name."""
    try:
        steps = json.loads(ask.text("steps"))
    except ValueError:
        steps = None
    if not isinstance(steps, list) or not all(isinstance(step, dict) for step in steps):
        raise BadInputError("the steps cannot be read", "form, steps", "load the page again")
    title = ask.text("title").strip()
    if not title:
        raise BadInputError("the technique has no name", "title", "write what you call it")
    key = (
        "-".join("".join(c if c.isalnum() and c.isascii() else " " for c in title.lower()).split())[:80] or "technique"
    )
    expected = int(ask.text("revision")) if ask.text("revision").isdigit() and ask.text("key") == key else 0
    keep_draft(ask.store, ask.slug, key, title, steps, expected)
    return ask.go(f"/studies/{ask.slug}/techniques/try?kept={key}")


def forget(ask: Ask) -> Response:
    """Take a kept technique off the desk."""
    forget_draft(ask.store, ask.slug, ask.path("key"))
    return ask.go(f"/studies/{ask.slug}/techniques/try")


AT = "/studies/{slug}/techniques/try"
ROUTES = [
    get(AT, show),
    post_json(f"{AT}/fly", fly),
    post(f"{AT}/keep", keep),
    post(f"{AT}/kept/{{key}}/forget", forget),
]
