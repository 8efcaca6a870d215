"""Pages that need the estimator, loaded while the first page is being read, so that the first page comes at once."""

from __future__ import annotations

import threading

from starlette.concurrency import run_in_threadpool
from starlette.routing import Router
from starlette.types import Receive, Scope, Send

from wringout.web.chapters import known_chapters
from wringout.web.pages import FIRST, load, page_names, routes_of, tabs_of
from wringout.web.routing import Tab

SOON_S = 3.0
"""How long the first page may take to be asked for before the rest is loaded all the same."""


class LatePages:
    """All pages but the first few; a request for one waits until they are loaded."""

    def __init__(self) -> None:
        self._tabs = known_chapters()
        self._router: Router | None = None
        self._error: BaseException | None = None
        self._loaded = threading.Event()
        self._begun = threading.Lock()
        self._soon: threading.Timer | None = None

    def begin_soon(self) -> None:
        """Begin to load a little later: what is loaded would take its time from the first page."""
        self._soon = threading.Timer(SOON_S, self.begin)
        self._soon.daemon = True
        self._soon.start()

    def forget(self) -> None:
        """Do not begin any more."""
        if self._soon is not None:
            self._soon.cancel()

    def begin(self) -> None:
        """Begin to load, in a thread of its own; once."""
        if self._begun.acquire(blocking=False):
            threading.Thread(target=self._load, daemon=True).start()

    def tabs(self) -> tuple[Tab, ...]:
        """Return the chapters known by now, in the order of the work."""
        return self._tabs

    def _load(self) -> None:
        try:
            modules = load(name for name in page_names() if name not in FIRST)
            known = {tab.key for tab in self._tabs}
            more = [tab for tab in tabs_of(modules) if tab.key not in known]
            self._tabs = tuple(sorted([*self._tabs, *more], key=lambda tab: (tab.order, tab.key)))
            self._router = Router(routes_of(modules))
        except BaseException as error:  # kept, and raised in the request that needed the page
            self._error = error
        finally:
            self._loaded.set()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if not self._loaded.is_set():
            self.begin()
            await run_in_threadpool(self._loaded.wait)
        if self._router is None:
            raise RuntimeError("the pages could not be loaded") from self._error
        await self._router(scope, receive, send)
