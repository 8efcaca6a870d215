"""A recording as a strip chart: suggested runs looked at, a stretch trimmed, and kept as a run."""

from __future__ import annotations

import math
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

import numpy as np
from starlette.responses import Response

from wringout.errors import BadInputError
from wringout.services.findings.documents import hand_document
from wringout.services.flights.proposals import OfferedRun, accept_proposal, offered_runs, turn_down_proposal
from wringout.services.flights.runs import add_run_to, put_run_back, set_run_aside
from wringout.services.flights.strips import HandResult, Preview, Strip, preview, strip
from wringout.web.ask import Ask
from wringout.web.figures import interval, place, shown, unit_name
from wringout.web.frame import study_page
from wringout.web.routing import get, post, post_json
from wringout.web.units import is_metric, told_in, words_in
from wringout.web.wording import told

MOST_HAND_RESULTS = 6


def show(ask: Ask) -> Response:
    """Show the strips, the suggested runs and the stretch in hand."""
    return _page(ask)


def _page(ask: Ask, status: int = HTTPStatus.OK, refused: str = "") -> Response:
    found = strip(ask.store, ask.slug, ask.path("sha"), is_metric())
    try:
        offered, no_offer = offered_runs(ask.store, ask.slug, ask.path("sha")), ""
    except BadInputError as error:
        offered, no_offer = (), str(error)
    typed = {name: ask.text(name) for name in ("from_s", "to_s", "method", "key", "words", "replaces")}
    return study_page(
        ask,
        "flights",
        f"Strip of {found.item.name}",
        "strip.html",
        status,
        strip=found,
        offered=offered,
        no_offer=no_offer,
        refused=refused,
        typed=typed,
        clock=_clock,
        data=_in_page(found, offered),
    )


def _clock(seconds: float) -> str:
    """Return seconds on the recording's clock as m:ss or h:mm:ss."""
    whole = round(seconds)
    hours, rest = divmod(abs(whole), 3600)
    text = f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"
    return f"-{text}" if whole < 0 else text


def _in_page(found: Strip, offered: tuple[OfferedRun, ...]) -> dict[str, Any]:
    """Return what the script needs beside the numbers."""
    return {
        "rows": len(found.time_s),
        "channels": [{"quantity": c.quantity, "title": c.title, "unit": c.unit} for c in found.channels],
        "marks": [{"at": mark.time_s, "label": mark.label} for mark in found.marks],
        "runs": [
            {
                "key": run.key,
                "from": run.from_s,
                "to": run.to_s,
                "method": run.method,
                "words": _as_lines({name: str(value) for name, value in run.setup.items()}),
                "state": str(run.state),
            }
            for run in found.runs
        ],
        "offered": [
            {
                "number": one.number,
                "from": one.found.from_s,
                "to": one.found.to_s,
                "kind": one.found.kind,
                "method": one.found.method,
                "words": _as_lines(one.found.setup),
                "state": one.state,
            }
            for one in offered
        ],
    }


def _as_lines(words: Mapping[str, str]) -> str:
    return "\n".join(f"{name}: {value}" for name, value in words.items())


def numbers(ask: Ask) -> Response:
    """Hand out the numbers: times as 64-bit floats, then each strip as 32-bit floats, little-endian, row by row."""
    found = strip(ask.store, ask.slug, ask.path("sha"), is_metric())
    parts = [found.time_s.astype("<f8").tobytes()]
    parts += [np.asarray(channel.values).astype("<f4").tobytes() for channel in found.channels]
    return Response(b"".join(parts), media_type="application/octet-stream")


def look(ask: Ask) -> Response:
    """Say what a stretch would be as a run, with nothing kept."""
    body = ask.json()
    if not isinstance(body, dict):
        raise BadInputError("what was sent is no stretch", "request", "an object with from_s, to_s and method")
    span = (_number(body.get("from_s"), "from"), _number(body.get("to_s"), "to"))
    words = _words(str(body.get("words", "")))
    found = preview(ask.store, ask.slug, ask.path("sha"), str(body.get("method", "")), span, words, is_metric())
    return ask.numbers(_preview_document(found))


def _preview_document(found: Preview) -> dict[str, Any]:
    hand = [{"title": words_in(one.title), "value": _hand_words(one)} for one in found.by_hand[:MOST_HAND_RESULTS]]
    return {
        "title": words_in(found.title),
        "problem": words_in(told(found.problem)),
        "readings": found.readings,
        "by_hand": hand,
        "exceedances": [words_in(one.sentence()) for one in found.exceedances],
        "time_s": found.time_s.tolist(),
        "fitted": [None if math.isnan(value) else round(value, 3) for value in found.fitted.tolist()],
        "scatter": None if math.isnan(found.scatter) else round(found.scatter, 2),
        "flagged": found.flagged,
        "unit": found.unit,
    }


def _hand_words(result: HandResult) -> str:
    """Return a closed-form answer with its unit and 95 % interval."""
    found = told_in(hand_document(result))
    if found["value"] is None:
        return words_in(result.sentence)
    most = found["interval_95"]
    unit = f" {unit_name(found['unit'])}" if unit_name(found["unit"]) else ""
    return f"{shown(found['value'], place(most))}{unit} (95 %: {interval(most)})"


def keep(ask: Ask) -> Response:
    """Keep the stretch as a run; the run it was trimmed from is set aside with the reason."""
    sha, replaced = ask.path("sha"), ask.text("replaces").strip()
    try:
        span = (_number(ask.text("from_s"), "from"), _number(ask.text("to_s"), "to"))
        words = _words(ask.text("words"))
        if replaced:
            set_run_aside(
                ask.store, ask.slug, replaced, "trimmed; a run of the shorter or longer stretch took its place"
            )
        try:
            add_run_to(
                ask.store, ask.slug, sha, ask.text("method") or None, span, words, ask.text("key").strip() or None
            )
        except BadInputError:
            if replaced:
                put_run_back(ask.store, ask.slug, replaced)
            raise
    except BadInputError as error:
        return _page(ask, HTTPStatus.UNPROCESSABLE_ENTITY, str(error))
    return ask.go(_here(ask))


def accept(ask: Ask) -> Response:
    """Make a run of a suggestion as it stands."""
    try:
        accept_proposal(ask.store, ask.slug, ask.path("sha"), _whole(ask.path("number")))
    except BadInputError as error:
        return _page(ask, HTTPStatus.UNPROCESSABLE_ENTITY, str(error))
    return ask.go(_here(ask))


def turn_down(ask: Ask) -> Response:
    """Note that a suggestion is no run; it stays in the list."""
    turn_down_proposal(ask.store, ask.slug, ask.path("sha"), _whole(ask.path("number")), ask.text("reason"))
    return ask.go(_here(ask))


def _here(ask: Ask) -> str:
    return f"/studies/{ask.slug}/recordings/{ask.path('sha')}/strip"


def _whole(text: str) -> int:
    return int(text) if text.isdigit() and len(text) < 6 else 0


def _number(value: Any, where: str) -> float:
    try:
        found = float(value)
    except (TypeError, ValueError):
        found = math.nan
    if not math.isfinite(found):
        raise BadInputError(f"'{str(value)[:40]}' is no time", where, "seconds on the recording's clock, such as 72.5")
    return found


def _words(text: str) -> dict[str, str]:
    """Return set-up words from lines of ``name: value``."""
    words: dict[str, str] = {}
    for number, line in enumerate(text.splitlines(), 1):
        name, colon, value = line.partition(":")
        if not line.strip():
            continue
        if not colon or not name.strip():
            raise BadInputError(f"'{line.strip()[:40]}' is no word", f"words, line {number}", "write 'weight: 2900 lb'")
        words[name.strip().lower()] = value.strip()
    return words


AT = "/studies/{slug}/recordings/{sha}/strip"
ROUTES = [
    get(AT, show),
    get(f"{AT}.bin", numbers),
    post_json(f"{AT}/look", look),
    post(f"{AT}/runs", keep),
    post(f"{AT}/suggestions/{{number}}/accept", accept),
    post(f"{AT}/suggestions/{{number}}/turn-down", turn_down),
]
