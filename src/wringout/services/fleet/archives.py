"""Archives of logs at scale: folders of recordings scanned for go-arounds and configuration changes, into Parquet.

Files are shared out in lots. A lot is read by one worker, one recording in memory at a time, and gives one table of
files and one of events; both are written under the lot's own name once they are complete, and a scan that was stopped
leaves out, when it is started again, the files that stand in a table with the size and time they have now. Workers are
processes of this machine, or those of a Dask cluster that sees the same folders.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib
import os
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from itertools import islice
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import polars as pl

from wringout.errors import BadInputError, StoreError
from wringout.services.fleet.archive_lot import EVENT_SCHEMA, FILE_SCHEMA, Lot, LotResult, scan_lot

Progress = Callable[[float, str], None]
ENDINGS = frozenset({".csv", ".txt", ".tsv", ".log", ".igc", ".gpx", ".nmea"})
LOT_FILES, LOT_BYTES = 64, 64 << 20
LOT_FILES_ALONE = 8
"""In this process alone lots are smaller: how far it is, is told after each, and one that was stopped is lost."""
FILES_FOLDER, EVENTS_FOLDER = "files", "events"
_WAITING_PER_WORKER = 2


def _silent(share: float, words: str) -> None:
    """Say nothing."""
    del share, words


@dataclass(frozen=True, slots=True)
class Scanned:
    """What a scan did.

    Attributes:
        folder: where the tables are. files: scanned now. skipped: known from an earlier scan.
        unread: files that could not be read; their sentence stands in the table of files.
        rows, size_bytes: of the files scanned now.
        go_arounds, changes: found in all files of the tables.
    """

    folder: Path
    files: int
    skipped: int
    unread: int
    rows: int
    size_bytes: int
    go_arounds: int
    changes: int


def scan_archive(
    source: Path,
    output: Path,
    processes: int | None = None,
    cluster: str | None = None,
    progress: Progress = _silent,
) -> Scanned:
    """Scan a folder of recordings, and those in it, for go-arounds and configuration changes.

    Args:
        source: the folder.
        output: a folder for the tables; made if it is not there. A scan begun there before is gone on with.
        processes: worker processes; None for one less than there are processors, 0 for none (in this process).
        cluster: address of a Dask scheduler whose workers see the same folders under the same names; None for none.
        progress: called with the share of the files done and words.

    Raises:
        BadInputError: the folder is not there or holds no recordings, or the cluster cannot be reached.
        StoreError: the tables cannot be written.
    """
    if not source.is_dir():
        raise BadInputError("there is no such folder", str(source), "name a folder of recordings")
    found = _listed(source)
    if not found:
        raise BadInputError("it holds no recordings", str(source), f"files that end in {', '.join(sorted(ENDINGS))}")
    for name in (FILES_FOLDER, EVENTS_FOLDER):
        _make(output / name)
    known = _known(output)
    waiting = [(path, size, at) for path, size, at in found if (str(path), size, at) not in known]
    totals = [0, 0, 0, 0]
    with contextlib.closing(_results(_lots(source, waiting, processes == 0), processes, cluster)) as results:
        for result in results:
            _write(output, result)
            for k, value in enumerate((result.files, result.unread, result.rows, result.size_bytes)):
                totals[k] += value
            progress(totals[0] / len(waiting), f"{totals[0]:,} of {len(waiting):,} files")
    go_arounds, changes = _counted(output)
    files, unread, rows, size = totals
    return Scanned(output, files, len(found) - len(waiting), unread, rows, size, go_arounds, changes)


def _listed(source: Path) -> list[tuple[Path, int, int]]:
    """Return the recordings below a folder with size and time of change, in order of their names."""
    found = []
    for folder, folders, names in os.walk(source):
        folders.sort()
        for name in sorted(names):
            path = Path(folder) / name
            if path.suffix.lower() in ENDINGS and path.is_file():
                stat = path.stat()
                found.append((path.resolve(), stat.st_size, stat.st_mtime_ns))
    return found


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"'{folder}' cannot be made ({error.strerror or error})", advice="choose another folder"
        ) from None


def _known(output: Path) -> set[tuple[str, int, int]]:
    """Return path, size and time of every file that stands in a table."""
    if not any((output / FILES_FOLDER).glob("*.parquet")):
        return set()
    table = pl.scan_parquet(output / FILES_FOLDER / "*.parquet").select("path", "size_bytes", "changed_ns").collect()
    return set(table.iter_rows())


def _lots(source: Path, waiting: Sequence[tuple[Path, int, int]], alone: bool) -> Iterator[Lot]:
    """Yield files in lots of at most ``LOT_FILES`` files (``LOT_FILES_ALONE``) and about ``LOT_BYTES`` bytes."""
    most = min(LOT_FILES, LOT_FILES_ALONE) if alone else LOT_FILES
    lot: list[tuple[str, int, int]] = []
    size = 0
    for path, bytes_, at in waiting:
        if lot and (len(lot) >= most or size + bytes_ > LOT_BYTES):
            yield _lot(source, lot)
            lot, size = [], 0
        lot.append((str(path), bytes_, at))
        size += bytes_
    if lot:
        yield _lot(source, lot)


def _lot(source: Path, files: Sequence[tuple[str, int, int]]) -> Lot:
    digest = hashlib.sha256("\n".join(f"{p}\0{s}\0{t}" for p, s, t in files).encode()).hexdigest()
    return Lot(digest[:16], str(source.resolve()), tuple(files))


def _results(lots: Iterable[Lot], processes: int | None, cluster: str | None) -> Generator[LotResult]:
    if cluster is not None:
        yield from _on_cluster(lots, cluster)
        return
    workers = max((os.cpu_count() or 2) - 1, 1) if processes is None else processes
    if workers == 0:
        yield from map(scan_lot, lots)
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        try:
            yield from _in_flight(lots, pool.submit, workers * _WAITING_PER_WORKER)
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise


def _in_flight(lots: Iterable[Lot], submit: Callable[..., Future[LotResult]], most: int) -> Iterator[LotResult]:
    """Yield results as they come, never more than ``most`` lots handed out: memory does not grow with the archive."""
    pending: set[Future[LotResult]] = set()
    for lot in lots:
        pending.add(submit(scan_lot, lot))
        if len(pending) >= most:
            done, pending = wait(pending, return_when=FIRST_COMPLETED)
            yield from (future.result() for future in done)
    while pending:
        done, pending = wait(pending, return_when=FIRST_COMPLETED)
        yield from (future.result() for future in done)


def _on_cluster(lots: Iterable[Lot], address: str) -> Iterator[LotResult]:
    """Yield results of a Dask cluster's workers, at most four lots for each thread handed out."""
    try:
        distributed: Any = importlib.import_module("distributed")
    except ImportError:
        raise BadInputError(
            "the library for clusters is not installed", "cluster", "install its extra 'cluster'"
        ) from None
    try:
        client = distributed.Client(address, timeout="10s")
    except (OSError, ValueError) as error:
        raise BadInputError(
            f"the cluster cannot be reached ({' '.join(str(error).split())[:120]})",
            address,
            "name its scheduler's address",
        ) from None
    with client:
        most = max(4 * sum(client.nthreads().values()), 4)
        waiting = iter(lots)
        first = list(islice(waiting, most))
        running = distributed.as_completed([client.submit(scan_lot, lot, pure=False) for lot in first])
        for future in running:
            following = next(waiting, None)
            if following is not None:
                running.add(client.submit(scan_lot, following, pure=False))
            yield future.result()
            future.release()


def _write(output: Path, result: LotResult) -> None:
    """Write a lot's tables, that of files last: it is what says that the lot is done."""
    for folder, schema, rows in (
        (EVENTS_FOLDER, EVENT_SCHEMA, result.events),
        (FILES_FOLDER, FILE_SCHEMA, result.table),
    ):
        target = output / folder / f"{result.name}.parquet"
        unfinished = target.with_suffix(".unfinished")
        try:
            pl.DataFrame(rows, schema=schema, orient="row").write_parquet(unfinished, compression="zstd")
            unfinished.replace(target)
        except OSError as error:
            reason = error.strerror or str(error)
            raise StoreError(f"'{target}' cannot be written ({reason})", advice="make room, then scan again") from None


def events_table(output: Path) -> pl.LazyFrame:
    """Return the events of a scan; those of a file that changed since count only as last scanned."""
    files = pl.scan_parquet(output / FILES_FOLDER / "*.parquet")
    newest = files.group_by("path").agg(pl.col("changed_ns").max())
    events = pl.scan_parquet(output / EVENTS_FOLDER / "*.parquet")
    return events.join(newest, on=["path", "changed_ns"], how="semi")


def _counted(output: Path) -> tuple[int, int]:
    counts = events_table(output).group_by("kind").len().collect()
    by_kind = dict(counts.iter_rows())
    return int(by_kind.get("go-around", 0)), int(by_kind.get("change", 0))


def flown_orders(output: Path) -> list[tuple[str, int]]:
    """Return the orders of cleaning up that were flown in the go-arounds of a scan, with how often, most often first.

    Raises:
        BadInputError: there is no scan in the folder.
    """
    if not any((output / FILES_FOLDER).glob("*.parquet")):
        raise BadInputError("there is no scan in this folder", str(output), "scan an archive into it first")
    table = events_table(output).filter(pl.col("kind") == "go-around").group_by("order").len().collect()
    return sorted(((str(order), int(n)) for order, n in table.iter_rows()), key=lambda item: (-item[1], item[0]))
