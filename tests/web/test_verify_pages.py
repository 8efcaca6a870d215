"""Verify in the browser: everything comes out again, one changed number is named, one changed byte is seen."""

from __future__ import annotations

import hashlib
import io
import json
import re
import zipfile
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from tests.web.beside import at_once, beside, clock, token
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.findings.reduce import reduce_study
from wringout.services.flights.recordings import take_in_recording
from wringout.services.opening import open_studies
from wringout.services.publishing.bundles import export_study
from wringout.services.study.studies import make_study
from wringout.web.jobs import Jobs

STALLS = b"""# method: stall series
# altitude: 5500 ft
# temperature: 9 C
# power: idle
flap, speed, entry rate, weight (lb), gear, note
up, 58, 1, 2870, up, first
full, 47, 1, 2850, down, second
"""
AIRPLANE = files("wringout.services") / "demo_study" / "airplane.toml"


@pytest.fixture(scope="module")
def bundle(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("written")
    with open_studies(folder / "studies.db", clock) as store:
        slug = make_study(store, "Stalls", "How slow?", {}).slug
        put_airplane_file(store, slug, AIRPLANE.read_bytes(), "airplane.toml")
        take_in_recording(store, slug, io.BytesIO(STALLS), "stalls.csv")
        reduce_study(store, slug, draws=400)
        export_study(store, slug, folder / "stalls.zip")
    return folder / "stalls.zip"


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    with pytest.MonkeyPatch.context() as patch, beside(tmp_path_factory.mktemp("verify") / "studies.db") as opened:
        patch.setattr(Jobs, "start", at_once)  # another process would load the estimator once more
        yield opened


def verified(client: TestClient, data: bytes, name: str, **words: str) -> str:
    """Return the page of a bundle once it was verified."""
    sent = client.post(
        "/verify",
        data={"form-token": token(client)} | words,
        files={"bundle": (name, data, "application/zip")},
        follow_redirects=False,
    )
    assert sent.status_code == 303, sent.text
    key = sent.headers["location"].rpartition("/")[2]
    return client.get(f"/verify/{key}").text


def forged(bundle: Path) -> tuple[bytes, str, str]:
    """Return the bundle with one number changed and its hashes put right, and that number before and after."""
    with zipfile.ZipFile(bundle) as source:
        held = {name: source.read(name) for name in source.namelist()}
    name = next(name for name in held if name.endswith("reduction.json"))
    document = json.loads(held[name])
    interval = document["body"]["findings"][0]["interval_95"]
    before, interval[1] = interval[1], interval[1] * 1.5
    data = json.dumps(document, ensure_ascii=False).encode()
    old, new = (hashlib.sha256(part).hexdigest() for part in (held[name], data))
    manifest = held["bundle.toml"].decode().replace(old, new)
    manifest = re.sub(rf'(sha256 = "{new}"\nsize_bytes = )\d+', rf"\g<1>{len(data)}", manifest)
    held |= {name: data, "bundle.toml": manifest.encode()}
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w") as target:
        for member, content in held.items():
            target.writestr(member, content)
    return written.getvalue(), f"{before:.9g}", f"{interval[1]:.9g}"


def test_everything_comes_out_again_and_one_changed_number_is_named(client: TestClient, bundle: Path) -> None:
    page = verified(client, bundle.read_bytes(), "whole.zip")
    assert re.search(r"Every one of [\d,]+ numbers came out again to the last digit\.", page)
    data, before, after = forged(bundle)
    page = verified(client, data, "forged.zip")
    assert "Not every number came out again: one place differs." in page
    assert re.search(
        rf"findings, [^<]+, 95 % interval, upper end</th><td[^>]*>{re.escape(after)}</td><td[^>]*>{re.escape(before)}<",
        page,
    )
    assert "33.33 %" in page
    shelf = client.get("/verify").text
    assert shelf.index("forged.zip") > 0
    assert shelf.count(">Take off<") == 2


def test_one_changed_byte_and_another_hash_are_seen(client: TestClient, bundle: Path) -> None:
    whole = bundle.read_bytes()
    at = whole.index(b"recordings/") + 200
    page = verified(client, whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :], "changed.zip")
    assert "The bundle cannot be verified." in page
    page = verified(client, whole, "whole.zip", hash="0" * 64)
    assert f"not {'0' * 64}" in page


def test_what_was_typed_stays_when_it_is_refused(client: TestClient, bundle: Path) -> None:
    for words in ({"tolerance": "a tenth"}, {"tolerance": "0.5"}, {"hash": "abc"}):
        told = client.post(
            "/verify",
            data={"form-token": token(client)} | words,
            files={"bundle": ("a.zip", bundle.read_bytes(), "application/zip")},
        )
        assert told.status_code == 422
        assert f'value="{next(iter(words.values()))}"' in told.text
    assert client.post("/verify", data={"form-token": token(client)}).status_code == 422
