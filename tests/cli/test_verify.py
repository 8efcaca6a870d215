"""``wringout verify``: everything comes out again, and whatever was changed is found and named."""

from __future__ import annotations

import hashlib
import io
import json
import os
import platform
import re
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.cli.conftest import Desk

Change = Callable[[str, bytes], bytes]


@pytest.fixture(scope="module")
def bundle(reduced: Desk) -> Path:
    """The bundle of a study that was reduced and compared."""
    path = reduced.folder / "whole.zip"
    reduced.ok("export", str(path))
    return path


def forged(bundle: Path, to: Path, change: Change) -> Path:
    """Write the bundle with its files changed and its list of hashes put right, as somebody who cheats would."""
    with zipfile.ZipFile(bundle) as source:
        files = {name: change(name, source.read(name)) for name in source.namelist()}
    manifest = files["bundle.toml"].decode()
    for name, data in files.items():
        if name == "bundle.toml":
            continue
        pattern = rf'(path = "{re.escape(name)}"\nsha256 = ")[0-9a-f]+("\nsize_bytes = )\d+'
        manifest, n = re.subn(pattern, rf"\g<1>{hashlib.sha256(data).hexdigest()}\g<2>{len(data)}", manifest)
        assert n == 1, name
    files["bundle.toml"] = manifest.encode()
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as target:
        for name, data in files.items():
            target.writestr(name, data)
    return to


def in_result(kind: str, change: Callable[[dict], None]) -> Change:  # type: ignore[type-arg]
    def changed(name: str, data: bytes) -> bytes:
        if not (name.startswith("results/") and name.endswith(f"{kind}.json")):
            return data
        document = json.loads(data)
        change(document["body"])
        return json.dumps(document, ensure_ascii=False).encode()

    return changed


def test_everything_comes_out_again_to_the_bit(desk: Desk, bundle: Path) -> None:
    with zipfile.ZipFile(bundle) as source:
        sha256 = hashlib.sha256(source.read("bundle.toml")).hexdigest()
    found = desk.json("verify", str(bundle), "--sha256", sha256.upper())
    assert found["bundle_sha256"] == sha256
    assert found["outcome"] == "the same to the last digit"
    assert [r["result"] for r in found["results"]] == ["reduction", "matchup"]
    assert all(r["numbers"] > 300 and r["differences"] == [] and r["within_tolerance"] == 0 for r in found["results"])
    assert found["results"][0]["draws_apart"] == 0.0
    assert found["numbers"] == sum(r["numbers"] for r in found["results"])
    assert not desk.database.exists()  # nothing of the user's was opened


@pytest.mark.skipif(
    platform.machine().lower() not in {"x86_64", "amd64"}, reason="only there can an older processor be asked for"
)
def test_it_comes_out_again_on_another_processor(bundle: Path) -> None:
    """The numerical libraries are told to calculate as on a processor of 2008: sums are taken in another order."""
    newer = " ".join(np._core._multiarray_umath.__cpu_dispatch__)  # type: ignore[attr-defined]
    older = {**os.environ, "OPENBLAS_CORETYPE": "Nehalem", "NPY_DISABLE_CPU_FEATURES": newer}
    wringout = Path(sys.executable).with_name("wringout")
    done = subprocess.run(
        [wringout, "verify", bundle, "--json"], env=older, capture_output=True, text=True, check=False
    )
    found = json.loads(done.stdout)
    assert (done.returncode, [r["differences"] for r in found["results"]]) == (0, [[], []])
    assert found["outcome"] in {"the same to the last digit", "the same within the tolerance"}
    assert found["results"][0]["draws_apart"] < 1e-6


def test_another_hash_than_the_brief_names_is_refused(desk: Desk, bundle: Path) -> None:
    outcome = desk.run("verify", str(bundle), "--sha256", "0" * 64)
    assert outcome.exit_code == 3
    assert "ask for the bundle the brief names" in outcome.stderr


def test_one_changed_byte_anywhere_in_the_contents_is_found(desk: Desk, bundle: Path) -> None:
    data = bundle.read_bytes()
    with zipfile.ZipFile(bundle) as source:
        places = [
            (info.filename, info.header_offset + 30 + len(info.filename.encode()) + info.compress_size // 2)
            for info in source.infolist()
        ]
    assert len(places) > 8
    for name, place in places:
        path = desk.folder / "changed.zip"
        path.write_bytes(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :])
        outcome = desk.run("verify", str(path))
        assert outcome.exit_code == 3, name
        assert outcome.stderr.count("\n") == 1


def test_whatever_was_forged_is_named_though_every_hash_fits(desk: Desk, bundle: Path) -> None:
    def cheat(name: str, data: bytes) -> bytes:
        if name.endswith(".npy"):
            rows = np.load(io.BytesIO(data))
            rows[3, 0] *= 1.02
            stream = io.BytesIO()
            np.save(stream, rows)
            return stream.getvalue()
        return in_result("matchup", turn)(name, in_result("reduction", polish)(name, data))

    def polish(body: dict) -> None:  # type: ignore[type-arg]
        finding = next(f for f in body["findings"] if f["key"] == "ratio.flaps_gear")
        finding["interval_95"][0] *= 1.01
        body["weight"]["value"] *= 1.0 + 1e-7

    def turn(body: dict) -> None:  # type: ignore[type-arg]
        law = body["laws"][0]
        law["verdict"] |= {"outcome": "favoured", "sentence": "The gear comes first."}
        del law["techniques"][0]["share_below_height"]

    outcome = desk.run("verify", str(forged(bundle, desk.folder / "forged.zip", cheat)))
    assert outcome.exit_code == 7
    said = outcome.stdout
    assert "findings / ratio.flaps_gear / interval_95 / 0: the bundle holds" in said
    assert "Not every number came out again" in said
    assert "a posterior draw differs by" in said
    for field in ("laws / 0 / verdict / outcome", "laws / 0 / verdict / sentence", "share_below_height"):
        assert field in said
    assert "weight" not in said  # within the tolerance


def test_a_changed_reading_leaves_the_results_without_support(desk: Desk, bundle: Path) -> None:
    def change(name: str, data: bytes) -> bytes:
        return data.replace(b"span = ", b"span =  ") if name == "airplane.toml" else data

    outcome = desk.run("verify", str(forged(bundle, desk.folder / "forged.zip", change)))
    assert outcome.exit_code == 7
    assert "are not those it was computed from" in outcome.stdout


def test_a_bundle_without_results_says_so(study: Desk) -> None:
    path = study.folder / "empty.zip"
    study.ok("export", str(path))
    outcome = study.run("verify", str(path))
    assert outcome.exit_code == 5
    assert "holds no result" in outcome.stderr
