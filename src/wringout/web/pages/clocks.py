"""Clocks: several recordings of one flight held beside one another, and brought onto one clock; parts joined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any
from urllib.parse import urlencode

from starlette.responses import Response

from wringout.errors import BadInputError, NotFoundError
from wringout.recordings.together.alignment import ClockFit
from wringout.services.flights.clocks import join_recordings
from wringout.services.flights.one_clock import (
    BY_HAND,
    Beside,
    SideBySide,
    can_be_aligned,
    keep_on_one_clock,
    kept_on_one_clock,
    look_at_clocks,
    undo_one_clock,
)
from wringout.services.flights.recordings import ReadRecording, study_recordings
from wringout.web.ask import Ask
from wringout.web.drawn.clocks import clocks_drawing, title_of
from wringout.web.figures import shown
from wringout.web.frame import study_page
from wringout.web.routing import get, post

LONGEST = 60
"""Characters of an offset that are looked at."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """What was chosen and typed: hashes of recordings, an offset for each of the others, a name."""

    first: str = ""
    others: tuple[str, ...] = ()
    offsets: tuple[str, ...] = ()
    name: str = ""

    @property
    def address(self) -> str:
        """What stands behind the question mark, so that the page can be loaded again."""
        pairs = [("first", self.first)]
        for i, other in enumerate(self.others):
            pairs += [("other", other), ("offset", self.offsets[i] if i < len(self.offsets) else "")]
        return urlencode([*pairs, *([("name", self.name)] if self.name else [])])


def show(ask: Ask) -> Response:
    """Show the recordings to choose from, how those chosen lie, and what was brought together."""
    query, first = ask.request.query_params, ask.query("first")
    offsets = tuple(text[:LONGEST] for text in query.getlist("offset"))
    others = tuple(query.getlist("other"))
    if not offsets:  # of the recordings to choose from, the first may be ticked too
        others = tuple(one for one in others if one != first) or others
    return _page(ask, Chosen(first, others, offsets, ask.query("name")))


def _page(ask: Ask, chosen: Chosen, status: int = HTTPStatus.OK, **told: Any) -> Response:
    read = [one for one in study_recordings(ask.store, ask.slug) if _has_clock(one)]
    found, trouble = None, ""
    if chosen.others:
        found, trouble = _looked_at(ask, chosen)
    context = {
        "recordings": [one.item for one in read],
        "chosen": chosen,
        "found": found,
        "beside": [] if found is None else [_beside(found, one) for one in found.others],
        "kept": kept_on_one_clock(ask.store, ask.slug),
        "refused": trouble,
        "keep_refused": "",
        "join_refused": "",
        "joined": {},
        "joined_name": "",
        "title_of": title_of,
    } | told
    code = HTTPStatus.UNPROCESSABLE_ENTITY if trouble and status == HTTPStatus.OK else status
    return study_page(ask, "flights", "Clocks", "clocks.html", code, **context)


def _has_clock(one: ReadRecording) -> bool:
    return one.recording is not None and can_be_aligned(one.recording)


def _looked_at(ask: Ask, chosen: Chosen) -> tuple[SideBySide | None, str]:
    """Return the recordings side by side; where an offset is none, as they were found, with the sentence."""
    try:
        return look_at_clocks(ask.store, ask.slug, chosen.first, chosen.others, chosen.offsets), ""
    except (BadInputError, NotFoundError) as error:
        said = str(error)
    if not any(chosen.offsets):
        return None, said
    try:
        return look_at_clocks(ask.store, ask.slug, chosen.first, chosen.others), said
    except (BadInputError, NotFoundError):
        return None, said


def _beside(found: SideBySide, one: Beside) -> dict[str, Any]:
    fit = one.fit
    return {
        "item": one.item,
        "fit": fit,
        "lead": one.why_not if fit is None else _sentence(found.item.name, one.item.name, fit),
        "sentence": one.why_not if fit is None else _sentence(found.item.name, "It", fit),
        "how": "" if fit is None else _how(fit),
        "found_begins": _begins(one.found) if one.found is not None else "",
        "steps": () if fit is None else fit.steps,
        "drawn": clocks_drawing(found.recording, one.recording, fit),
    }


def _begins(fit: ClockFit) -> str:
    """Return by how much later a recording begins, as it would be typed."""
    return f"{float(fit.time_of(0.0)):.2f} ± {fit.sd_at(0.0):.2f} s"


def _sentence(first: str, subject: str, fit: ClockFit) -> str:
    begins = float(fit.time_of(0.0))
    when = "after" if begins >= 0.0 else "before"
    sure = f"{shown(abs(begins), 2)} ± {shown(fit.sd_at(0.0), 2)} s"
    return f"{subject} begins {sure} {when} {first} does (68\N{NO-BREAK SPACE}% confidence)."


def _how(fit: ClockFit) -> str:
    """Return how an offset was found, in words."""
    drift = f"Drift {shown(1e6 * fit.rate)} ± {shown(1e6 * fit.rate_sd)} parts in a million"
    if fit.by == BY_HAND:
        return f"As you typed. {drift}, as clocks are believed to drift (judged, no source)."
    if fit.by == "marks":
        return f"By {fit.count} marks of the same events, each taken to be 0.7 s off (judged, no source). {drift}."
    what = f"By {' against '.join(map(title_of, fit.by.split(' against ')))} over {shown(fit.count)} s"
    return f"{what}: the best match of the two (cross-correlation), then least squares. {drift}."


def look(ask: Ask) -> Response:
    """Look at the recordings with offsets that were typed."""
    chosen = _chosen(ask)
    try:
        look_at_clocks(ask.store, ask.slug, chosen.first, chosen.others, chosen.offsets)
    except (BadInputError, NotFoundError) as error:
        return _page(ask, chosen, HTTPStatus.UNPROCESSABLE_ENTITY, keep_refused=str(error), refused="")
    return ask.go(f"{_at(ask)}?{chosen.address}#beside")


def _chosen(ask: Ask) -> Chosen:
    offsets = tuple(text.strip()[:LONGEST] for text in ask.texts("offset"))
    return Chosen(ask.text("first"), ask.texts("other"), offsets, ask.text("name").strip())


def keep(ask: Ask) -> Response:
    """Keep the recordings on one clock."""
    chosen = _chosen(ask)
    try:
        keep_on_one_clock(ask.store, ask.slug, chosen.first, chosen.others, chosen.offsets, chosen.name)
    except (BadInputError, NotFoundError) as error:
        return _page(ask, chosen, HTTPStatus.UNPROCESSABLE_ENTITY, keep_refused=str(error), refused="")
    return ask.go(f"{_at(ask)}#kept")


def undo(ask: Ask) -> Response:
    """Take recordings apart again; what was chosen stands in the form once more."""
    revision = ask.text("revision")
    expected = int(revision) if revision.isdigit() and len(revision) < 10 else None
    body = undo_one_clock(ask.store, ask.slug, ask.path("key"), expected).body
    others: Sequence[Any] = body.get("others", ())
    chosen = Chosen(
        str(body.get("first", {}).get("sha256", "")),
        tuple(str(one["sha256"]) for one in others),
        tuple(str(one.get("typed", "")) for one in others),
        str(body.get("made", {}).get("name", "")),
    )
    return ask.go(f"{_at(ask)}?{chosen.address}")


def join(ask: Ask) -> Response:
    """Join the parts a logger split a flight into, in the order of their numbers."""
    numbered = dict(zip(ask.texts("part"), (text.strip() for text in ask.texts("number")), strict=False))
    name = ask.text("name").strip()
    try:
        parts = _in_order(numbered)
        made = join_recordings(ask.store, ask.slug, parts, name)
    except (BadInputError, NotFoundError) as error:
        told = {"join_refused": str(error), "joined": numbered, "joined_name": name}
        return _page(ask, Chosen(), HTTPStatus.UNPROCESSABLE_ENTITY, **told)
    return ask.go(f"/studies/{ask.slug}/recordings/{made.item.recording.sha256}")


def _in_order(numbered: dict[str, str]) -> list[str]:
    places: dict[int, str] = {}
    for sha256, text in numbered.items():
        if not text:
            continue
        if not text.isdigit() or len(text) > 3 or int(text) in places:
            wrong = "stands twice" if text.isdigit() and len(text) <= 3 else "is no number of a part"
            raise BadInputError(f"{text[:20]!r} {wrong}", "parts", "number them 1, 2, 3 in their order")
        places[int(text)] = sha256
    if len(places) < 2:
        raise BadInputError("fewer than two parts are numbered", "parts", "number two or more in their order")
    return [places[place] for place in sorted(places)]


def _at(ask: Ask) -> str:
    return f"/studies/{ask.slug}/clocks"


AT = "/studies/{slug}/clocks"
ROUTES = [
    get(AT, show),
    post(f"{AT}/look", look),
    post(f"{AT}/keep", keep),
    post(f"{AT}/kept/{{key}}/undo", undo),
    post(f"{AT}/join", join),
]
