"""The register of printed procedures: entries kept, asked, imported and exported."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, BinaryIO

from wringout.errors import BadInputError, NotFoundError
from wringout.handbooks.entry import Entry, entry_from
from wringout.handbooks.entry import parse_date as parse_date
from wringout.handbooks.entry import table_of as table_of
from wringout.handbooks.queries import (
    Holding,
    Irregular,
    Supersession,
    holding,
    irregularities,
    supersessions,
)
from wringout.handbooks.serials import parse_serial
from wringout.handbooks.steps import order_words
from wringout.handbooks.steps import steps_text as steps_text
from wringout.handbooks.tables import csv_text, json_text, key_of, read_csv, read_json
from wringout.store import (
    LibraryEntry,
    Store,
    View,
    Work,
    entry_revisions,
    get_entry,
    list_entries,
    put_entries,
    put_entry,
    remove_entry,
)
from wringout.store.vault import keep

KIND, ATTACHMENT_KIND = "handbook", "attachment"
LONGEST_TABLE_BYTES = 32 << 20
LONGEST_ATTACHMENT_BYTES = 32 << 20


@dataclass(frozen=True, slots=True)
class Registered:
    """An entry with its key, its revision in the library and when it was put there."""

    key: str
    revision: int
    at: str
    entry: Entry


@dataclass(frozen=True, slots=True)
class ImportedRegister:
    """What an import did: how many entries were new or changed, how many read, and one error for each bad row.

    ``kept`` is False where errors kept the whole table out.
    """

    changed: int
    read: int
    errors: tuple[BadInputError, ...]
    kept: bool


def order_of(entry: Entry) -> str:
    """Return the order an entry prints in few words, or "prints none"."""
    return "prints none" if entry.prints_none else order_words(entry.steps)


def registered(view: View, model: str = "", family: str = "") -> tuple[Registered, ...]:
    """Return the entries of the register, of one model or family where named (any case), by family, model and date."""
    wanted = {"model": model.strip().casefold(), "family": family.strip().casefold()}
    found = [
        _registered(item)
        for item in list_entries(view, KIND)
        if all(not word or str((item.body or {}).get(name, "")).casefold() == word for name, word in wanted.items())
    ]
    return tuple(sorted(found, key=lambda r: (r.entry.family, r.entry.model, r.entry.dated, str(r.entry.serials))))


def _registered(item: LibraryEntry) -> Registered:
    body = dict(item.body or {})
    fields = tuple((name, tuple(v) if isinstance(v, list) else v) for name, v in sorted(body.items()))
    return Registered(item.key, item.revision, item.at, _entry_of(fields))


@functools.lru_cache(maxsize=20_000)
def _entry_of(fields: tuple[tuple[str, Any], ...]) -> Entry:
    """Return the entry of a table's fields; entries never change, so one that was read is kept."""
    return entry_from(dict(fields), "register")


def list_register(store: Store, model: str = "", family: str = "") -> tuple[Registered, ...]:
    """Return the entries, of one model or family where named (any case)."""
    with store.reading() as view:
        return registered(view, model, family)


def put_in_register(
    store: Store, table: dict[str, Any], key: str | None = None, expected_revision: int | None = None
) -> Registered:
    """Check one entry and keep it; with ``key`` as a new revision of that entry.

    Raises:
        BadInputError: a field cannot be used.
        NotFoundError: there is no entry of that key.
        ConflictError: it was changed since ``expected_revision``.
    """
    entry = entry_from(table)
    with store.writing() as work:
        if key is not None and get_entry(work, KIND, key) is None:
            raise NotFoundError(f"there is no entry {key[:40]!r} in the register", advice="look it up in the register")
        found = put_entry(work, KIND, key or key_of(entry), table_of(entry), expected_revision)
    return _registered(found)


def show_entry(store: Store, key: str) -> tuple[Registered, tuple[LibraryEntry, ...]]:
    """Return an entry by its key or the beginning of it, and all its revisions in the library.

    Raises:
        NotFoundError: there is none, or the beginning fits several.
    """
    with store.reading() as view:
        found = find_entry(view, key)
        return found, entry_revisions(view, KIND, found.key)


def find_entry(view: View, key: str) -> Registered:
    """Return an entry by its key or the beginning of it.

    Raises:
        NotFoundError: there is none, or the beginning fits several.
    """
    fitting = [item for item in list_entries(view, KIND) if item.key.startswith(key)] if key else []
    if len(fitting) != 1:
        what = "no entry" if not fitting else "more than one entry"
        raise NotFoundError(f"there is {what} {key[:40]!r} in the register", advice="look its key up in the register")
    return _registered(fitting[0])


def remove_from_register(store: Store, key: str) -> Registered:
    """Remove an entry; its revisions stay, so that it can be brought back.

    Raises:
        NotFoundError: there is none.
    """
    with store.writing() as work:
        found = find_entry(work, key)
        remove_entry(work, KIND, found.key)
    return found


def import_register(store: Store, data: bytes, name: str, good_rows: bool = False) -> ImportedRegister:
    """Take in a table of entries, CSV or JSON by its name (else by its first character).

    With an error in any row nothing is kept, unless ``good_rows`` asks for the others.

    Raises:
        BadInputError: it is too large, not UTF-8, or no such table at all.
    """
    text = _text(data, name)
    as_json = name.lower().endswith(".json") or (not name.lower().endswith(".csv") and text.lstrip()[:1] in "{[")
    reading = read_json(text, name) if as_json else read_csv(text, name)
    if reading.errors and not good_rows:
        return ImportedRegister(0, len(reading.entries), reading.errors, False)
    with store.writing() as work:
        changed = put_register(work, reading.entries)
    return ImportedRegister(changed, len(reading.entries), reading.errors, True)


def put_register(work: Work, entries: Iterable[Entry]) -> int:
    """Keep many entries inside a transaction and return how many were new or changed."""
    return put_entries(work, KIND, {key_of(entry): table_of(entry) for entry in entries})


def _text(data: bytes, name: str) -> str:
    if len(data) > LONGEST_TABLE_BYTES:
        raise BadInputError("the file is larger than 32 MB", name, "split it")
    if not data.strip():
        raise BadInputError("the file is empty", name, "write a table as docs/register.md shows")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInputError("the file is not UTF-8 text", name, "save it as UTF-8") from None


def export_register(store: Store, as_json: bool = False) -> str:
    """Return the whole register as CSV or JSON text that :func:`import_register` takes back in."""
    entries = [item.entry for item in list_register(store)]
    return json_text(entries) if as_json else csv_text(entries)


def what_holds(store: Store, model: str, serial: str, on: date, family: str = "") -> Holding:
    """Return which procedure holds for a serial of a model on a day.

    Raises:
        BadInputError: the serial cannot be read.
        NotFoundError: the register knows no such model.
    """
    number = parse_serial(serial)
    with store.reading() as view:
        own = [item.entry for item in registered(view, model, family)]
        every = () if own else registered(view)
    if not own:
        known = ", ".join(sorted({item.entry.model for item in every})[:8])
        advice = f"it knows {known}" if known else "add or import entries first"
        raise NotFoundError(f"the register knows no model {model[:60]!r}", advice=advice)
    return holding(own, number, on)


@dataclass(frozen=True, slots=True)
class Checked:
    """What a look over the register found on a day."""

    on: date
    entries: int
    irregular: tuple[Irregular, ...]
    revisions: tuple[Supersession, ...]


def check_register(store: Store, on: date) -> Checked:
    """Return gaps, overlaps and revisions of the register on a day."""
    with store.reading() as view:
        entries = [item.entry for item in registered(view)]
    return Checked(on, len(entries), irregularities(entries, on), supersessions(entries))


def attach(store: Store, key: str, stream: BinaryIO, name: str) -> Registered:
    """Keep a photo or page in the vault and note its hash in an entry.

    Raises:
        BadInputError: the file is empty or too large.
        NotFoundError: there is no such entry.
    """
    with store.reading() as view:
        found = find_entry(view, key)
    kept = keep(store.place.recordings, stream, name, LONGEST_ATTACHMENT_BYTES)
    hashes: Sequence[str] = (*found.entry.attachments, kept.sha256)
    entry = replace(found.entry, attachments=tuple(dict.fromkeys(hashes)))
    with store.writing() as work:
        put_entry(work, ATTACHMENT_KIND, kept.sha256, {"name": name[:200], "size_bytes": kept.size_bytes})
        changed = put_entry(work, KIND, found.key, table_of(entry), found.revision)
    return _registered(changed)
