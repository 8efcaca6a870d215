"""Pages from templates: what every template may use, and nothing marked safe that somebody typed."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request

from wringout.numerals import count
from wringout.web import drawing, figures, units
from wringout.web.security import token_of
from wringout.web.wording import told

FOLDER = Path(__file__).parent
STATIC = FOLDER / "static"
THEMES = ("auto", "day", "night")
THEME_COOKIE = "wringout-theme"


def render(request: Request, template: str, context: Mapping[str, Any]) -> str:
    """Return a template filled in for a request."""
    theme = request.cookies.get(THEME_COOKIE, "auto")
    chosen = units.chosen_by(request)
    with units.shown_in(chosen):
        return units.page_in(_filled(request, template, context, theme, chosen))


def _filled(request: Request, template: str, context: Mapping[str, Any], theme: str, chosen: str) -> str:
    return (
        environment()
        .get_template(template)
        .render(
            **context,
            token=token_of(request.scope["session_key"]),
            theme=theme if theme in THEMES else "auto",
            units=chosen,
            unit_choices=units.CHOICES,
            asked_for=request.url.query,
            here=request.url.path,
            site=getattr(request.app.state, "site", None),
            tabs=request.app.state.late.tabs(),
        )
    )


@cache
def environment() -> Environment:
    """Return the environment all templates share; an unknown name in one is an error."""
    made = Environment(
        loader=FileSystemLoader(FOLDER / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(
        sentence=drawing.sentence,
        told=told,
        order=units.title_in,
        in_units=units.words_in,
        quoted=lambda text: quote(str(text), safe=""),
        day=drawing.day,
        size=drawing.size,
    )
    made.globals.update(
        asset=asset,
        shown=figures.shown,
        interval=figures.interval,
        with_unit=figures.quantity,
        bare=figures.bare,
        limit=figures.limit,
        whole=figures.whole,
        unit_in=units.unit_in,
        number_in=units.number_in,
        place=figures.place,
        unit=figures.unit_name,
        svg=drawing.inline_svg,
        count=count,
    )
    return made


@cache
def asset(name: str) -> str:
    """Return the address of one of our own static files; it changes when the file does, so browsers may keep it."""
    digest = hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:12]
    return f"/static/{name}?{digest}"
