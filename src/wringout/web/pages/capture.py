"""Capture in the cockpit: the page of taps, what devices may deliver, and closing a flight into a recording.

The addresses under ``/capture/`` are for the device that flies along. They carry the key of one flight of one study and
open nothing else; a device needs no other pairing.
"""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass
from functools import partial
from http import HTTPStatus

import segno
from starlette.responses import Response

from wringout.errors import BadInputError, NotFoundError
from wringout.services.flights.capture import (
    LONGEST_LOG_BYTES,
    Allow,
    capture_card,
    close_flight,
    folder_files,
    page_file,
    page_with_card,
    receive_taps,
    single_file,
    take_log,
    tap_flights,
)
from wringout.services.flights.capture_keys import check_key, key_of_flight, revoke_key
from wringout.web.ask import Ask
from wringout.web.frame import study_page
from wringout.web.routing import get, post, post_json
from wringout.web.settings import LOOPBACK_NAMES

TYPES = {
    "js": "text/javascript; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "svg": "image/svg+xml",
    "webmanifest": "application/manifest+json",
}


@dataclass(frozen=True, slots=True)
class Reach:
    """Where a device reaches the page of taps: its address, and the same as a picture to photograph; "" for nowhere."""

    address: str
    code: str


def show(ask: Ask) -> Response:
    """Show the flights that have taps, and how to take the page along."""
    return _page(ask)


def _page(ask: Ask, status: int = HTTPStatus.OK, refused: str = "", said: str = "") -> Response:
    flight = ask.query("flight") or ask.text("flight") or "flight-one"
    reach, named = Reach("", ""), ""
    try:
        reach = _reach(ask, flight)
    except BadInputError as error:
        named = str(error)
        status = HTTPStatus.UNPROCESSABLE_ENTITY
    return study_page(
        ask,
        "flights",
        "Taps in the cockpit",
        "capture.html",
        status,
        flights=tap_flights(ask.store, ask.slug),
        flight=flight,
        reach=reach,
        named=named,
        refused=refused,
        said=said,
    )


def _reach(ask: Ask, flight: str) -> Reach:
    key = key_of_flight(ask.store, ask.slug, flight, ask.now)
    others = sorted(ask.site.settings.hosts - LOOPBACK_NAMES)
    if not others:
        return Reach(f"/capture/{ask.slug}/{flight}/{key.key}/", "")
    port = ask.request.url.port
    place = others[0] if port is None else f"{others[0]}:{port}"
    address = f"{ask.request.url.scheme}://{place}/capture/{ask.slug}/{flight}/{key.key}/"
    return Reach(address, segno.make(address, error="m").svg_data_uri(scale=4, border=2))


def take_file(ask: Ask) -> Response:
    """Take in logs that were handed over as files."""
    said: list[str] = []
    try:
        for upload in ask.uploads("logs"):
            data = upload.file.read(LONGEST_LOG_BYTES + 1)
            handed = take_log(ask.store, ask.slug, data, upload.filename or "log")
            said += [f"{one.new:,} new events of device {one.device} in {one.flight}" for one in handed]
    except BadInputError as error:
        return _page(ask, HTTPStatus.UNPROCESSABLE_ENTITY, refused=str(error))
    if not said:
        return _page(ask, HTTPStatus.UNPROCESSABLE_ENTITY, refused="No file was chosen; choose one that ends in .taps.")
    return _page(ask, said=f"{'; '.join(said)}.")


def close(ask: Ask) -> Response:
    """Make one recording of a flight's taps."""
    arrival = close_flight(ask.store, ask.slug, ask.path("flight"))
    return ask.go(f"/studies/{ask.slug}/recordings/{arrival.item.recording.sha256}/strip")


def revoke(ask: Ask) -> Response:
    """End the key of a flight; devices that hold it can deliver no more."""
    revoke_key(ask.store, ask.slug, ask.path("flight"))
    return ask.go(f"/studies/{ask.slug}/capture?flight={ask.path('flight')}")


def one_file(ask: Ask) -> Response:
    """Hand out the page as one HTML file."""
    flight = ask.path("flight")
    page = single_file(capture_card(ask.store, ask.slug, flight))
    return _download(page.encode(), f"taps-{flight}.html", "text/html; charset=utf-8")


def folder(ask: Ask) -> Response:
    """Hand out the page as a zip of the folder that any host can serve."""
    flight = ask.path("flight")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in folder_files(capture_card(ask.store, ask.slug, flight)).items():
            archive.writestr(name, data)
    return _download(packed.getvalue(), f"taps-{flight}.zip", "application/zip")


def _download(data: bytes, name: str, kind: str) -> Response:
    return Response(data, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def device_page(ask: Ask) -> Response:
    """Show the page of taps to the device that flies along."""
    with ask.store.reading() as view:
        _allow(ask)(view)
    card = capture_card(ask.store, ask.slug, ask.path("flight"), "taps", ask.path("key"))
    return Response(page_with_card(card), media_type="text/html; charset=utf-8")


def device_file(ask: Ask) -> Response:
    """Hand out one of the page's own files."""
    name = ask.path("name")
    try:
        data = page_file(name)
    except FileNotFoundError:
        raise NotFoundError("the page of taps has no such file", advice="open its first page again") from None
    return Response(data, media_type=TYPES.get(name.rpartition(".")[2], "application/octet-stream"))


def deliver(ask: Ask) -> Response:
    """Take in taps a device delivers; the answer names the last place of an unbroken row, and the time here."""
    body = ask.json()
    taps = body.get("taps") if isinstance(body, dict) else None
    if not isinstance(taps, list):
        raise BadInputError("what was sent holds no taps", "request", "an object with device and taps")
    device = str(body.get("device", ""))
    handed = receive_taps(ask.store, ask.slug, ask.path("flight"), device, taps, _allow(ask))
    return ask.numbers({"have": handed.have, "now_ms": 1000.0 * ask.now.timestamp()})


def _allow(ask: Ask) -> Allow:
    """Return what refuses a device without the flight's key."""
    return partial(check_key, slug=ask.slug, flight=ask.path("flight"), key=ask.path("key"), now=ask.now)


HERE = "/studies/{slug}/capture"
THERE = "/capture/{slug}/{flight}/{key}"
ROUTES = [
    get(HERE, show),
    post(HERE, take_file),
    post(f"{HERE}/{{flight}}/close", close),
    post(f"{HERE}/{{flight}}/revoke", revoke),
    get(f"{HERE}/{{flight}}/page.html", one_file),
    get(f"{HERE}/{{flight}}/folder.zip", folder),
    get(f"{THERE}/", device_page),
    post_json(f"{THERE}/taps", deliver),
    get(f"{THERE}/{{name}}", device_file),
]
