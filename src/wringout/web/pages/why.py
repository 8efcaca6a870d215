"""Why one order is ahead of another under a pilot law: when the benefit came, through what, where energy goes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.responses import Response

from wringout.errors import NotFoundError
from wringout.services.matchups.compare import verdict
from wringout.services.matchups.map_figures import benefit_svg, benefit_words, flight_svg, flight_words
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import get
from wringout.web.units import chosen, title_in


def show(ask: Ask) -> Response:
    """Show it for the pilot law that is asked for, else for the first that has it."""
    _, result, current = verdict(ask.store, ask.slug)
    body: Mapping[str, Any] = result.body
    laws = [law for law in body["laws"] if law.get("why")]
    if not laws:
        raise NotFoundError("the newest matchup keeps no reason", advice="fly every order again")
    law = next((one for one in laws if one["law"] == ask.query("law")), laws[0])
    why, lowest = law["why"], float(body["thresholds"]["lowest_stall_ratio"])
    return study_page(
        ask,
        "techniques",
        "Why one order is ahead",
        "why.html",
        law=law,
        laws=laws,
        why=why,
        is_current=current,
        benefit=(benefit_svg(why["benefit"], chosen()), benefit_words(why["benefit"], chosen())),
        flights=[
            (
                title_in(order["title"]),
                flight_svg(flight, lowest, name, chosen()),
                flight_words(flight, lowest, chosen()),
            )
            for order, flight, name in zip((why["first"], why["second"]), why["flights"], ("one", "other"), strict=True)
        ],
    )


ROUTES = [get("/studies/{slug}/techniques/why", show)]
