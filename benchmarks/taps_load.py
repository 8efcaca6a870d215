"""Twenty devices tapping ten times a second into one workbench, while the same machine computes a map.

Run: ``python benchmarks/taps_load.py [SECONDS [DEVICES]]``; 300 seconds and 20 devices unless said otherwise. The
workbench is the real one, ``wringout open``, in a session of its own, as in a terminal. It computes one map after the
other, asked for by its own form, while a page looks how far they are as often as the open page does.
Each device behaves as the page of taps does: one request at a time, with everything that was not acknowledged yet.
Prints how many taps were kept, and how long it took from a tap to its acknowledgement.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import re
import subprocess
import sys
import tempfile
import time
import urllib.parse
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from wringout.services.demonstration import take_in_demonstration
from wringout.services.findings.reduce import reduce_study
from wringout.services.flights.capture_keys import key_of_flight
from wringout.services.opening import open_studies
from wringout.store import get_study, list_taps
from wringout.web.routing import TOKEN_FIELD
from wringout.web.security import SESSION, token_of

SLUG, FLIGHT = "quillback-go-around", "load"
SECONDS, DEVICES, EVERY_S = 300.0, 20, 0.1
ASKED_S = 0.25
LOOK_EVERY_S = 0.7
MAP = {"weight": "2,600 to 3,200 lb in 8", "delay": "1 to 5 s in 8"}
WRINGOUT = Path(sys.executable).with_name("wringout")


def clock() -> datetime:
    """Return the present moment."""
    return datetime.now(UTC)


@dataclass
class Device:
    """One device: its log, how much of it was acknowledged, and how long each tap waited for that [s]."""

    name: str
    taps: list[dict[str, object]] = field(default_factory=list)
    at_s: list[float] = field(default_factory=list)
    waited_s: list[float] = field(default_factory=list)
    requests: int = 0

    def tap(self) -> None:
        """Add a tap to the log."""
        number = len(self.taps) + 1
        now_s = time.perf_counter()
        moment = {"epoch": "e1", "wall_ms": 1000.0 * time.time(), "mono_ms": 1000.0 * now_s}
        self.taps.append({"sequence": number, "kind": "mark", "label": f"gear down {number}", **moment})
        self.at_s.append(now_s)

    def acknowledged(self, have: int) -> None:
        """Note that the workbench has an unbroken row up to a place."""
        now_s = time.perf_counter()
        self.waited_s += [now_s - at for at in self.at_s[len(self.waited_s) : have]]


async def deliver(device: Device, port: int, path: str, done: asyncio.Event) -> None:
    """Deliver what was tapped, over one connection, until the device is done and everything is acknowledged."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    while not (done.is_set() and len(device.waited_s) == len(device.taps)):
        new = device.taps[len(device.waited_s) :]
        if not new:
            await asyncio.sleep(0.002)
            continue
        body = json.dumps({"device": device.name, "taps": new[:200]}).encode()
        head = f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n"
        writer.write(f"{head}Content-Length: {len(body)}\r\n\r\n".encode() + body)
        device.requests += 1
        answer = await _answer(reader)
        device.acknowledged(int(answer["have"]))
    writer.close()


async def _answer(reader: asyncio.StreamReader) -> dict[str, float]:
    head = (await reader.readuntil(b"\r\n\r\n")).decode()
    length = re.search(r"(?i)content-length: (\d+)", head)
    body = await reader.readexactly(int(length[1]) if length else 0)
    if " 200 " not in head.partition("\r\n")[0]:
        raise RuntimeError(f"{head.partition(chr(13))[0]} {body[:300]!r}")
    found: dict[str, float] = json.loads(body)
    return found


async def tap_away(port: int, path: str, devices: list[Device], seconds: float) -> None:
    """Let the devices tap for a while, each out of step with the others, and wait until all is acknowledged."""
    done = asyncio.Event()

    async def tapping(device: Device, begin_s: float) -> None:
        await asyncio.sleep(begin_s)
        due_s, end_s = time.perf_counter(), time.perf_counter() + seconds
        while due_s < end_s:
            device.tap()
            due_s += EVERY_S
            await asyncio.sleep(max(due_s - time.perf_counter(), 0.0))

    async with asyncio.TaskGroup() as group:
        for device in devices:
            group.create_task(deliver(device, port, path, done))
        await asyncio.gather(*(tapping(device, i * EVERY_S / len(devices)) for i, device in enumerate(devices)))
        done.set()


def lost_and_doubled(database: Path, devices: list[Device]) -> tuple[int, int, int]:
    """Return how many taps are kept, and how many acknowledged ones are missing or are there again."""
    with open_studies(database, clock) as store, store.reading() as view:
        kept = [
            (tap.device, tap.sequence, tap.body["label"]) for tap in list_taps(view, get_study(view, SLUG).id, FLIGHT)
        ]
    sent = {(device.name, tap["sequence"], tap["label"]) for device in devices for tap in device.taps}
    return len(kept), len(sent - set(kept)), len(kept) - len(set(kept))


def make_study(database: Path) -> str:
    """Put the bundled study into a database, and return the path that takes the taps of a flight."""
    with open_studies(database, clock) as store:
        take_in_demonstration(store)
        key = key_of_flight(store, SLUG, FLIGHT, clock()).key
    return f"/capture/{SLUG}/{FLIGHT}/{key}/taps"


@contextlib.contextmanager
def workbench(database: Path) -> Iterator[int]:
    """Start the real workbench and yield its port."""
    command = [str(WRINGOUT), "open", "--database", str(database), "--no-browser"]
    said = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=said, start_new_session=True) as one:
        try:
            found = None
            while found is None and one.stdout is not None and (line := one.stdout.readline()):
                found = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
            if found is None:
                raise RuntimeError("the workbench did not start")
            _wait_for(int(found[1]), one)
            yield int(found[1])
        finally:
            one.terminate()


def _wait_for(port: int, process: subprocess.Popen[str]) -> None:
    """Wait until a page is answered: the address is told before the pages are loaded."""
    while process.poll() is None:
        with contextlib.suppress(OSError), urllib.request.urlopen(f"http://127.0.0.1:{port}/pair", timeout=60):
            return
        time.sleep(0.05)


def main() -> None:
    """Measure, and print."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    count = int(sys.argv[2]) if len(sys.argv) > 2 else DEVICES
    with tempfile.TemporaryDirectory() as folder:
        database = Path(folder) / "study.db"
        path = make_study(database)
        with open_studies(database, clock) as store:
            reduce_study(store, SLUG, draws=500)
        devices = [Device(f"device-{i + 1}") for i in range(count)]
        with workbench(database) as port, mapping(port, Path(folder)) as maps:
            asyncio.run(tap_away(port, path, [Device(f"warm-{i}") for i in range(count)], 3.0))
            asyncio.run(tap_away(port, path, devices, seconds))
        kept, lost, doubled = lost_and_doubled(database, devices)
    waited_s = np.concatenate([np.array(device.waited_s) for device in devices])
    tapped = sum(len(device.taps) for device in devices)
    p50, p99, worst = (1000.0 * float(np.quantile(waited_s, q)) for q in (0.5, 0.99, 1.0))
    print(
        f"{count} devices, {tapped:,} taps in {seconds:.0f} s and {sum(d.requests for d in devices):,} requests, while"
    )
    print(
        f"{maps[0]} maps were computed on {os.cpu_count()} processors: {lost} lost, {doubled} doubled ({kept:,} kept)"
    )
    print(
        f"from tap to acknowledgement: median {p50:.0f} ms, p99 {p99:.0f} ms, worst {worst:.0f} ms; "
        f"p99 under {1000 * ASKED_S:.0f} ms was asked; {_load_words()}"
    )


def _load_words() -> str:
    """Return how busy the machine was, this benchmark included."""
    if not hasattr(os, "getloadavg"):
        return "how busy the machine was is not known"
    one, five, _ = os.getloadavg()
    return f"load of the machine, this benchmark included: {one:.1f} over the last minute, {five:.1f} over five"


@contextlib.contextmanager
def mapping(port: int, folder: Path) -> Iterator[list[int]]:
    """Have the workbench compute maps, one after the other; yields how many were finished."""
    done, count = [0], folder / "count"
    with subprocess.Popen([sys.executable, __file__, "map", str(port), str(count)], start_new_session=True) as one:
        try:
            yield done
        finally:
            one.terminate()
            done[0] = count.read_text(encoding="utf-8").count("x") if count.exists() else 0


def map_away(port: int, count: Path) -> None:
    """Ask for maps, and look how far they are, until the process is ended."""
    session = "benchmark-of-taps-under-load"
    study = f"http://127.0.0.1:{port}/studies/{SLUG}"
    headers = {"Cookie": f"{SESSION}={session}"}
    form = urllib.parse.urlencode({**MAP, TOKEN_FIELD: token_of(session)}).encode()
    asked = urllib.request.Request(f"{study}/techniques/map", form, {**headers, "HX-Request": "true"})  # noqa: S310
    look = urllib.request.Request(f"{study}/jobs", headers=headers)  # noqa: S310
    while True:
        with urllib.request.urlopen(asked, timeout=60):  # noqa: S310
            pass
        state = "running"
        while state in {"waiting", "running"}:
            time.sleep(LOOK_EVERY_S)
            with urllib.request.urlopen(look, timeout=60) as answer:  # noqa: S310
                state = re.findall(r'data-state="(\w+)"', answer.read().decode())[-1]
        if state != "done":
            raise RuntimeError(f"the map is {state}")
        with count.open("a", encoding="utf-8") as file:
            file.write("x")


if __name__ == "__main__":
    if sys.argv[1:2] == ["map"]:
        map_away(int(sys.argv[2]), Path(sys.argv[3]))
    else:
        main()
