"""Home: the shelf of studies; making one, opening the bundled one, taking one in from a bundle."""

from __future__ import annotations

from http import HTTPStatus

from starlette.background import BackgroundTask
from starlette.responses import Response

from wringout.errors import BadInputError
from wringout.services.publishing.bundles import import_study
from wringout.services.study.shelf import shelf
from wringout.services.study.studies import make_study
from wringout.web.ask import Ask
from wringout.web.frame import chapter_path
from wringout.web.routing import get, post

DEMONSTRATION = "quillback-go-around"
OPEN_DEMONSTRATION = "wringout.web.work.studies:take_in_demonstration_study"
USUAL_DIFFERENCE = "25 ft"
MOST_EARLIER = 200


def home(ask: Ask) -> Response:
    """Show the shelf; the pages of the studies are loaded once it is answered."""
    answer = _shelf(ask)
    answer.background = BackgroundTask(ask.request.app.state.late.begin)
    return answer


def _shelf(ask: Ask, status: int = HTTPStatus.OK, refused: str = "", bundle_refused: str = "") -> Response:
    return ask.page(
        "home.html",
        status,
        entries=shelf(ask.store)[:MOST_EARLIER],
        jobs=ask.jobs_of(""),
        typed={
            "title": ask.text("title"),
            "question": ask.text("question"),
            "smallest": ask.text("smallest", USUAL_DIFFERENCE),
            "invented": ask.text("invented"),
            "name": ask.text("name"),
        },
        refused=refused,
        bundle_refused=bundle_refused,
    )


def new_study(ask: Ask) -> Response:
    """Make a study; what was typed stays when it is refused."""
    title, question = ask.text("title").strip(), ask.text("question").strip()
    try:
        if not question:
            raise BadInputError("a study begins with a question", "question", "write what you want to know")
        difference = {"score": "energy_height_30s", "smallest": ask.text("smallest", USUAL_DIFFERENCE).strip()}
        invented, name = ask.text("invented") == "yes", ask.text("name").strip() or None
        made = make_study(ask.store, title or _title_of(question), question, difference, invented, name)
    except BadInputError as error:
        return _shelf(ask, HTTPStatus.UNPROCESSABLE_ENTITY, refused=str(error))
    return ask.go(chapter_path(made.slug, "airplane"))


def _title_of(question: str) -> str:
    first = " ".join(question.split())
    return first if len(first) <= 80 else f"{first[:77].rsplit(' ', 1)[0]} ..."


def open_demonstration(ask: Ask) -> Response:
    """Put the bundled study on the shelf, in the background."""
    shows = chapter_path(DEMONSTRATION, "question")
    ask.jobs.start("", "demonstration", "Opening the bundled study", shows, OPEN_DEMONSTRATION)
    return ask.go("/")


def import_bundle(ask: Ask) -> Response:
    """Take a study in from its bundle."""
    files = ask.uploads("bundle")
    if not files:
        return _shelf(ask, HTTPStatus.UNPROCESSABLE_ENTITY, bundle_refused="Choose a bundle first: a .zip file.")
    try:
        made = import_study(ask.store, files[0].file, files[0].filename or "bundle")
    except BadInputError as error:
        return _shelf(ask, HTTPStatus.UNPROCESSABLE_ENTITY, bundle_refused=str(error))
    return ask.go(chapter_path(made.study.slug, "question"))


ROUTES = [
    get("/", home),
    post("/studies", new_study),
    post("/demonstration", open_demonstration),
    post("/bundles", import_bundle),
]
