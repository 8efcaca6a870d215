"""What belongs to no chapter: the theme, the units, the work in the background, the pairing of another device."""

from __future__ import annotations

from http import HTTPStatus

from starlette.responses import RedirectResponse, Response

from wringout.errors import NotFoundError
from wringout.services.study.studies import summary
from wringout.web.ask import Ask
from wringout.web.pairing import COOKIE, KEY_LASTS_S, Pairing
from wringout.web.rendering import THEME_COOKIE, THEMES
from wringout.web.routing import get, post
from wringout.web.security import is_here
from wringout.web.units import CHOICES
from wringout.web.units import COOKIE as COOKIE_OF_UNITS

A_YEAR_S = 31_536_000
MOST_DIGITS = 9


def _back(ask: Ask) -> str:
    """Return the page to go back to: only ever one of our own."""
    back = ask.text("back", "/")
    return back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/"


def theme(ask: Ask) -> Response:
    """Keep the chosen theme."""
    chosen = ask.text("theme")
    answer = ask.go(_back(ask))
    if chosen in THEMES:
        answer.set_cookie(THEME_COOKIE, chosen, max_age=A_YEAR_S, samesite="strict")
    return answer


def units(ask: Ask) -> Response:
    """Keep the chosen units."""
    chosen = ask.text("units")
    answer = ask.go(_back(ask))
    if chosen in dict(CHOICES):
        answer.set_cookie(COOKIE_OF_UNITS, chosen, max_age=A_YEAR_S, samesite="strict")
    return answer


def jobs_part(ask: Ask) -> Response:
    """Show the work of one study, for a page that waits."""
    return ask.page("jobs.html", jobs=ask.jobs.of_study(summary(ask.store, ask.slug).study.slug))


def home_jobs_part(ask: Ask) -> Response:
    """Show the work that belongs to no study."""
    return ask.page("jobs.html", jobs=ask.jobs.of_study(""))


def _number(ask: Ask) -> int:
    text = ask.path("number")
    if not text.isdigit() or len(text) > MOST_DIGITS:
        raise NotFoundError("there is no such work", advice="load the page again")
    return int(text)


def stop_job(ask: Ask) -> Response:
    """Stop work; what has ended, or was put away in another window, stays as it is."""
    ask.jobs.stop(_number(ask))
    return ask.go(_back(ask))


def dismiss_job(ask: Ask) -> Response:
    """Take work that has ended off the table; another window may have done so before."""
    number = _number(ask)
    job = ask.jobs.find(number)
    ask.jobs.dismiss(number)
    if ask.is_part and job is not None:
        return ask.page("jobs.html", jobs=ask.jobs.of_study(job.study))
    return ask.go(_back(ask))


def pair_page(ask: Ask) -> Response:
    """Ask another device for the code; on the workbench's own machine, show it and who is in."""
    return ask.page("pair.html", said="", own=_own(ask))


def _own(ask: Ask) -> Pairing | None:
    return ask.site.settings.pairing if is_here(ask.request) else None


def end_pairing(ask: Ask) -> Response:
    """End every device's key and make a new code; only the workbench's own machine may."""
    own = _own(ask)
    if own is None:
        raise NotFoundError("sharing is ended on the machine where Wringout was opened", advice="go there, or stop it")
    own.renew()
    return ask.go("/pair")


def pair(ask: Ask) -> Response:
    """Take a code."""
    pairing = ask.site.settings.pairing
    if pairing is None:
        return ask.go("/")
    key, said = pairing.pair(ask.text("code"))
    if not key:
        return ask.page("pair.html", HTTPStatus.FORBIDDEN, said=said, own=_own(ask))
    answer = RedirectResponse("/", HTTPStatus.SEE_OTHER)
    answer.set_cookie(COOKIE, key, max_age=int(KEY_LASTS_S), httponly=True, samesite="strict")
    return answer


ROUTES = [
    post("/theme", theme),
    post("/units", units),
    get("/studies/{slug}/jobs", jobs_part),
    get("/jobs", home_jobs_part),
    post("/jobs/{number}/stop", stop_job),
    post("/jobs/{number}/dismiss", dismiss_job),
    get("/pair", pair_page),
    post("/pair", pair),
    post("/pair/end", end_pairing),
]
