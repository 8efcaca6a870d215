"""Scanning folders of recordings: the same finds by one process, several and a cluster; stopped and gone on with."""

from __future__ import annotations

import os
from pathlib import Path

import distributed
import polars as pl
import pytest

from tests.fleet.flights import CRUISE, GO_AROUND, LANDING, TOUCH_AND_GO
from wringout.errors import BadInputError
from wringout.services.fleet import archives
from wringout.services.fleet.archives import events_table, flown_orders, scan_archive

TEXTS = {"go": GO_AROUND, "land": LANDING, "cruise": CRUISE, "touch": TOUCH_AND_GO}


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    folder = tmp_path / "logs"
    for number in range(12):
        kind = list(TEXTS)[number % 4]
        place = folder / f"airplane-{number % 3}"
        place.mkdir(parents=True, exist_ok=True)
        (place / f"{number:02d}-{kind}.csv").write_text(TEXTS[kind], encoding="utf-8")
    (folder / "broken.csv").write_bytes(b"\x00\x01\x02 not a log")
    (folder / "notes.pdf").write_bytes(b"%PDF-1.4")
    return folder


def _events(output: Path) -> list[tuple[object, ...]]:
    columns = ["path", "kind", "time_s", "device", "target", "order", "confidence"]
    return sorted(events_table(output).select(columns).collect().rows(), key=str)


def test_an_archive_is_scanned_and_the_tables_say_what_was_found(logs: Path, tmp_path: Path) -> None:
    output = tmp_path / "out"
    done = scan_archive(logs, output, processes=0)
    assert (done.files, done.skipped, done.unread, done.go_arounds) == (13, 0, 1, 6)
    files = pl.read_parquet(output / "files" / "*.parquet")
    broken = files.filter(pl.col("path").str.ends_with("broken.csv")).row(0, named=True)
    assert broken["problem"].endswith(".")
    assert files.filter(pl.col("problem").is_null())["rows"].sum() == done.rows
    assert flown_orders(output) == [("flaps 0", 3), ("flaps 20, gear up, flaps 0", 3)]


def test_a_scan_goes_on_where_it_stopped_and_reads_changed_files_again(
    logs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(archives, "LOT_FILES", 4)
    output = tmp_path / "out"

    def stop(share: float, words: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        scan_archive(logs, output, processes=0, progress=stop)
    assert pl.read_parquet(output / "files" / "*.parquet").height == 4
    done = scan_archive(logs, output, processes=0)
    assert (done.files, done.skipped) == (9, 4)
    whole = tmp_path / "whole"
    scan_archive(logs, whole, processes=0)
    assert _events(output) == _events(whole)
    again = scan_archive(logs, output, processes=0)
    assert (again.files, again.skipped, again.go_arounds) == (0, 13, 6)
    changed = logs / "airplane-0" / "00-go.csv"
    changed.write_text(LANDING, encoding="utf-8")
    os.utime(changed, ns=(changed.stat().st_atime_ns, changed.stat().st_mtime_ns + 1_000_000_000))
    once_more = scan_archive(logs, output, processes=0)
    assert (once_more.files, once_more.go_arounds) == (1, 5)


def test_processes_and_a_cluster_find_the_same(logs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archives, "LOT_FILES", 3)
    scan_archive(logs, tmp_path / "one", processes=0)
    scan_archive(logs, tmp_path / "two", processes=1)
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None, protocol="tcp", host="127.0.0.1"
    ) as cluster:
        scan_archive(logs, tmp_path / "three", cluster=cluster.scheduler_address)
    assert _events(tmp_path / "one") == _events(tmp_path / "two") == _events(tmp_path / "three")


def test_what_cannot_be_scanned_is_said(tmp_path: Path) -> None:
    for call in (
        lambda: scan_archive(tmp_path / "nowhere", tmp_path / "out"),
        lambda: scan_archive(tmp_path, tmp_path / "out"),
        lambda: flown_orders(tmp_path),
    ):
        with pytest.raises(BadInputError) as caught:
            call()
        assert str(caught.value).endswith(".")
