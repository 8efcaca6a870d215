"""The whole journey on a machine without a network: question, recordings, fit, matchup, brief, and the workbench.

Run as a program, in a network namespace of its own that holds nothing but the loopback, where the kernel gives one to
this user; elsewhere behind a guard that refuses every connection that is not to this machine. Prints what it did as
JSON.
"""

from __future__ import annotations

import ctypes
import fcntl
import json
import os
import socket
import struct
import sys
import urllib.request
from pathlib import Path
from typing import Any

NEW_USER, NEW_NET = 0x10000000, 0x40000000
SET_FLAGS, UP = 0x8914, 0x1
SOMEWHERE = ("192.0.2.1", 9)
"""An address set aside for documentation (RFC 5737)."""


def enter_namespace() -> str:
    """Leave the network behind, and return "" or why the kernel does not let us."""
    libc = ctypes.CDLL(None, use_errno=True)
    wanted = NEW_NET if os.geteuid() == 0 else NEW_USER | NEW_NET
    if libc.unshare(wanted) != 0 and libc.unshare(NEW_USER | NEW_NET) != 0:
        return os.strerror(ctypes.get_errno())
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        fcntl.ioctl(one, SET_FLAGS, struct.pack("16sh14x", b"lo", UP))
    return ""


def guard(asked: list[str]) -> None:
    """Refuse every connection that Python makes to another machine, and note it."""

    def heard(event: str, arguments: tuple[Any, ...]) -> None:
        if event in {"socket.connect", "socket.sendto"}:
            where = arguments[1]
        elif event == "socket.getaddrinfo":
            where = (arguments[0],)
        else:
            return
        name = where[0].decode() if isinstance(where, tuple) and isinstance(where[0], bytes) else str(where[0])
        if isinstance(where, tuple) and name not in {"127.0.0.1", "localhost", "::1", "None"}:
            asked.append(f"{event} {name}")
            raise OSError(f"this journey goes without a network, {event} {name} was asked for")

    sys.addaudithook(heard)


def is_cut_off() -> bool:
    """Say whether another machine cannot be reached."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as one:
        one.settimeout(1.0)
        try:
            one.connect(SOMEWHERE)
        except OSError:
            return True
        return False


def main(folder: Path) -> dict[str, Any]:
    """Go the whole way and return what was done."""
    from tests.web.live import SLUG, clock, served
    from wringout.services.demonstration import take_in_demonstration
    from wringout.services.findings.reduce import reduce_study
    from wringout.services.matchups.compare import compare_techniques
    from wringout.services.opening import open_studies
    from wringout.services.publishing.publish import publish

    database = folder / "study.db"
    with open_studies(database, clock) as store:
        take_in_demonstration(store)
        reduced = reduce_study(store, SLUG, draws=400)
        compared = compare_techniques(store, SLUG, draws=100)
        publish(store, SLUG, folder / "brief", clock(), reduced=reduced, compared=compared)
    pages = {}
    with served(database) as address:
        for path in ("/", "/airplane", "/flights", "/findings", "/techniques", "/brief"):
            with urllib.request.urlopen(f"{address}/studies/{SLUG}{path}", timeout=120) as answer:  # noqa: S310
                pages[path] = answer.status
    return {"pages": pages, "brief": sorted(path.name for path in (folder / "brief").iterdir())}


if __name__ == "__main__":
    refused: list[str] = []
    forbidden = enter_namespace() if sys.platform == "linux" and "--guard-only" not in sys.argv else "not asked for"
    guard(refused)
    cut_off = is_cut_off()
    tries = len(refused)
    found = main(Path(sys.argv[1]))
    sys.stdout.write(json.dumps({**found, "forbidden": forbidden, "cut off": cut_off, "asked": refused[tries:]}) + "\n")
