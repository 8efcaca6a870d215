"""How fast an archive of logs is scanned, beside a plain scan of the same files by polars, which looks at nothing.

Run: ``python benchmarks/archives.py [FILES [ROWS]]``. Makes invented logs in a temporary folder, two go-arounds in
each. Prints rows a second and the ratio, best of three, interleaved; processor time, since the machine may be shared.
Also times a register of 5,000 entries.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import polars as pl

from wringout.handbooks.entry import Entry, entry_from
from wringout.handbooks.queries import holding, irregularities, of_model
from wringout.handbooks.serials import parse_serial
from wringout.handbooks.tables import csv_text
from wringout.services.fleet.archives import scan_archive
from wringout.services.opening import open_studies
from wringout.services.register.entries import (
    check_register,
    export_register,
    import_register,
    list_register,
    what_holds,
)
from wringout.services.register.pages import models_of_register, search_register

FILES, ROWS = 150, 4000
REPEATS = 3
ENTRIES = 5000


def log_text(rows: int, seed: int) -> str:
    """Return an invented log of a flight with two approaches that are broken off."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(rows, dtype=np.float64)
    first, second = 0.3 * rows, 0.7 * rows
    around = np.array([-200.0, 0.0, 6.0, 150.0])  # an approach from 2,000 ft down to 600, and the climb after it
    corners = np.concatenate([[0.0], first + around, second + around, [rows]])
    feet = np.interp(time_s, corners, [2000, *[2000, 600, 590, 2000] * 2, 2000]) + rng.normal(0.0, 3.0, rows)
    knots = np.interp(time_s, corners, [100, *[85, 70, 68, 95] * 2, 100]) + rng.normal(0.0, 0.5, rows)
    since = np.minimum(np.abs(time_s - first + 90.0), np.abs(time_s - second + 90.0))
    out = since < 90.0 + 8.0
    flap, gear = np.where(out, 40.0, 0.0), np.where(out, 1.0, 0.0)
    power = np.where(out, 15.0, 25.0)
    more = ",".join(f"{x:.1f}" for x in rng.normal(100.0, 1.0, 8))
    head = "Time (s),Pressure Altitude (ft),IAS (kt),MAP (inHg),Flaps (deg),Gear," + ",".join(f"P{i}" for i in range(8))
    lines = [
        f"{t:.0f},{h:.0f},{v:.1f},{p:.1f},{d:.0f},{g:.0f},{more}"
        for t, h, v, p, d, g in zip(time_s, feet, knots, power, flap, gear, strict=True)
    ]
    return "\n".join([head, *lines, ""])


def timed(call: Callable[[], object]) -> tuple[float, float]:
    """Return wall and processor seconds of a call."""
    wall, cpu = time.perf_counter(), time.process_time()
    call()
    return time.perf_counter() - wall, time.process_time() - cpu


def plain_scan(folder: Path) -> None:
    """Read every file with polars and take one mean, so that nothing can be left unread."""
    for path in sorted(folder.glob("*.csv")):
        pl.scan_csv(path).select(pl.all().mean()).collect()


def archive(files: int, rows: int) -> None:
    """Time a scan in this process against the plain one, and by processes."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "logs"
        folder.mkdir()
        for number in range(files):
            (folder / f"{number:05d}.csv").write_text(log_text(rows, number), encoding="utf-8")
        size = sum(path.stat().st_size for path in folder.iterdir()) / 2**20
        ours, plain = [], []
        for turn in range(REPEATS):
            ours.append(timed(lambda turn=turn: scan_archive(folder, Path(name) / f"out-{turn}", processes=0)))  # type: ignore[misc]
            plain.append(timed(lambda: plain_scan(folder)))
        done = scan_archive(folder, Path(name) / "out-0", processes=0)
        wall, _ = timed(lambda: scan_archive(folder, Path(name) / "by-two", processes=2))
        again, _ = timed(lambda: scan_archive(folder, Path(name) / "out-0", processes=0))
        total, cpu, least = files * rows, min(c for _, c in ours), min(c for _, c in plain)
        print(f"{files:,} files of {rows:,} rows, {size:.0f} MB, {done.go_arounds:,} go-arounds found of {2 * files:,}")
        print(f"scan: {total / cpu:,.0f} rows a second of processor; plain polars scan: {total / least:,.0f}")
        print(f"ratio: the scan takes {cpu / least:.1f} times the processor time of the plain scan")
        print(f"two processes: {total / wall:,.0f} rows a second of wall clock, starting them included")
        print(f"scanned again with nothing changed: {again:.2f} s")


def entries(count: int) -> list[Entry]:
    """Return a register of invented entries: 100 models, each with revisions and neighbours."""
    return [
        entry_from(
            {
                "family": f"Family {i % 20}",
                "model": f"Model {i % 100}",
                "serials": f"{100 * (i // 300) + 1}-{100 * (i // 300) + 100}, except {100 * (i // 300) + 7}",
                "document": f"Handbook {i // 300}",
                "part_number": f"H-{i % 100}-{i // 300}",
                "revision": f"{(i // 100) % 3}",
                "date": f"19{60 + (i // 100) % 3 * 10}-01-01",
                "steps": "power full; flaps half; gear up when climbing; flaps up",
                "invented": True,
            }
        )
        for i in range(count)
    ]


def register() -> None:
    """Time what a user waits for with 5,000 entries."""
    made = entries(ENTRIES)
    own = of_model(made, "Model 7")
    in_memory, _ = timed(lambda: holding(own, parse_serial("512"), date(1999, 1, 1)))
    everything, _ = timed(lambda: irregularities(made, date(1999, 1, 1)))
    with (
        tempfile.TemporaryDirectory() as name,
        open_studies(Path(name) / "register.db", lambda: datetime.now(UTC)) as store,
    ):
        text = csv_text(made).encode()
        print(f"register of {len(made):,} entries:")
        for title, call in (
            ("import from CSV", lambda: import_register(store, text, "r.csv")),
            ("list", lambda: list_register(store)),
            ("search, one page of the workbench", lambda: search_register(store, "model 7 handbook")),
            ("models to choose from", lambda: models_of_register(store)),
            ("what holds for a serial", lambda: what_holds(store, "Model 7", "512", date(1999, 1, 1))),
            ("check for gaps and overlaps", lambda: check_register(store, date(1999, 1, 1))),
            ("export to CSV", lambda: export_register(store)),
        ):
            wall, cpu = timed(call)
            print(f"  {title}: {wall:.2f} s ({cpu:.2f} s of processor)")
    print(f"  in memory: what holds {1e3 * in_memory:.1f} ms, all gaps and overlaps {everything:.2f} s")


def main() -> None:
    """Time both."""
    given = [int(word) for word in sys.argv[1:]]
    archive(*(given + [FILES, ROWS][len(given) :]))
    register()


if __name__ == "__main__":
    main()
