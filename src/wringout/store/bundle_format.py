"""What stands in a bundle: its files, its limits, and the documents in it with the checks on each.

Documents and taps are JSON Lines (one JSON object on each line), everything else is TOML, JSON or CSV.
The format is described for its readers in ``docs/bundle.md``.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal, TypeVar

import tomli_w
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from wringout.errors import BadInputError
from wringout.store.documents import (
    MAX_DOCUMENT_BYTES,
    JsonValue,
    check_sha256,
    check_time,
    json_document,
    json_text,
    json_value,
)
from wringout.store.records import HistoryEntry
from wringout.store.results import DRAWS_BYTES
from wringout.store.vault import LIMIT_BYTES

FORMAT = "wringout bundle"
VERSION = 2
FIRST_VERSION = 1
"""Written when a study has no documents and no taps, so that its hash stays what it was."""
MANIFEST = "bundle.toml"
AIRPLANE = "airplane.toml"
RECORDINGS = "recordings.json"
RUNS = "runs.json"
HISTORY = "history.csv"
DOCUMENTS = "documents/"
TAPS = "taps.jsonl"
LINES = ".jsonl"
HISTORY_COLUMNS = ("at", "what", "before", "after")


@dataclass(frozen=True, slots=True)
class BundleLimits:
    """How large a bundle may be.

    ``ratio`` bounds unpacked over packed size, of any file above ``ratio_from_bytes`` and of a whole bundle above
    ``total_ratio_from_bytes``. Bundles written here stay within it, see :func:`~wringout.store.bundle_zip.write_zip`.
    """

    total_bytes: int = 2 * 2**30
    files: int = 5_000
    runs: int = 5_000
    edits: int = 50_000
    revisions: int = 50_000
    taps: int = 100_000
    directory_bytes: int = 4 * 2**20
    manifest_bytes: int = 2 * 2**20
    document_bytes: int = MAX_DOCUMENT_BYTES
    history_bytes: int = 64 * 2**20
    lines_bytes: int = 64 * 2**20
    draws_bytes: int = DRAWS_BYTES
    recording_bytes: int = LIMIT_BYTES
    ratio: int = 200
    ratio_from_bytes: int = 2**15
    total_ratio_from_bytes: int = 64 * 2**20


LIMITS = BundleLimits()


def limit_of(path: str, limits: BundleLimits = LIMITS) -> int:
    """Return how many bytes the file of this name may have."""
    if path == MANIFEST:
        return limits.manifest_bytes
    if path.startswith("recordings/"):
        return limits.recording_bytes
    if path.endswith(".npy"):
        return limits.draws_bytes
    if path.endswith(LINES):
        return limits.lines_bytes
    return limits.history_bytes if path == HISTORY else limits.document_bytes


class Strict(BaseModel):
    """A document with exactly the fields it names, of exactly the types they have."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class StudyEntry(Strict):
    """``[study]`` of the manifest."""

    slug: str
    title: str
    question: str
    created_at: str
    invented: bool
    difference_that_matters: dict[str, str | bool | int | float]


class AirplaneEntry(Strict):
    """One ``[[airplane]]`` of the manifest: a version of the airplane and the file it stands in."""

    version: Annotated[int, Field(ge=1)]
    created_at: str
    file: str


class FileEntry(Strict):
    """One ``[[files]]`` of the manifest."""

    path: str
    sha256: str
    size_bytes: Annotated[int, Field(ge=0)]


class Manifest(Strict):
    """``bundle.toml``."""

    format: Literal["wringout bundle"]
    version: Annotated[int, Field(ge=1, le=VERSION)]
    study: StudyEntry
    airplane: list[AirplaneEntry] = Field(default_factory=list)
    files: list[FileEntry]


class RecordingEntry(Strict):
    """One entry of ``recordings.json``."""

    sha256: str
    name: str
    kind: str
    note: str
    mapping: dict[str, Any] | None
    added_at: str
    file: str


class RunEntry(Strict):
    """One entry of ``runs.json``."""

    key: str
    method: str
    recording_sha256: str
    from_s: float | None
    to_s: float | None
    setup: dict[str, Any]
    state: Literal["in use", "set aside"]
    reason: str
    created_at: str


class ResultEntry(Strict):
    """One file ``results/*.json``. ``draws`` names the file with the posterior draws, or is null."""

    kind: Literal["reduction", "matchup"]
    inputs_hash: str
    seed: int
    package_version: str
    settings: dict[str, Any]
    body: dict[str, Any]
    draws: str | None
    created_at: str


class DocumentLine(Strict):
    """One line of a file ``documents/<kind>/<key>.jsonl``: a revision. ``body`` is null for a removal."""

    revision: Annotated[int, Field(ge=1)]
    at: str
    body: dict[str, Any] | None


class TapLine(Strict):
    """One line of ``taps.jsonl``."""

    flight: str
    device: str
    sequence: Annotated[int, Field(ge=0)]
    at: str
    body: dict[str, Any]


Entry = TypeVar("Entry", bound=Strict)


def checked(model: type[Entry], value: object, where: str) -> Entry:
    """Return ``value`` as a document of a kind.

    Raises:
        BadInputError: a field is missing, unknown or of the wrong type; the first one is named.
    """
    try:
        return model.model_validate(value)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        field = ".".join(str(part) for part in first["loc"])[:120]
        raise BadInputError(
            f"the field '{field}' cannot be read ({first['msg'][:1].lower()}{first['msg'][1:]})",
            where,
            "see docs/bundle.md for the fields",
        ) from None
    except RecursionError:
        raise BadInputError("it is nested too deeply", where, "export the bundle again") from None


def entries(model: type[Entry], text: str, where: str, limit: int) -> tuple[Entry, ...]:
    """Read a JSON list of at most ``limit`` documents of one kind.

    Raises:
        BadInputError: it is not one.
    """
    found = json_value(text, where)
    if not isinstance(found, list):
        raise BadInputError("a JSON list was expected", where, "start it with '['")
    if len(found) > limit:
        raise BadInputError(f"it has {len(found):,} entries", where, f"at most {limit:,}")
    return tuple(checked(model, item, f"{where}, entry {number}") for number, item in enumerate(found, 1))


def lines(model: type[Entry], text: str, where: str, limit: int) -> Iterator[Entry]:
    """Read JSON Lines: at most ``limit`` objects of one kind, each on a line that ends with a line feed.

    Raises:
        BadInputError: a line is not one, or there are too many.
    """
    if text.count("\n") > limit:
        raise BadInputError(f"it has more than {limit:,} lines", where, "split the study")
    position, number = 0, 0
    while position < len(text):
        number += 1
        end = text.find("\n", position)
        if end < 0:
            raise BadInputError("the last line has no end", where, "export the bundle again")
        place = f"{where}, line {number}"
        yield checked(model, json_document(text[position:end], place), place)
        position = end + 1


def lines_bytes(values: Iterable[JsonValue], where: str) -> bytes:
    """Return JSON Lines: each value in the one JSON spelling, on a line of its own."""
    return "".join(f"{json_text(value, where)}\n" for value in values).encode()


def manifest_bytes(manifest: Manifest) -> bytes:
    """Return ``bundle.toml``; its SHA-256 is the hash of the bundle."""
    document = manifest.model_dump()
    if not document["airplane"]:
        del document["airplane"]
    return tomli_w.dumps(document).encode()


def read_manifest(data: bytes) -> Manifest:
    """Read ``bundle.toml``.

    Raises:
        BadInputError: it is not TOML, not of this format, of a newer version, or a field is wrong.
    """
    try:
        found = tomllib.loads(data.decode("utf-8"))
    except (ValueError, RecursionError) as error:
        reason = "nested too deeply" if isinstance(error, RecursionError) else str(error)
        raise BadInputError(f"it is not sound TOML ({reason[:200]})", MANIFEST, "export the bundle again") from None
    if found.get("format") != FORMAT:
        raise BadInputError(f"the format is not '{FORMAT}'", MANIFEST, "choose a bundle that Wringout exported")
    version = found.get("version")
    if isinstance(version, int) and not isinstance(version, bool) and version > VERSION:
        raise BadInputError(
            f"the bundle has version {version}, this version of Wringout reads up to {VERSION}",
            MANIFEST,
            "update Wringout",
        )
    manifest = checked(Manifest, found, MANIFEST)
    check_time(manifest.study.created_at, f"{MANIFEST}, study.created_at")
    for entry in manifest.files:
        check_member(entry.path)
        check_sha256(entry.sha256, f"{MANIFEST}, {entry.path}")
    if [item.version for item in manifest.airplane] != list(range(1, len(manifest.airplane) + 1)):
        raise BadInputError("the airplane's versions do not count from 1", MANIFEST, "export the bundle again")
    return manifest


_DOCUMENT = re.compile(r"documents/([a-z0-9-]{1,80})/([a-z0-9-]{1,80})\.jsonl")


def document_name(path: str) -> tuple[str, str] | None:
    """Return kind and key of the document a file holds; None when it is no such file."""
    found = _DOCUMENT.fullmatch(path)
    return None if found is None else (found[1], found[2])


_DRIVE = re.compile(r"[A-Za-z]:")


def check_member(name: str) -> str:
    """Return a file's name inside a bundle if it stays inside.

    Raises:
        BadInputError: it is absolute, climbs out of its folder, or is not a plain path with forward slashes.
    """
    shown = name.encode("unicode_escape").decode()[:120]
    if name.startswith(("/", "\\")) or _DRIVE.match(name):
        raise BadInputError(f"the file name '{shown}' is absolute", "bundle", "names must stay inside the bundle")
    if ".." in re.split(r"[/\\]", name):
        raise BadInputError(f"the file name '{shown}' climbs out of its folder", "bundle", "names must stay inside it")
    parts = name.split("/")
    plain = all(part not in {"", "."} for part in parts) and "\\" not in name and len(name) <= 400
    if not plain or any(unicodedata.category(character) in {"Cc", "Cs"} for character in name):
        raise BadInputError(f"the file name '{shown}' is not a plain path", "bundle", "use names with forward slashes")
    return name


_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")


def safe_name(name: str) -> str:
    """Return a recording's name as a file name that every common system can hold.

    >>> safe_name('go-around: "three".csv')
    'go-around_ _three_.csv'
    """
    plain = unicodedata.normalize("NFC", name)
    plain = "".join(letter if letter.isalnum() or letter in " ._-()+" else "_" for letter in plain)
    plain = plain.strip(" .")
    if len(plain.encode()) > 120:
        stem, dot, ending = plain.rpartition(".")
        ending = f"{dot}{ending}" if dot and len(ending) <= 8 else ""
        plain = (stem if ending else plain).encode()[: 120 - len(ending.encode())].decode(errors="ignore") + ending
    return f"_{plain}" if _RESERVED.fullmatch(plain) else plain or "recording"


def json_bytes(value: JsonValue, where: str) -> bytes:
    """Return a document as its file in a bundle: the one JSON spelling, a list with one entry on each line."""
    if not isinstance(value, list):
        return (json_text(value, where) + "\n").encode()
    lines = ",\n".join(json_text(item, f"{where}, entry {number}") for number, item in enumerate(value, 1))
    return f"[\n{lines}\n]\n".encode()


def _cell(text: str) -> str:
    """Quote a cell; a text a spreadsheet could take for a formula gets an apostrophe in front."""
    guarded = f"'{text}" if text[:1] in {"=", "+", "-", "@", "\t", "\r", "'"} else text
    return '"' + guarded.replace('"', '""') + '"'


def history_bytes(history: Iterable[HistoryEntry]) -> bytes:
    """Return ``history.csv``: every cell quoted, JSON in ``before`` and ``after``, empty where there was nothing."""
    lines = [",".join(_cell(column) for column in HISTORY_COLUMNS)]
    for entry in history:
        documents = ("" if part is None else json_text(part, HISTORY) for part in (entry.before, entry.after))
        lines.append(",".join(_cell(text) for text in (entry.at, entry.what, *documents)))
    return ("\n".join(lines) + "\n").encode()


_QUOTED = r'"((?:[^"]|"")*+)"'
_LINE = re.compile(rf"{_QUOTED},{_QUOTED},{_QUOTED},{_QUOTED}\r?\n?")


def history_rows(text: str, limit: int = LIMITS.edits) -> tuple[Mapping[str, str], ...]:
    """Read ``history.csv`` back into its cells.

    Raises:
        BadInputError: a row is not four quoted cells, the columns have other names, or there are too many rows.
    """
    rows: list[Mapping[str, str]] = []
    position = 0
    while position < len(text):
        found = _LINE.match(text, position)
        if found is None:
            raise BadInputError("the row is not four quoted cells", f"{HISTORY}, row {len(rows) + 1}", "at, what, ...")
        cells = (cell.replace('""', '"') for cell in found.groups())
        rows.append(dict(zip(HISTORY_COLUMNS, (cell.removeprefix("'") for cell in cells), strict=True)))
        position = found.end()
        if len(rows) > limit + 1:
            raise BadInputError(f"it has more than {limit:,} rows", HISTORY, "split the study")
    if not rows or tuple(rows[0].values()) != HISTORY_COLUMNS:
        raise BadInputError("the columns are not at, what, before, after", HISTORY, "export the bundle again")
    return tuple(rows[1:])
