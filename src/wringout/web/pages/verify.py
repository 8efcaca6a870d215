"""Verify: every number of a bundle computed again in the background, and those that differ shown."""

from __future__ import annotations

import math
from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.errors import BadInputError, NotFoundError
from wringout.numerals import number
from wringout.services.publishing.brief_files import newest_brief
from wringout.services.publishing.document_compare import TOLERANCE
from wringout.services.publishing.verified import (
    KeptVerified,
    all_verified,
    forget_verified,
    kept_verified,
    place_words,
    put_bundle,
)
from wringout.services.study.studies import summaries
from wringout.web.ask import Ask
from wringout.web.routing import Tab, get, post

AT = "/verify"
WORK = "wringout.web.work.verify:verify_of"
MOST_SHOWN = 200


def show(ask: Ask) -> Response:
    """Show the bundles that were verified, and the form for another."""
    return _page(ask)


def _page(ask: Ask, refused: str = "", status: int = HTTPStatus.OK) -> Response:
    return ask.page(
        "verify.html",
        status,
        jobs=ask.jobs_of(""),
        kept=all_verified(ask.site.database),
        bundles=_bundles(ask),
        typed={
            "hash": ask.text("hash"),
            "tolerance": ask.text("tolerance", f"{TOLERANCE:g}"),
            "study": ask.text("study"),
        },
        refused=refused,
    )


def _bundles(ask: Ask) -> list[tuple[str, str, str]]:
    """Return slug, title and day of every study whose brief has its bundle beside it."""
    found = []
    for one in summaries(ask.store):
        brief = newest_brief(ask.store, one.study.slug) if one.brief_path else None
        if brief is not None and any(file.path.suffix == ".zip" for file in brief.files):
            found.append((one.study.slug, one.study.title, brief.at))
    return found


def begin(ask: Ask) -> Response:
    """Take a bundle, chosen or of a study's brief, and begin to verify it."""
    try:
        kept = _put(ask)
    except (BadInputError, NotFoundError) as error:
        return _page(ask, str(error), HTTPStatus.UNPROCESSABLE_ENTITY)
    return _begin(ask, kept)


def _put(ask: Ask) -> KeptVerified:
    try:
        tolerance = float(ask.text("tolerance", f"{TOLERANCE:g}").replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        tolerance = math.nan
    wanted, database, clock = ask.text("hash"), ask.site.database, ask.site.settings.clock
    files, slug = ask.uploads("bundle"), ask.text("study")
    if files:
        return put_bundle(database, files[0].file, files[0].filename or "bundle.zip", clock, tolerance, wanted)
    if not slug:
        raise BadInputError("no bundle was chosen", "bundle", "choose a .zip file, or a study whose brief is written")
    brief = newest_brief(ask.store, slug)
    found = next((file for file in brief.files if file.path.suffix == ".zip"), None) if brief else None
    if found is None:
        raise NotFoundError("the study has no bundle", advice="write its brief first, or choose a .zip file")
    with found.path.open("rb") as stream:
        return put_bundle(database, stream, found.name, clock, tolerance, wanted)


def _begin(ask: Ask, kept: KeptVerified) -> Response:
    here = f"{AT}/{kept.key}"
    ask.jobs.start("", f"verify-{kept.key}", f"Computing {kept.name} again", here, WORK, key=kept.key)
    return ask.go(here)


def one(ask: Ask) -> Response:
    """Show what one bundle came to."""
    kept = kept_verified(ask.site.database, ask.path("key"))
    going = any(job.kind == f"verify-{kept.key}" and job.is_open for job in ask.jobs_at_first)
    results = [] if kept.document is None else [_result(item) for item in kept.document["results"]]
    return ask.page(
        "verified.html", kept=kept, going=going, results=results, jobs=ask.jobs_of(""), document=kept.document
    )


def _result(item: dict[str, Any]) -> dict[str, Any]:
    rows = [
        {
            "place": place_words(str(d["path"])),
            "kept": _said(d["kept"]),
            "again": _said(d["again"]),
            "apart": "" if d["apart"] is None else _share(float(d["apart"])),
        }
        for d in item["differences"][:MOST_SHOWN]
    ]
    draws = item["draws_apart"]
    told = "" if not draws else f"{draws:.3g}" if math.isfinite(draws) else "not comparable"
    return item | {"rows": rows, "left_out": max(len(item["differences"]) - MOST_SHOWN, 0), "draws_told": told}


def _said(value: object) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return f"{value:.9g}".replace("-", "\N{MINUS SIGN}")
    return str(value)[:800]


def _share(apart: float) -> str:
    return f"{number(100.0 * apart, 2)} %" if apart >= 1e-4 else f"{apart:.1e}".replace("-", "\N{MINUS SIGN}")


def again(ask: Ask) -> Response:
    """Begin once more, for work that was stopped."""
    return _begin(ask, kept_verified(ask.site.database, ask.path("key")))


def forget(ask: Ask) -> Response:
    """Take a bundle off the list."""
    forget_verified(ask.site.database, ask.path("key"))
    return ask.go(AT)


TAB = Tab(94, "verify", "Verify", AT, of_study=False)
ROUTES = [
    get(AT, show),
    post(AT, begin),
    get(f"{AT}/{{key}}", one),
    post(f"{AT}/{{key}}/again", again),
    post(f"{AT}/{{key}}/forget", forget),
]
