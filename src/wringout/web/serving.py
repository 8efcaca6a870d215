"""Serving the workbench: a port on this machine only, or on its network for devices that know the code."""

from __future__ import annotations

import contextlib
import functools
import socket
import threading
import time
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn
from starlette.applications import Starlette

from wringout.errors import BadInputError
from wringout.services.backups import is_damaged
from wringout.services.opening import Clock
from wringout.web.app import make_app
from wringout.web.connections import Bounded
from wringout.web.pairing import Pairing
from wringout.web.rescue import make_rescue
from wringout.web.settings import LOOPBACK_NAMES, Settings

HOST = "127.0.0.1"
USUAL_PORT = 8462
ANY_PORT = 0
LOOK_EVERY_S = 0.05

Say = Callable[[str], None]


def serve(
    database: Path | None,
    clock: Clock,
    say: Say,
    port: int | None = None,
    share: bool = False,
    browser: bool = True,
    path: str = "/",
) -> None:
    """Serve the workbench until it is stopped with Ctrl+C.

    Args:
        database: the database file; None for the one in the user's data folder.
        clock: returns the present moment with its time zone.
        say: prints a line.
        port: which port; None takes the usual one, or another where that is taken.
        share: other devices on this network may open it, with the code that is printed.
        browser: open it in the browser.
        path: the page to open first.

    Raises:
        BadInputError: the port cannot be had.
    """
    listening = _listen("0.0.0.0" if share else HOST, port)  # noqa: S104  asked for, behind a code
    number = listening.getsockname()[1]
    pairing = Pairing(time.monotonic) if share else None
    outside = _own_addresses() if share else frozenset()
    settings = Settings(database, clock, LOOPBACK_NAMES | outside, pairing)
    address = f"http://{HOST}:{number}{path}"
    say(f"The workbench is at {address} and nowhere else." if not share else f"The workbench is at {address}")
    if pairing is not None:
        for line in _shared_words(sorted(outside), number, pairing.code):
            say(line)
    say("Stop it with Ctrl+C; everything is kept.")
    if is_damaged(database):
        say("The database is damaged; the page there shows the ways forward.")
        if not _run(make_rescue(settings), listening, address if browser else ""):
            return
        browser = False
    _run(make_app(settings), listening, address if browser else "")


def server_for(app: Starlette) -> uvicorn.Server:
    """Return the server of an application, with what bounds its connections."""
    return uvicorn.Server(uvicorn.Config(app, http=Bounded, log_level="warning", access_log=False, server_header=False))


def _run(app: Starlette, listening: socket.socket, address: str) -> bool:
    """Serve an application on a copy of the socket; return whether it ended by itself, so that another may follow.

    Whoever asks between two of them waits in the socket's queue.
    """
    server = server_for(app)
    app.state.end = functools.partial(setattr, server, "should_exit", True)
    if address:
        threading.Thread(target=_open_when_up, args=(server, address), daemon=True).start()
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening.dup()])
        return True
    return False


def _shared_words(addresses: list[str], port: int, code: str) -> list[str]:
    where = ", ".join(f"http://{address}:{port}/" for address in addresses) or "this machine's address"
    return [
        f"Other devices on this network reach it at {where} with the code {code[:4]} {code[4:]}.",
        f"The code lasts an hour, a device that typed it half a day. End it sooner, or get a new code, at "
        f"http://{HOST}:{port}/pair on this machine.",
        "Whoever has the code can read and change every study here until you stop it, over a line that is not "
        "encrypted. Share it in a network you trust only.",
    ]


def _listen(host: str, port: int | None) -> socket.socket:
    """Return a socket that listens, on the port asked for, else on the usual one, else on any."""
    wanted = [USUAL_PORT, ANY_PORT] if port is None else [port]
    for number in wanted:
        made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            made.bind((host, number))
        except (OSError, OverflowError):
            made.close()
            continue
        return made
    raise BadInputError(f"port {port} cannot be had", "--port", "name another, or leave it out")


def _own_addresses() -> frozenset[str]:
    """Return this machine's names and addresses on its network."""
    name = socket.gethostname().lower()
    found = {name, f"{name}.local"}
    with contextlib.suppress(OSError):
        found |= {str(entry[4][0]) for entry in socket.getaddrinfo(name, None, socket.AF_INET)}
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # sends nothing: it only asks which address would be used
        found.add(str(probe.getsockname()[0]))
    return frozenset(found)


def _open_when_up(server: uvicorn.Server, address: str) -> None:
    while not server.started and not server.should_exit:
        time.sleep(LOOK_EVERY_S)
    if server.started:
        webbrowser.open(address)
