"""What a page is asked, and the few ways it answers."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from http import HTTPStatus
from typing import TYPE_CHECKING, Any

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from wringout.errors import BadInputError
from wringout.services.opening import Store
from wringout.web.jobs import Job, Jobs
from wringout.web.rendering import render

if TYPE_CHECKING:
    from wringout.web.site import Site


@dataclass(frozen=True, slots=True)
class Ask:
    """One request. ``form`` is None for pages that only show; ``body`` holds what a script sent as JSON.

    ``jobs_at_first`` is the work as it stood before anything else was read. A page says no more of its work than that:
    it never tells of work as done while it shows what was there before. Whoever waits is told at the next look.
    """

    request: Request
    form: FormData | None = None
    body: bytes = b""
    jobs_at_first: tuple[Job, ...] = ()

    @property
    def site(self) -> Site:
        """The running workbench."""
        found: Site = self.request.app.state.site
        return found

    @property
    def store(self) -> Store:
        """Where the studies are kept; threads share it."""
        return self.site.store

    @property
    def jobs(self) -> Jobs:
        """The work going on in the background."""
        return self.site.jobs

    def jobs_of(self, study: str) -> tuple[Job, ...]:
        """Return the work of one study, oldest first, "" for what belongs to none, as a page may tell of it."""
        return tuple(job for job in self.jobs_at_first if job.study == study)

    @property
    def slug(self) -> str:
        """The short name of the study that the address names."""
        return str(self.request.path_params["slug"])

    @property
    def now(self) -> datetime:
        """The present moment."""
        return self.site.settings.clock()

    @property
    def is_part(self) -> bool:
        """Whether htmx asks for a part of a page."""
        return "hx-request" in self.request.headers

    def path(self, name: str) -> str:
        """Return a part of the address, such as the key of a run."""
        return str(self.request.path_params[name])

    def query(self, name: str, usual: str = "") -> str:
        """Return what stands behind the question mark."""
        return self.request.query_params.get(name, usual)

    def text(self, name: str, usual: str = "") -> str:
        """Return a field of the form as it was typed, with line ends as newlines."""
        value = usual if self.form is None else self.form.get(name, usual)
        return value.replace("\r\n", "\n") if isinstance(value, str) else usual

    def texts(self, name: str) -> tuple[str, ...]:
        """Return every value of a field that may come several times."""
        values: Sequence[Any] = [] if self.form is None else self.form.getlist(name)
        return tuple(value for value in values if isinstance(value, str))

    def uploads(self, name: str) -> tuple[UploadFile, ...]:
        """Return the files of a field; a field left empty gives none."""
        values: Sequence[Any] = [] if self.form is None else self.form.getlist(name)
        return tuple(value for value in values if isinstance(value, UploadFile) and value.filename)

    def json(self) -> Any:
        """Return what a script sent.

        Raises:
            BadInputError: it is not JSON.
        """
        try:
            return json.loads(self.body)
        except (ValueError, RecursionError):
            raise BadInputError("what was sent is not JSON", "request", "send one JSON document") from None

    def page(self, template: str, status: int = HTTPStatus.OK, **context: Any) -> Response:
        """Answer with a page, or with a part of one; the template decides which."""
        return HTMLResponse(render(self.request, template, context), status)

    def go(self, address: str) -> Response:
        """Send the browser on to another address after something was done."""
        if self.is_part:
            return Response(status_code=HTTPStatus.NO_CONTENT, headers={"HX-Redirect": address})
        return RedirectResponse(address, HTTPStatus.SEE_OTHER)

    def numbers(self, document: Mapping[str, Any]) -> Response:
        """Answer with JSON, for a script."""
        return JSONResponse(dict(document))
