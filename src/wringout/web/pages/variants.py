"""Airplanes of the register's models: the airplane file each printed order is flown on."""

from __future__ import annotations

from http import HTTPStatus

from starlette.responses import Response

from wringout.errors import BadInputError, NotFoundError
from wringout.services.airplane.airplanes import LONGEST_AIRPLANE_BYTES
from wringout.services.register.printed_orders import known_airplanes, put_variant
from wringout.services.study.studies import summaries
from wringout.web.ask import Ask
from wringout.web.routing import get, post

AT = "/register/airplanes"
FIELDS = ("family", "model", "study")


def show(ask: Ask) -> Response:
    """Show the models whose airplane is known, and the form for another."""
    return _page(ask)


def _page(ask: Ask, refused: str = "", status: int = HTTPStatus.OK) -> Response:
    return ask.page(
        "register_airplanes.html",
        status,
        known=known_airplanes(ask.store),
        studies=[(one.study.slug, one.study.title) for one in summaries(ask.store)],
        typed={name: ask.text(name) for name in FIELDS},
        refused=refused,
    )


def put(ask: Ask) -> Response:
    """Give a model its airplane file."""
    family, model, study = (ask.text(name).strip() for name in FIELDS)
    files = ask.uploads("file")
    try:
        if not files:
            raise BadInputError("no airplane file was chosen", "file", "choose a .toml file")
        name = files[0].filename or "airplane.toml"
        put_variant(ask.store, family, model, files[0].file.read(LONGEST_AIRPLANE_BYTES + 1), name, study)
    except (BadInputError, NotFoundError) as error:
        return _page(ask, str(error), HTTPStatus.UNPROCESSABLE_ENTITY)
    return ask.go(AT)


ROUTES = [get(AT, show), post(AT, put)]
