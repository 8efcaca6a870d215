"""How many connections other devices may hold, and how long one may say nothing.

A connection costs the workbench a file descriptor, of which it has a few hundred. Other devices share a part of them,
and one device gets a part of that; the machine itself is never refused. Who does not say within a while what is wanted
is let go. What comes after the head of a request is bounded by :mod:`wringout.web.security`.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from http import HTTPStatus
from typing import ClassVar

from uvicorn.protocols.http.h11_impl import H11Protocol

from wringout.web.security import is_loopback
from wringout.web.settings import PATIENCE_S

FLEETING_S = 2.0
"""How long a refused connection is kept for what it asks, so that the answer is read."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """Connections of one other device, of all of them, and refused ones that wait for their answer."""

    of_one: int = 40
    of_all: int = 120
    refused: int = 40


class Bounded(H11Protocol):
    """One connection of the server's; uvicorn makes an object of this for each."""

    bounds: ClassVar[Bounds] = Bounds()
    patience_s: ClassVar[float] = PATIENCE_S
    refusal = ""
    _fuse: asyncio.TimerHandle | None = None
    _unasked: object = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Let a connection in, or remember why not."""
        super().connection_made(transport)
        self._unasked = self.conn.their_state
        self.refusal = self._why_not()
        if self.refusal and sum(bool(other.refusal) for other in self._others()) >= self.bounds.refused:
            transport.abort()
        elif self.refusal:
            self._fuse = self.loop.call_later(FLEETING_S, transport.close)
        else:
            self._wait_for_a_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget a connection."""
        self._stop_waiting()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what arrived."""
        if self.refusal:
            self._answer(HTTPStatus.SERVICE_UNAVAILABLE, self.refusal)
            return
        super().data_received(data)
        self._wait_for_a_head()

    def _others(self) -> list[Bounded]:
        """Return the other connections that do not come from this machine."""
        known = (one for one in self.connections if isinstance(one, Bounded) and one is not self)
        return [one for one in known if not one.is_here]

    @property
    def is_here(self) -> bool:
        """Whether it comes from the machine the workbench runs on."""
        return self.client is not None and is_loopback(self.client[0])

    def _why_not(self) -> str:
        if self.is_here:
            return ""
        let_in = [other for other in self._others() if not other.refusal]
        peer = self.client[0] if self.client else ""
        if sum(other.client is not None and other.client[0] == peer for other in let_in) >= self.bounds.of_one:
            return (
                f"This device holds {self.bounds.of_one} connections to the workbench already; "
                "close some of its windows, then load the page again."
            )
        if len(let_in) >= self.bounds.of_all:
            return (
                f"Other devices hold all {self.bounds.of_all} connections that the workbench shares; "
                "wait a moment, then load the page again."
            )
        return ""

    def _wait_for_a_head(self) -> None:
        """Begin to wait where a request has not said what it wants, and stop where it has."""
        if self.conn.their_state is not self._unasked or self.transport.is_closing():
            self._stop_waiting()
        elif self._fuse is None:
            self._fuse = self.loop.call_later(self.patience_s, self._too_slow)

    def _stop_waiting(self) -> None:
        if self._fuse is not None:
            self._fuse.cancel()
            self._fuse = None

    def _too_slow(self) -> None:
        self._fuse = None
        said = bool(self.conn.trailing_data[0])
        if said and not self.transport.is_closing():
            words = f"Nothing whole arrived for {self.patience_s:g} seconds; nothing of it was kept; send it again."
            self._answer(HTTPStatus.REQUEST_TIMEOUT, words)
        self.transport.close()

    def _answer(self, status: HTTPStatus, words: str) -> None:
        """Send a sentence and close."""
        body = words.encode()
        head = (
            f"HTTP/1.1 {status.value} {status.phrase}\r\nContent-Type: text/plain; charset=utf-8\r\n"
            f"Content-Length: {len(body)}\r\nConnection: close\r\nX-Content-Type-Options: nosniff\r\n\r\n"
        )
        self.transport.write(head.encode() + body)
        self.transport.close()
