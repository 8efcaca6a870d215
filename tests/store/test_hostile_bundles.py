"""Bundles made by an enemy or broken on the way: each is refused in one sentence and changes nothing."""

from __future__ import annotations

import hashlib
import io
import json
import stat
import struct
import subprocess
import sys
import time
import tomllib
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.store.packing import full_bundle, listed, packed, taken_in, unpacked
from tests.store.samples import CALLED, names_in, open_at
from wringout import store as kept
from wringout.errors import BadInputError
from wringout.store import vault
from wringout.store.bundle_format import BundleLimits

DOCUMENTS = ["history.csv", "recordings.json", "runs.json"]


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return full_bundle(tmp_path_factory.mktemp("source"))


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[kept.Store]:
    with open_at(tmp_path / "in" / "other.db") as store:
        yield store


def refused(store: kept.Store, data: bytes, says: str, limits: BundleLimits | None = None) -> str:
    """Check that a bundle is refused in one sentence and that the store holds nothing of it."""
    folder = store.place.database.parent
    files = [name for name in names_in(folder.parent) if not name.endswith(("-wal", "-shm"))]
    with pytest.raises(BadInputError, match=f"(?is){says}") as caught:
        kept.import_bundle(store, io.BytesIO(data), "study.zip", *([] if limits is None else [limits]))
    sentence = str(caught.value)
    assert sentence.startswith("study.zip")
    assert sentence.endswith(".")
    assert not [character for character in sentence if ord(character) < 32]
    assert [name for name in names_in(folder.parent) if not name.endswith(("-wal", "-shm"))] == files
    assert vault.hashes(store.place.recordings) == ()
    with store.reading() as view:
        assert kept.list_studies(view) == ()
    return sentence


# Names that leave the folder, and files that are no files


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("../evil.csv", "climbs out of its folder"),
        ("recordings/../../evil.csv", "climbs out of its folder"),
        ("recordings/..", "climbs out of its folder"),
        ("..\\evil.csv", "climbs out of its folder"),
        ("/etc/evil.csv", "is absolute"),
        ("\\evil.csv", "is absolute"),
        ("//host/share/evil.csv", "is absolute"),
        ("C:/evil.csv", "is absolute"),
        ("c:evil.csv", "is absolute"),
        ("recordings//evil.csv", "is not a plain path"),
        ("./evil.csv", "is not a plain path"),
        ("recordings\\evil.csv", "is not a plain path"),
        ("recordings/e\nvil.csv", "is not a plain path"),
        ("recordings/\x1b[31m.csv", "is not a plain path"),
        ("recordings/" + "x" * 500, "is not a plain path"),
        ("", "is not a plain path"),
        ("../", "climbs out of its folder"),
        ("/", "is not a plain path|is absolute"),
    ],
)
def test_names_that_leave_the_folder(empty: kept.Store, good: bytes, name: str, says: str) -> None:
    files = unpacked(good)
    refused(empty, packed([*files.items(), (zipfile.ZipInfo(name), b"evil" if name[-1:] != "/" else b"")]), says)


@pytest.mark.parametrize("name", ["../evil.csv", "/etc/evil.csv"])
def test_names_that_leave_the_folder_in_the_manifest(empty: kept.Store, good: bytes, name: str) -> None:
    manifest = tomllib.loads(unpacked(good)["bundle.toml"].decode())
    manifest["files"].append({"path": name, "sha256": "0" * 64, "size_bytes": 1})
    refused(empty, packed({**unpacked(good), "bundle.toml": tomli_w.dumps(manifest).encode()}), "climbs|absolute")


def test_a_name_with_a_hidden_end(empty: kept.Store, good: bytes) -> None:
    data = packed([*unpacked(good).items(), ("zz.txt!x", b"evil")]).replace(b"zz.txt!x", b"zz.txt\x00x")
    refused(empty, data, "is not a plain file")


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR, stat.S_IFBLK, stat.S_IFSOCK])
def test_links_and_special_files(empty: kept.Store, good: bytes, kind: int) -> None:
    link = zipfile.ZipInfo("recordings/link")
    link.create_system = 3
    link.external_attr = (kind | 0o777) << 16
    refused(empty, packed([*unpacked(good).items(), (link, b"/etc/passwd")]), "is not a plain file; links")


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("name", ["runs.json", "RUNS.json", "runs.jſon"])
def test_a_file_twice(empty: kept.Store, good: bytes, name: str) -> None:
    refused(empty, packed([*unpacked(good).items(), (name, b"[]")]), "stands in it twice")


def test_a_file_listed_twice(empty: kept.Store, good: bytes) -> None:
    manifest = tomllib.loads(unpacked(good)["bundle.toml"].decode())
    manifest["files"] += manifest["files"][:1]
    refused(empty, packed({**unpacked(good), "bundle.toml": tomli_w.dumps(manifest).encode()}), "lists a file twice")


# Bombs


def test_a_file_that_unpacks_to_far_more_than_its_size(empty: kept.Store, good: bytes) -> None:
    files = unpacked(good)
    refused(empty, packed({**files, "recordings/bomb.csv": bytes(50_000_000)}), "more than 200 times its size")


def test_many_small_bombs(empty: kept.Store) -> None:
    files = {"bundle.toml": b"", **{f"recordings/{number}": bytes(32_000) for number in range(4_500)}}
    refused(empty, packed(files), "would unpack to more than 200 times its size")


def test_more_bytes_than_allowed(empty: kept.Store, good: bytes) -> None:
    total = sum(map(len, unpacked(good).values()))
    refused(empty, good, "would unpack to more than", BundleLimits(total_bytes=total - 1))
    refused(empty, good, "is larger than", BundleLimits(total_bytes=1, directory_bytes=1))


@pytest.mark.parametrize(
    "limits",
    [
        BundleLimits(manifest_bytes=10),
        BundleLimits(document_bytes=10),
        BundleLimits(history_bytes=10),
        BundleLimits(draws_bytes=10),
        BundleLimits(recording_bytes=10),
    ],
)
def test_a_file_larger_than_its_kind_may_be(empty: kept.Store, good: bytes, limits: BundleLimits) -> None:
    refused(empty, good, "is larger than", limits)


def test_more_files_than_allowed(empty: kept.Store, good: bytes) -> None:
    refused(empty, good, "more than 5 files", BundleLimits(files=5))
    refused(empty, good, "files", BundleLimits(directory_bytes=100))


def central(data: bytes, name: str) -> int:
    """Return where the directory entry of a file begins (PKWARE APPNOTE 6.3.10, section 4.3.12)."""
    position = data.index(b"PK\x01\x02")
    while True:
        lengths = struct.unpack("<HHH", data[position + 28 : position + 34])
        if data[position + 46 : position + 46 + lengths[0]] == name.encode():
            return position
        position += 46 + sum(lengths)


def patched(data: bytes, position: int, value: bytes) -> bytes:
    return data[:position] + value + data[position + len(value) :]


@pytest.mark.parametrize("size", [0, 1, 10, 2**31])
def test_sizes_that_lie(empty: kept.Store, good: bytes, size: int) -> None:
    lying = patched(good, central(good, "runs.json") + 24, struct.pack("<I", size))
    refused(empty, lying, "damaged|changed|times its size|unpack to more")


def test_a_directory_that_claims_to_be_elsewhere(empty: kept.Store, good: bytes) -> None:
    end = len(good) - 22
    refused(empty, patched(good, end + 10, struct.pack("<H", 65535)), "more than 5,000 files")
    refused(empty, patched(good, end + 12, struct.pack("<I", 2**32 - 1)), "more than 5,000 files")
    refused(empty, patched(good, end + 16, struct.pack("<I", 2**32 - 1)), "damaged|whole zip")
    locator = b"PK\x06\x07" + struct.pack("<IQI", 0, 0, 1)  # section 4.3.15, the larger directory format
    refused(empty, good[:end] + locator + good[end:], "not a whole zip file")


# Packed in ways we do not take


def test_encrypted_and_unusual_packing(empty: kept.Store, good: bytes) -> None:
    position = central(good, "runs.json")
    flags = struct.unpack("<H", good[position + 8 : position + 10])[0]
    refused(
        empty, patched(good, position + 8, struct.pack("<H", flags | 1)), "is encrypted; pack it without a password"
    )
    for method in (zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA):
        refused(empty, packed(unpacked(good), method), "packed in an unusual way")


@pytest.mark.parametrize("data", [b"", b"PK", b"time,speed\n0,120\n", b"\x89PNG\r\n\x1a\n" + bytes(100), bytes(22)])
def test_what_is_no_zip(empty: kept.Store, data: bytes) -> None:
    refused(empty, data, "is not a whole zip file; choose a bundle that Wringout exported")


def test_an_empty_zip(empty: kept.Store) -> None:
    refused(empty, packed({}), r"the file 'bundle\.toml' is missing")


def test_every_shortened_copy(empty: kept.Store, good: bytes) -> None:
    for length in range(0, len(good), 97):
        refused(empty, good[:length], "not a whole zip|damaged")


# Contents that are not what they were


@pytest.mark.parametrize("name", ["airplane.toml", *DOCUMENTS])
def test_a_changed_file(empty: kept.Store, good: bytes, name: str) -> None:
    files = unpacked(good)
    files[name] = files[name][:-2] + b" \n"
    refused(empty, packed(files), f"the file '{name}' was changed: its hash is not the one in bundle.toml")


def test_a_changed_recording(empty: kept.Store, good: bytes) -> None:
    files = unpacked(good)
    (name,) = [name for name, data in files.items() if data == CALLED]
    sentence = refused(empty, packed({**files, name: CALLED.replace(b"121", b"131")}), "was changed")
    assert name in sentence
    refused(empty, packed(listed({**files, name: CALLED.replace(b"121", b"131")})), "has no file of its hash")


@pytest.mark.parametrize(
    "name", ["airplane.toml", "airplane-versions/0001.toml", "history.csv", "recordings.json", "runs.json"]
)
def test_a_missing_file(empty: kept.Store, good: bytes, name: str) -> None:
    files = unpacked(good)
    del files[name]
    refused(empty, packed(files), f"'{name}' is missing")
    refused(empty, packed(listed(files)), f"'{name}' is missing")


def test_missing_recordings_and_draws(empty: kept.Store, good: bytes) -> None:
    files = unpacked(good)
    for name in [name for name in files if name.startswith("recordings/") or name.endswith(".npy")]:
        rest = {other: data for other, data in files.items() if other != name}
        refused(empty, packed(rest), "is missing")
        refused(empty, packed(listed(rest)), "has no file of its hash|are missing")


def test_files_nothing_speaks_of(empty: kept.Store, good: bytes) -> None:
    files = {**unpacked(good), "recordings/stray.csv": b"stray"}
    refused(empty, packed(files), r"'recordings/stray\.csv' is not listed in bundle\.toml")
    refused(empty, packed(listed(files)), r"nothing speaks of the file 'recordings/stray\.csv'")


# The manifest


def with_manifest(good: bytes, change: Callable[[dict[str, Any]], object]) -> bytes:
    manifest = tomllib.loads(unpacked(good)["bundle.toml"].decode())
    change(manifest)
    return packed({**unpacked(good), "bundle.toml": tomli_w.dumps(manifest).encode()})


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda m: m.update(version=3), "the bundle has version 3, this version of Wringout reads up to 2; update"),
        (lambda m: m.update(version=1), r"nothing speaks of the file 'documents/hazard/stall\.jsonl'"),
        (lambda m: m.update(version=0), "'version' cannot be read"),
        (lambda m: m.update(version="1"), "'version' cannot be read"),
        (lambda m: m.update(version=True), "'version' cannot be read"),
        (lambda m: m.pop("version"), "'version' cannot be read .field required"),
        (lambda m: m.update(format="other"), "the format is not 'wringout bundle'"),
        (lambda m: m.pop("format"), "the format is not 'wringout bundle'"),
        (lambda m: m.update(more=1), "'more' cannot be read"),
        (lambda m: m.pop("study"), "'study' cannot be read"),
        (lambda m: m["study"].update(invented="no"), r"'study\.invented' cannot be read"),
        (lambda m: m["study"].update(slug="../up"), r"bundle\.toml, study\.slug: '\.\./up' cannot name a study"),
        (lambda m: m["study"].update(title=""), "title: it is blank"),
        (lambda m: m["study"].update(title="a\nb"), "title: it holds a line break"),
        (lambda m: m["study"].update(question="\x00"), "question: the text holds a NUL"),
        (lambda m: m["study"].update(created_at="now"), "'now' is not a UTC time"),
        (lambda m: m["study"].update(difference_that_matters={"a": float("nan")}), "nan is out of range"),
        (lambda m: m["study"].update(difference_that_matters={"a": [1]}), "cannot be read"),
        (lambda m: m["study"].update(difference_that_matters={"a": 10**30}), "out of range"),
        (lambda m: m["airplane"].reverse(), "versions do not count from 1"),
        (lambda m: m["airplane"][0].update(version=2), "versions do not count from 1"),
        (lambda m: m["airplane"][0].update(version=0), "cannot be read"),
        (lambda m: m["airplane"][0].update(file="../../x"), "nothing speaks of|is missing"),
        (lambda m: m["airplane"][0].update(file="gone.toml"), "nothing speaks of|is missing"),
        (lambda m: m["airplane"][0].update(created_at=""), "is not a UTC time"),
        (lambda m: m["files"][0].update(sha256="0" * 64), "was changed"),
        (lambda m: m["files"][0].update(sha256="zz"), "'zz' is not a SHA-256"),
        (lambda m: m["files"][0].update(size_bytes=1), "was changed"),
        (lambda m: m["files"][0].update(size_bytes=-1), "cannot be read"),
        (lambda m: m["files"].pop(0), "is not listed"),
        (lambda m: m.update(files=[]), "is not listed"),
    ],
)
def test_a_manifest_that_is_wrong(
    empty: kept.Store, good: bytes, change: Callable[[dict[str, Any]], object], says: str
) -> None:
    refused(empty, with_manifest(good, change), says)


@pytest.mark.parametrize(
    "text", [b"\xff\xfe", b"not toml", b"a = 1\na = 2", b"a = " + b"[" * 100_000, b"a = {" * 5000, b"format = 'x'"]
)
def test_a_manifest_that_is_not_toml(empty: kept.Store, good: bytes, text: bytes) -> None:
    refused(
        empty, packed({**unpacked(good), "bundle.toml": text}, zipfile.ZIP_STORED), "is not sound TOML|format is not"
    )


# The documents


def with_json(good: bytes, name: str, change: Callable[[Any], object]) -> bytes:
    files = unpacked(good)
    document = json.loads(files[name])
    change(document)
    return packed(listed({**files, name: json.dumps(document).encode()}))


@pytest.mark.parametrize(
    ("name", "change", "says"),
    [
        ("runs.json", lambda d: d[0].update(recording_sha256="0" * 64), "which the study does not have"),
        ("runs.json", lambda d: d[1].update(key="G1"), "a run 'G1' already"),
        ("runs.json", lambda d: d[0].update(to_s=None), "only one end"),
        ("runs.json", lambda d: d[0].update(to_s=-1.0), "not after it begins"),
        ("runs.json", lambda d: d[0].update(to_s="12"), r"runs\.json, entry 1: the field 'to_s' cannot be read"),
        ("runs.json", lambda d: d[0].update(state="lost"), "'state' cannot be read"),
        ("runs.json", lambda d: d[0].update(state="set aside"), "needs a reason"),
        ("runs.json", lambda d: d[0].update(more=1), "'more' cannot be read"),
        ("runs.json", lambda d: d[0].pop("setup"), "'setup' cannot be read .field required"),
        ("runs.json", lambda d: d[0].update(setup=[]), "'setup' cannot be read"),
        ("runs.json", lambda d: d[0].update(created_at="2026"), "'2026' is not a UTC time"),
        ("runs.json", lambda d: d[0]["setup"].update(x=float("nan")), "NaN is not a finite number"),
        ("runs.json", lambda d: d[0]["setup"].update(x=10**40), "a whole number is too large"),
        ("runs.json", lambda d: d.append(1), "entry 3"),
        ("recordings.json", lambda d: d[0].update(sha256="0" * 64), "has no file of its hash"),
        ("recordings.json", lambda d: d[0].update(file=d[1]["file"]), "has no file of its hash"),
        ("recordings.json", lambda d: d[0].update(file="runs.json"), "has no file of its hash"),
        ("recordings.json", lambda d: d[0].update(file="../../etc/passwd"), "has no file of its hash"),
        ("recordings.json", lambda d: d[0].update(name="a\nb"), "line break"),
        ("recordings.json", lambda d: d[0].update(kind="a\nb"), "line break"),
        ("recordings.json", lambda d: d[0].update(note="\ud800"), "broken character"),
        ("recordings.json", lambda d: d[0].update(added_at="x"), "is not a UTC time"),
        ("recordings.json", lambda d: d.append(d[0]), "stands in it twice"),
        ("recordings.json", lambda d: d.pop(), "nothing speaks of the file"),
        ("results/0001-reduction.json", lambda d: d.update(seed=-1), "out of range"),
        ("results/0001-reduction.json", lambda d: d.update(seed=1.5), "'seed' cannot be read"),
        ("results/0001-reduction.json", lambda d: d.update(kind="x"), "'kind' cannot be read"),
        ("results/0001-reduction.json", lambda d: d.update(inputs_hash="x"), "is not a SHA-256"),
        ("results/0001-reduction.json", lambda d: d.update(draws="../x.npy"), "are missing|nothing speaks of"),
        ("results/0001-reduction.json", lambda d: d.update(draws="runs.json"), "are missing|nothing speaks of"),
        ("results/0001-reduction.json", lambda d: d.update(created_at=""), "is not a UTC time"),
    ],
)
def test_documents_that_are_wrong(
    empty: kept.Store, good: bytes, name: str, change: Callable[[Any], object], says: str
) -> None:
    refused(empty, with_json(good, name, change), says)


@pytest.mark.parametrize("name", ["runs.json", "recordings.json", "results/0001-reduction.json"])
@pytest.mark.parametrize(
    "text", [b"", b"\xff", b"{", b"[" * 100_000, b'{"a":1,"a":2}', b"1", b"null", b"[1e999]", b'"' + b"x" * 100]
)
def test_documents_that_are_not_json(empty: kept.Store, good: bytes, name: str, text: bytes) -> None:
    refused(empty, packed(listed({**unpacked(good), name: text}), zipfile.ZIP_STORED), name.replace(".", r"\."))


HEAD = b'"at","what","before","after"\n'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"", "columns are not at, what, before, after"),
        (b"at,what,before,after\n", "row 1: the row is not four quoted cells"),
        (b'"a","b","c","d"\n', "columns are not"),
        (HEAD + b'"2026-05-01T09:30:00.000Z","x",""\n', "row 2: the row is not four quoted cells"),
        (HEAD + b'"yesterday","x","",""\n', "row 2: 'yesterday' is not a UTC time"),
        (HEAD + b'"2026-05-01T09:30:00.000Z","","",""\n', "it is blank"),
        (HEAD + b'"2026-05-01T09:30:00.000Z","x","[]",""\n', "row 2: a JSON object was expected"),
        (HEAD + b'"2026-05-01T09:30:00.000Z","x","{","', "row 2"),
        (HEAD + b'"' * 300_001, "row 2"),
        (b"\xff", "is not UTF-8"),
    ],
)
def test_a_history_that_is_wrong(empty: kept.Store, good: bytes, text: bytes, says: str) -> None:
    refused(empty, packed(listed({**unpacked(good), "history.csv": text}), zipfile.ZIP_STORED), says)


# Documents and taps

PLAN, HAZARD, TAPS = "documents/test-plan/flight-1.jsonl", "documents/hazard/stall.jsonl", "taps.jsonl"
AT = "2026-05-01T09:30:00.000Z"


def line(**fields: object) -> bytes:
    return json.dumps(fields).encode() + b"\n"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (b"", "the revisions do not count from 1"),
        (b"{}\n", r"line 1: the field 'revision' cannot be read"),
        (line(revision=2, at=AT, body={}), "the revisions do not count from 1"),
        (line(revision=1, at=AT, body={}) * 2, "the revisions do not count from 1"),
        (line(revision=1, at="now", body={}), "'now' is not a UTC time"),
        (line(revision=1, at=AT, body=[]), "'body' cannot be read"),
        (line(revision=1, at=AT, body={"x": 10**40}), "a whole number is too large"),
        (line(revision=1, at=AT, body={"x": float("nan")}), "NaN is not a finite number"),
        (line(revision=1, at=AT, body={"x": "\x00"}), "holds a NUL"),
        (line(revision=1, at=AT, body={}, more=1), "'more' cannot be read"),
        (line(revision=1, at=AT, body={})[:-1], "the last line has no end"),
        (b"[" * 100_000 + b"\n", "line 1: the JSON is nested too deeply"),
        (b"\n", "line 1: this is not sound JSON"),
        (b"\xff\n", "is not UTF-8"),
    ],
)
def test_documents_of_a_study_that_are_wrong(empty: kept.Store, good: bytes, text: bytes, says: str) -> None:
    refused(empty, packed(listed({**unpacked(good), PLAN: text}), zipfile.ZIP_STORED), says)


@pytest.mark.parametrize(
    "name",
    [
        "documents/a.jsonl",
        "documents/a/b/c.jsonl",
        "documents/Plan/a.jsonl",
        "documents/plan/a_b.jsonl",
        "documents/plan/.jsonl",
        f"documents/plan/{'a' * 81}.jsonl",
        "documents/plan/a.json",
        "taps/flight.jsonl",
    ],
)
def test_documents_of_other_names_are_strays(empty: kept.Store, good: bytes, name: str) -> None:
    data = packed(listed({**unpacked(good), name: line(revision=1, at=AT, body={})}))
    refused(empty, data, "nothing speaks of the file")


TAP = {"flight": "flight-1", "device": "left", "sequence": 1, "at": AT, "body": {}}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (line(**TAP) * 2, "tap 1 of 'left' stands in it twice"),
        (line(**TAP | {"sequence": -1}), "'sequence' cannot be read"),
        (line(**TAP | {"sequence": 2**63}), "whole number is too large"),
        (line(**TAP | {"sequence": True}), "'sequence' cannot be read"),
        (line(**TAP | {"flight": "../x"}), r"flight: '\.\./x' cannot be a key"),
        (line(**TAP | {"device": ""}), "device: '' cannot be a key"),
        (line(**TAP | {"body": None}), "'body' cannot be read"),
        (line(**TAP | {"at": ""}), "is not a UTC time"),
    ],
)
def test_taps_that_are_wrong(empty: kept.Store, good: bytes, text: bytes, says: str) -> None:
    refused(empty, packed(listed({**unpacked(good), TAPS: text}), zipfile.ZIP_STORED), says)


def test_more_revisions_and_taps_than_allowed(empty: kept.Store, good: bytes) -> None:
    refused(empty, good, r"jsonl: it has more than \d lines", BundleLimits(revisions=3))
    refused(empty, good, r"taps\.jsonl: it has more than 2 lines", BundleLimits(taps=2))
    refused(empty, good, "is larger than", BundleLimits(lines_bytes=10))


# Anything at all


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_one_changed_byte_is_refused_or_changes_nothing(good: bytes, tmp_path: Path, data: st.DataObject) -> None:
    position = data.draw(st.integers(0, len(good) - 1))
    value = data.draw(st.integers(0, 255))
    with open_at(tmp_path / f"{time.monotonic_ns()}.db") as store:
        try:
            taken = taken_in(store, patched(good, position, bytes([value])))
        except BadInputError as error:
            assert str(error).startswith("study.zip")  # noqa: PT017
            with store.reading() as view:
                assert kept.list_studies(view) == ()
        else:  # the byte was one the contents do not depend on, such as a time stamp of the zip
            assert taken.sha256 == hashlib.sha256(unpacked(good)["bundle.toml"]).hexdigest()
            with store.reading() as view:
                assert kept.bundle_contents(view, taken.study).sha256 == taken.sha256


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(middle=st.binary(max_size=300), zipped=st.booleans())
def test_any_bytes_are_refused(empty: kept.Store, middle: bytes, zipped: bool) -> None:
    data = b"PK\x03\x04" + middle + packed({"bundle.toml": middle}) if zipped else middle
    refused(empty, data, "study")


def test_more_entries_than_allowed(empty: kept.Store, good: bytes) -> None:
    refused(empty, good, r"runs\.json: it has 2 entries; at most 1", BundleLimits(runs=1))
    refused(empty, good, r"history\.csv: it has more than 3 rows", BundleLimits(edits=3))


def repeated(good: bytes, name: str, count: int) -> bytes:
    """Return a bundle whose runs or recordings are many, all of them the first one under other keys."""
    files = unpacked(good)
    entries = json.loads(files[name])
    many = [{**entries[0], "key": f"X{number}"} for number in range(count)]
    return packed(listed({**files, name: json.dumps([*entries, *many, 1]).encode()}), zipfile.ZIP_STORED)


WORST = """
import resource, sys, time
from datetime import UTC, datetime
from pathlib import Path
from wringout import store as kept
from wringout.errors import BadInputError
with kept.open_store(kept.place_at(Path(sys.argv[1])), lambda: datetime.now(UTC)) as store:
    begin = time.process_time()
    try:
        kept.import_bundle(store, open(sys.argv[2], "rb"), "study.zip")
    except BadInputError:
        print(time.process_time() - begin, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""

FROM_A_SMALL_PROCESS = "import subprocess, sys; subprocess.run([sys.executable, '-c', *sys.argv[1:]], check=True)"
"""Linux counts the largest size of the process that starts another into the other's; ours has many tests behind it."""


@pytest.mark.parametrize("worst", ["bomb", "lists", "manifest", "history", "runs", "taps"])
def test_the_worst_bundles_are_refused_quickly_and_in_little_memory(tmp_path: Path, good: bytes, worst: str) -> None:
    files = unpacked(good)
    row = b'"2026-05-01T09:30:00.000Z","x","",""\n'
    data = {
        "bomb": lambda: packed({**files, "recordings/bomb": bytes(200_000_000)}),
        "lists": lambda: packed(listed({**files, "runs.json": b"[" + b"[]," * 2_790_000 + b"[]]"}), zipfile.ZIP_STORED),
        "manifest": lambda: packed({**files, "bundle.toml": b"a = [" + b"[]," * 690_000 + b"]"}, zipfile.ZIP_STORED),
        "history": lambda: packed(listed({**files, "history.csv": HEAD + row * 1_760_000}), zipfile.ZIP_STORED),
        "taps": lambda: packed(listed({**files, TAPS: b"{}\n" * 22_000_000}), zipfile.ZIP_STORED),
        "runs": lambda: repeated(good, "runs.json", 4_990),
    }[worst]()
    (tmp_path / "study.zip").write_bytes(data)
    command = [sys.executable, "-c", FROM_A_SMALL_PROCESS, WORST, tmp_path / "a.db", tmp_path / "study.zip"]
    seconds, kibibytes = map(float, subprocess.run(command, check=True, capture_output=True).stdout.split())
    assert kibibytes < 500 * 1024
    assert seconds < 10.0  # of processor; under two on an idle machine
