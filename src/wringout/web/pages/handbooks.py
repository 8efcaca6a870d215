"""Handbooks: what those of the study's family print, read as techniques beside the best found and the general order."""

from __future__ import annotations

from dataclasses import replace
from urllib.parse import quote

from starlette.responses import Response

from wringout.errors import NotFoundError
from wringout.services.airplane.airplanes import show_airplane
from wringout.services.register.agreement_kept import families_for, kept_agreement
from wringout.services.register.documents import CAUTIONS
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import Tab, get, post
from wringout.web.units import told_in

TAB = Tab(70, "handbooks", "Handbooks", "/handbooks")
AGREE = "wringout.web.work.studies:agree_handbooks_of"
SCALE = {"ft": 0, "s": 1, "kt": 1, "m": 1, "km/h": 0}


def show(ask: Ask) -> Response:
    """Show the agreement of a family as it was last computed, or how to compute it."""
    try:
        airplane = show_airplane(ask.store, ask.slug).beliefs.name
    except NotFoundError:
        airplane = ""
    families = families_for(ask.store, airplane)
    family = ask.query("family") or (families[0] if families else "")
    kept = kept_agreement(ask.store, ask.slug, family, ask.now.date()) if family else None
    return study_page(
        ask,
        "handbooks",
        "Handbooks",
        "handbooks.html",
        families=families,
        family=family,
        kept=None if kept is None else replace(kept, body=told_in(kept.body)),
        scale=SCALE,
        cautions=CAUTIONS,
    )


def compute(ask: Ask) -> Response:
    """Read and fly the printed orders, in the background."""
    family = ask.text("family").strip()
    there = f"/studies/{ask.slug}/handbooks?family={quote(family)}"
    if family not in families_for(ask.store, ""):
        raise NotFoundError(f"the register knows no family {family[:60]!r}", advice="choose one from the register")
    ask.jobs.start(
        ask.slug,
        "agreement",
        "Reading the handbooks",
        there,
        AGREE,
        slug=ask.slug,
        family=family,
        on=ask.now.date().isoformat(),
    )
    return ask.go(there)


ROUTES = [get("/studies/{slug}/handbooks", show), post("/studies/{slug}/handbooks", compute)]
