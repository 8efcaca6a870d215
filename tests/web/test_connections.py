"""Connections of other devices are bounded, and none of them keeps the machine itself from its workbench."""

from __future__ import annotations

import socket
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from tests.web.live import served
from wringout.web import connections
from wringout.web.connections import Bounded, Bounds

HERE, ONE, ANOTHER, THIRD = "127.0.0.1", "127.0.0.9", "127.0.0.10", "127.0.0.11"
"""The machine itself, and addresses of its loopback that stand for devices on the network."""
LONGEST_S = 60.0
ASKED = b"GET /pair HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"


@pytest.fixture
def port(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    if sys.platform != "linux":
        pytest.skip("only Linux lets every address of 127.0.0.0/8 stand for a device")
    monkeypatch.setattr(connections, "is_loopback", lambda host: host == HERE)
    monkeypatch.setattr(Bounded, "bounds", Bounds(of_one=3, of_all=5, refused=2))
    with served(tmp_path / "study.db") as address:
        found = urlsplit(address).port
        assert found is not None
        assert b" 200 " in answer(opened(found, HERE))
        yield found


def opened(port: int, source: str) -> socket.socket:
    return socket.create_connection((HERE, port), timeout=LONGEST_S, source_address=(source, 0))


def answer(one: socket.socket, request: bytes = ASKED) -> bytes:
    """Ask and return the whole answer; "" where the connection was cut off."""
    found = b""
    with one:
        try:
            one.sendall(request)
            while part := one.recv(65536):
                found += part
        except ConnectionError:
            return b""
    return found


def test_a_device_that_holds_too_many_is_told_and_hinders_nobody_else(port: int) -> None:
    held = [opened(port, ONE) for _ in range(3)]
    told = answer(opened(port, ONE))
    assert told.startswith(b"HTTP/1.1 503 ")
    assert b"This device holds 3 connections to the workbench already; close some of its windows" in told
    assert b" 200 " in answer(opened(port, ANOTHER))
    held += [opened(port, ANOTHER) for _ in range(2)]
    assert b"Other devices hold all 5 connections that the workbench shares" in answer(opened(port, THIRD))
    mine = [opened(port, HERE) for _ in range(8)]
    assert [answer(one)[9:12] for one in mine] == [b"200"] * 8
    held[0].close()
    end = time.monotonic() + LONGEST_S
    while b" 200 " not in answer(opened(port, ONE)):  # the server sees a moment later that one was closed
        assert time.monotonic() < end
    for one in held:
        one.close()


def test_refused_connections_do_not_pile_up(port: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connections, "FLEETING_S", LONGEST_S)
    held = [opened(port, ONE) for _ in range(3)]
    silent = [opened(port, ONE) for _ in range(2)]
    assert answer(opened(port, ONE)) == b""
    assert b" 200 " in answer(opened(port, HERE))
    assert b"This device holds 3" in answer(silent[0])
    for one in (*held, *silent):
        one.close()


@pytest.mark.parametrize(
    ("begun", "said"), [(b"GET / HTTP/1.1\r\nHost: 127.0.", b"HTTP/1.1 408 "), (b"", b"")], ids=["half a head", "none"]
)
def test_whoever_never_says_what_is_wanted_is_let_go(
    port: int, monkeypatch: pytest.MonkeyPatch, begun: bytes, said: bytes
) -> None:
    monkeypatch.setattr(Bounded, "patience_s", 0.2)
    for source in (HERE, ONE):
        told = answer(opened(port, source), begun)
        assert told.startswith(said)
        assert (b"Nothing whole arrived for 0.2 seconds" in told) == bool(begun)
