"""The frame every page of a study stands in: its title, its chapters, and the work that goes on in the background."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from starlette.responses import Response

from wringout.services.study.studies import summary
from wringout.web.ask import Ask


def study_page(
    ask: Ask, current: str, chapter: str, template: str, status: int = HTTPStatus.OK, **context: Any
) -> Response:
    """Answer with a page of the study the address names.

    Args:
        ask: the request; its address holds ``{slug}``.
        current: the key of the chapter the page belongs to.
        chapter: what the page is called in the window's title.
        template: extends ``study.html``.
        status: 200, or 422 for a form that was refused and is shown again with what was typed.
        context: what the template needs besides ``study`` and ``summary``.

    Raises:
        NotFoundError: there is no such study.
    """
    found = summary(ask.store, ask.slug)
    base = {
        "study": found.study,
        "summary": found,
        "current": current,
        "chapter": chapter,
        "jobs": ask.jobs_of(found.study.slug),
    }
    return ask.page(template, status, **(base | context))


def chapter_path(slug: str, chapter: str) -> str:
    """Return the address of a study's chapter; "question" is where a study begins."""
    return f"/studies/{slug}/" if chapter == "question" else f"/studies/{slug}/{chapter}"
