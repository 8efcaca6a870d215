"""What every request passes before a page sees it: the name asked for, where it came from, its size, and its key.

Every answer carries a content-security policy without inline script or style, so that nothing a recording or a study
contains can run. Writes must come from the workbench's own pages (``Sec-Fetch-Site``, or ``Origin``), and forms carry a
token as well (:mod:`wringout.web.routing`).
"""

from __future__ import annotations

import asyncio
import hashlib
import ipaddress
import re
import secrets
from collections.abc import Awaitable, Callable
from http import HTTPStatus

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from wringout.web.pairing import COOKIE as PAIRED
from wringout.web.settings import LONGEST_BODY_BYTES, LONGEST_UPLOAD_BYTES, Settings

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
SESSION = "wringout-session"
OPEN_PATHS = ("/static/", "/capture/")
PAIR_PATH = "/pair"
"""What a device that is not paired may see."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; worker-src 'self'; frame-src 'self'; form-action 'self'; "
    "frame-ancestors 'self'; base-uri 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}

Refuse = Callable[[Request, int, str, str], Response]
"""Makes the page of a refusal: status, what is wrong, what to do."""


def token_of(session: str) -> str:
    """Return the token that forms of a session carry; it stays the same over a restart, so no typed text is lost."""
    return hashlib.sha256(f"wringout form {session}".encode()).hexdigest()[:40]


_HOST = re.compile(r"(\[[0-9a-f:.]+\]|[^\s:/?#@\[\]\\]+)(?::\d{1,5})?")


def host_name(host: str) -> str:
    """Return a Host header's name without its port; "" for what is no name with a port."""
    found = _HOST.fullmatch(host.strip().lower())
    return "" if found is None else found[1]


def is_own(headers: Headers) -> bool:
    """Say whether a write was sent by the workbench's own page, or by a program that is no browser."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in {"same-origin", "none"}
    origin = headers.get("origin")
    return origin is None or origin.partition("://")[2] == headers.get("host", "")


class TooLargeError(Exception):
    """More bytes arrived than are taken."""


class TooSlowError(Exception):
    """The rest of a request did not arrive."""


class Guard:
    """The middleware: refuses, or lets a request through and dresses the answer."""

    def __init__(self, app: ASGIApp, settings: Settings, refuse: Refuse) -> None:
        self.app = app
        self.settings = settings
        self.refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] == "websocket":  # no page uses one, so whoever asks is none of ours
            await send({"type": "websocket.close", "code": 1008})
            return
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope, receive)
        session = request.cookies.get(SESSION) or ""
        fresh = not 20 <= len(session) <= 80
        if fresh:
            session = secrets.token_urlsafe(24)
        scope["session_key"] = session
        dressed = _dressed(send, session if fresh else "", request.url.scheme == "https")
        refusal = self._refusal(request)
        if refusal is not None:
            await refusal(scope, receive, dressed)
            return
        most = _most_bytes(request.headers)
        started = False

        async def sending(message: Message) -> None:
            nonlocal started
            started = True
            await dressed(message)

        try:
            await self.app(scope, _bounded(receive, most, self.settings.patience_s), sending)
        except TooLargeError:
            if not started:
                await self._too_large(request)(scope, receive, dressed)
        except TooSlowError:
            if not started:
                await self._too_slow(request)(scope, receive, dressed)

    def _refusal(self, request: Request) -> Response | None:
        """Return the answer to a request that may not pass, or None."""
        if host_name(request.headers.get("host", "")) not in self.settings.hosts:
            return self.refuse(
                request, HTTPStatus.MISDIRECTED_REQUEST, "This workbench does not answer to that name",
                "open the address that was printed when Wringout was opened",
            )  # fmt: skip
        if request.method not in SAFE and not is_own(request.headers):
            return self.refuse(
                request, HTTPStatus.FORBIDDEN, "Another site's page tried to change something here",
                "nothing was changed; if it was you, do it again from the workbench's own page",
            )  # fmt: skip
        if (refused := self._unpaired(request)) is not None:
            return refused
        size = request.headers.get("content-length", "0")
        if not size.isdigit() or int(size) > _most_bytes(request.headers):
            return self._too_large(request)
        return None

    def _unpaired(self, request: Request) -> Response | None:
        pairing = self.settings.pairing
        if pairing is None or is_here(request) or _is_open(str(request.scope["path"])):
            return None
        if pairing.admits(request.cookies.get(PAIRED)):
            return None
        if request.method in SAFE and "hx-request" not in request.headers:
            return RedirectResponse("/pair", HTTPStatus.SEE_OTHER)
        return self.refuse(
            request, HTTPStatus.FORBIDDEN, "This device is not paired with the workbench",
            "open the first page again and type the code; what was typed stays in this window",
        )  # fmt: skip

    def _too_slow(self, request: Request) -> Response:
        return self.refuse(
            request, HTTPStatus.REQUEST_TIMEOUT, f"Nothing more arrived for {self.settings.patience_s:.0f} seconds",
            "nothing of it was kept; send it again",
        )  # fmt: skip

    def _too_large(self, request: Request) -> Response:
        most = _most_bytes(request.headers) >> 20
        return self.refuse(
            request, HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"What was sent is larger than {most} MB",
            "nothing of it was kept; send a smaller file, or a part of it",
        )  # fmt: skip


def _is_open(path: str) -> bool:
    return path == PAIR_PATH or path.startswith(OPEN_PATHS)


def is_here(request: Request) -> bool:
    """Say whether a request comes from the machine the workbench runs on."""
    return request.client is not None and is_loopback(request.client.host)


def is_loopback(host: str) -> bool:
    """Say whether an address is one of the machine the workbench runs on."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _most_bytes(headers: Headers) -> int:
    kind = headers.get("content-type", "")
    return LONGEST_UPLOAD_BYTES if kind.startswith("multipart/") else LONGEST_BODY_BYTES


def _bounded(receive: Receive, most: int, patience_s: float) -> Receive:
    """Count what arrives, for a sender that says its size wrongly or not at all, and wait only so long for the next."""
    seen, whole = 0, False

    async def counted() -> Message:
        nonlocal seen, whole
        try:
            message = await asyncio.wait_for(receive(), None if whole else patience_s)
        except TimeoutError:
            raise TooSlowError from None
        whole = whole or not message.get("more_body", False)
        seen += len(message.get("body", b""))
        if seen > most:
            raise TooLargeError
        return message

    return counted


def _dressed(send: Send, session: str, secure: bool) -> Callable[[Message], Awaitable[None]]:
    """Add the headers every answer carries; a page that set its own keeps it."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            if session:
                ending = "; Secure" if secure else ""
                headers.append(
                    "Set-Cookie",
                    f"{SESSION}={session}; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000{ending}",
                )
        await send(message)

    return sending
