"""Archives that were scanned from the workbench: where their tables lie, and the finds in them, sifted and sorted."""

from __future__ import annotations

import hashlib
import io
import json
import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import polars as pl

from wringout.errors import BadInputError, NotFoundError, StoreError
from wringout.services.fleet.archives import (
    EVENTS_FOLDER,
    FILES_FOLDER,
    Progress,
    Scanned,
    events_table,
    flown_orders,
    scan_archive,
)
from wringout.services.opening import Clock
from wringout.store import place_at, utc_text

ABOUT = "archive.json"
_KEY = re.compile(r"[0-9a-f]{16}")
_SHA = re.compile(r"[0-9a-f]{64}")
CONFIDENCES: Final = ("go-around", "probable", "possible")
SORTS: Final[Mapping[str, str]] = {
    "sure": "surest first",
    "file": "by file and time",
    "low": "lowest first",
    "slow": "slowest first",
}
_BY: Final[Mapping[str, tuple[str, ...]]] = {
    "sure": ("surety", "path", "time_s"),
    "file": ("path", "time_s"),
    "low": ("lowest_ft", "path", "time_s"),
    "slow": ("speed_kt", "path", "time_s"),
}


@dataclass(frozen=True, slots=True)
class Archive:
    """An archive as its tables have it.

    Attributes:
        key: names it.
        source: the folder that was scanned.
        at: when its scan was last begun, UTC.
        files, unread, rows, go_arounds, changes: counts in the tables; ``unread`` files could not be read.
    """

    key: str
    source: str
    at: str
    files: int
    unread: int
    rows: int
    go_arounds: int
    changes: int


@dataclass(frozen=True, slots=True)
class Sieve:
    """Which finds are wanted: kind "go-around" or "change"; "" wants all of confidence, order and words in the name."""

    kind: str = "go-around"
    confidence: str = ""
    order: str = ""
    words: str = ""
    sort: str = "sure"


def archives_folder(database: Path | None) -> Path:
    """Return the folder of scanned archives beside a database."""
    path = place_at(database).database
    return path.with_name(f"{path.stem}.archives")


def begin_archive(database: Path | None, source: str, clock: Clock) -> Archive:
    """Note a folder that is going to be scanned; one scanned before is gone on with.

    Args:
        database: the database the tables lie beside.
        source: the folder as it was typed; a "~" stands for the user's own.
        clock: returns the present moment with its time zone.

    Raises:
        BadInputError: there is no such folder.
        StoreError: the tables' folder cannot be made.
    """
    text = source.strip().strip("'\"")
    if not text:
        raise BadInputError("no folder was named", "folder", "such as ~/logs")
    try:
        folder = Path(text).expanduser()
        if not folder.is_absolute():
            raise BadInputError(
                f"'{text[:200]}' is not a whole path",
                "folder",
                "begin at the root, or at your own folder, such as ~/logs",
            )
        if not folder.is_dir():
            raise BadInputError(
                f"there is no folder '{text[:200]}'", "folder", "name a folder of recordings on this machine"
            )
        found = str(folder.resolve())
    except (OSError, ValueError, RuntimeError):
        raise BadInputError(f"'{text[:200]}' cannot be reached", "folder", "name a folder on this machine") from None
    key = hashlib.sha256(found.encode("utf-8", "surrogateescape")).hexdigest()[:16]
    place = archives_folder(database) / key
    try:
        place.mkdir(mode=0o700, parents=True, exist_ok=True)
        (place / ABOUT).write_text(json.dumps({"source": found, "at": utc_text(clock())}))
    except OSError as error:
        raise StoreError(f"'{place}' cannot be written ({error.strerror or error})", advice="make room") from error
    return find_archive(database, key)


def scan_begun(database: Path | None, key: str, progress: Progress) -> Scanned:
    """Scan an archive that was begun, in this process; stopped, it goes on where it was.

    Raises:
        NotFoundError: it was not begun.
        BadInputError: its folder is not there any more or holds no recordings.
        StoreError: the tables cannot be written.
    """
    source = find_archive(database, key).source
    return scan_archive(Path(source), archives_folder(database) / key, 0, None, progress)


def find_archive(database: Path | None, key: str) -> Archive:
    """Return an archive by its key.

    Raises:
        NotFoundError: there is none.
    """
    place = archives_folder(database) / key
    try:
        if not _KEY.fullmatch(key):
            raise ValueError(key)
        about = json.loads((place / ABOUT).read_text())
        return Archive(key, str(about["source"]), str(about["at"]), *_counts(place))
    except (OSError, ValueError, KeyError, TypeError):
        raise NotFoundError("this archive was not scanned", advice="name its folder and scan it") from None


def _has_tables(place: Path) -> bool:
    return all(any((place / name).glob("*.parquet")) for name in (FILES_FOLDER, EVENTS_FOLDER))


def _newest_files(place: Path) -> pl.LazyFrame:
    """Return the files of an archive, each as it was last scanned."""
    files = pl.scan_parquet(place / FILES_FOLDER / "*.parquet")
    return files.sort("changed_ns").unique(subset="path", keep="last")


def _counts(place: Path) -> tuple[int, int, int, int, int]:
    if not _has_tables(place):
        return 0, 0, 0, 0, 0
    asked = _newest_files(place).select(
        pl.len(), pl.col("problem").is_not_null().sum().alias("unread"), pl.col("rows").sum(),
        pl.col("go_arounds").sum(), pl.col("changes").sum(),
    )  # fmt: skip
    files, unread, rows, go_arounds, changes = (int(value or 0) for value in asked.collect().row(0))
    return files, unread, rows, go_arounds, changes


def list_archives(database: Path | None) -> tuple[Archive, ...]:
    """Return every archive, the one scanned last first."""
    found = []
    for path in archives_folder(database).glob(f"*/{ABOUT}"):
        try:
            found.append(find_archive(database, path.parent.name))
        except NotFoundError:
            continue
    return tuple(sorted(found, key=lambda one: (one.at, one.key), reverse=True))


def forget_archive(database: Path | None, key: str) -> None:
    """Take an archive's tables away; the recordings are not touched.

    Raises:
        NotFoundError: there is none.
    """
    shutil.rmtree(archives_folder(database) / find_archive(database, key).key, ignore_errors=True)


def _sifted(place: Path, sieve: Sieve) -> pl.LazyFrame:
    found = events_table(place).filter(pl.col("kind") == sieve.kind)
    if sieve.confidence:
        found = found.filter(pl.col("confidence") == sieve.confidence)
    if sieve.order:
        found = found.filter(pl.col("order") == ("" if sieve.order == "none" else sieve.order))
    if sieve.words:
        found = found.filter(pl.col("path").str.to_lowercase().str.contains(sieve.words.lower(), literal=True))
    surety = pl.col("confidence").replace_strict(
        {word: n for n, word in enumerate(CONFIDENCES)}, default=9, return_dtype=pl.Int64
    )
    return found.with_columns(surety.alias("surety")).sort(_BY[sieve.sort], nulls_last=True).drop("surety")


def _table(database: Path | None, key: str, sieve: Sieve) -> pl.DataFrame | None:
    place = archives_folder(database) / find_archive(database, key).key
    if not _has_tables(place):
        return None
    hashes = _newest_files(place).select("path", "sha256")
    found = _sifted(place, sieve).join(hashes, on="path", how="left", maintain_order="left")
    return found.unique(maintain_order=True).drop("changed_ns").collect()


def archive_finds(
    database: Path | None, key: str, sieve: Sieve, first: int = 0, most: int = 100
) -> tuple[list[dict[str, Any]], int]:
    """Return finds of an archive from ``first`` on, at most so many, and how many there are in all.

    Raises:
        NotFoundError: there is no such archive.
    """
    table = _table(database, key, sieve)
    return ([], 0) if table is None else (table.slice(first, most).to_dicts(), table.height)


def finds_file(database: Path | None, key: str, sieve: Sieve, form: str) -> bytes:
    """Return all finds of a sieve as the bytes of a table, "parquet" or "csv".

    Raises:
        NotFoundError: there is no such archive, or nothing was found in it yet.
    """
    table = _table(database, key, sieve)
    if table is None:
        raise NotFoundError("nothing was scanned yet", advice="scan the folder first")
    written = io.BytesIO()
    if form == "csv":
        table.write_csv(written)
    else:
        table.write_parquet(written, compression="zstd")
    return written.getvalue()


def archive_orders(database: Path | None, key: str) -> list[tuple[str, int]]:
    """Return the orders that were flown in an archive's go-arounds with how often; raises NotFoundError."""
    place = archives_folder(database) / find_archive(database, key).key
    return flown_orders(place) if _has_tables(place) else []


def unread_files(database: Path | None, key: str, most: int = 100) -> list[tuple[str, str]]:
    """Return name and sentence of the files of an archive that could not be read; raises NotFoundError."""
    place = archives_folder(database) / find_archive(database, key).key
    if not _has_tables(place):
        return []
    found = _newest_files(place).filter(pl.col("problem").is_not_null()).select("path", "problem").sort("path")
    return [(Path(path).name, problem) for path, problem in found.head(most).collect().iter_rows()]


def archive_file(database: Path | None, key: str, sha256: str) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return a file of an archive by the hash of its bytes, and everything that was found in it in order of time.

    Raises:
        NotFoundError: there is no such archive, or no such file in it.
    """
    place = archives_folder(database) / find_archive(database, key).key
    found: list[dict[str, Any]] = []
    if _SHA.fullmatch(sha256) and _has_tables(place):
        found = _newest_files(place).filter(pl.col("sha256") == sha256).sort("path").head(1).collect().to_dicts()
    if not found:
        raise NotFoundError("there is no such recording in the archive", advice="choose one from the list of finds")
    events = events_table(place).filter(pl.col("path") == found[0]["path"]).unique().sort("time_s", "kind")
    return found[0], events.collect().to_dicts()
