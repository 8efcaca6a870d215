"""The register as a table in CSV or JSON: read with an error for each row that cannot be used, and written back."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from wringout.errors import BadInputError
from wringout.handbooks.entry import FIELDS, Entry, entry_from, table_of
from wringout.plain_text import as_cell, from_cell

FORMAT = "wringout register, version 1"
MOST_ENTRIES = 20_000


@dataclass(frozen=True, slots=True)
class TableReading:
    """What a table held: the entries that can be used, in order, and one error for each row that cannot."""

    entries: tuple[Entry, ...]
    errors: tuple[BadInputError, ...]


def key_of(entry: Entry) -> str:
    """Return the key of an entry: the same for the same model, document, part number, revision, date and serials."""
    table = table_of(entry)
    named = [table[f].casefold() for f in ("family", "model", "document", "part_number", "revision", "date", "serials")]
    text = json.dumps(named, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def read_csv(text: str, name: str) -> TableReading:
    """Return the entries of a CSV text whose first row names the fields (see ``entry.FIELDS``), in any order.

    Raises:
        BadInputError: the first row cannot be used; errors of other rows are returned.
    """
    reader = csv.reader(io.StringIO(text), strict=True)
    entries: list[Entry] = []
    errors: list[BadInputError] = []
    try:
        head = [cell.strip().lower().replace(" ", "_") for cell in next(reader, [])]
        _check_head(head, name)
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            where = f"{name}, row {reader.line_num}"
            if len(cells) != len(head):
                errors.append(
                    BadInputError(
                        f"it has {len(cells)} cells, the first row {len(head)}", where, "quote cells that hold a comma"
                    )
                )
                continue
            _take(dict(zip(head, map(from_cell, cells), strict=True)), where, entries, errors)
    except csv.Error as error:
        errors.append(
            BadInputError(f"this is not sound CSV ({error})", f"{name}, row {reader.line_num}", "save it anew")
        )
    return TableReading(*_without_doubles(entries, errors, name))


def _check_head(head: Sequence[str], name: str) -> None:
    where = f"{name}, row 1"
    unknown = [cell for cell in head if cell not in FIELDS]
    if not head or not any(head):
        raise BadInputError("there is no first row with the names of the fields", where, f"write {','.join(FIELDS)}")
    if unknown:
        raise BadInputError(f"the field {unknown[0]!r} is not known", where, f"use {', '.join(FIELDS)}")
    twice = [cell for cell in head if head.count(cell) > 1]
    if twice:
        raise BadInputError(f"the field {twice[0]!r} stands twice", where, "name each field once")


def read_json(text: str, name: str) -> TableReading:
    """Return the entries of a JSON text as :func:`json_text` writes it, or of a plain list of objects.

    Raises:
        BadInputError: it is not such JSON; errors of single entries are returned.
    """
    try:
        found: Any = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise BadInputError(f"this is not sound JSON ({error})", name, "export it again") from None
    if isinstance(found, dict):
        if found.get("format") != FORMAT:
            raise BadInputError(f"its format is {str(found.get('format'))[:40]!r}", name, f"it should say {FORMAT!r}")
        found = found.get("entries")
    if not isinstance(found, list):
        raise BadInputError("it holds no list of entries", name, 'write {"format": ..., "entries": [...]}')
    entries: list[Entry] = []
    errors: list[BadInputError] = []
    for number, item in enumerate(found, 1):
        where = f"{name}, entry {number}"
        if not isinstance(item, dict):
            errors.append(BadInputError("it is no object", where, "write fields and values in braces"))
            continue
        _take(item, where, entries, errors)
    return TableReading(*_without_doubles(entries, errors, name))


def _take(table: dict[str, Any], where: str, entries: list[Entry], errors: list[BadInputError]) -> None:
    try:
        entries.append(entry_from(table, where))
    except BadInputError as error:
        errors.append(error)


def _without_doubles(
    entries: list[Entry], errors: list[BadInputError], name: str
) -> tuple[tuple[Entry, ...], tuple[BadInputError, ...]]:
    if len(entries) > MOST_ENTRIES:
        raise BadInputError(f"it holds {len(entries):,} entries", name, f"at most {MOST_ENTRIES:,} at once")
    kept: dict[str, Entry] = {}
    for entry in entries:
        key = key_of(entry)
        if key in kept and kept[key] != entry:
            errors.append(
                BadInputError(
                    f"two rows for {entry.model}, {entry.name}, serials {entry.serials}, differ",
                    name,
                    "keep one of them",
                )
            )
            continue
        kept[key] = entry
    return tuple(kept.values()), tuple(errors)


def csv_text(entries: Iterable[Entry]) -> str:
    """Return entries as CSV that :func:`read_csv` reads back equal; no cell is a formula to a spreadsheet."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(FIELDS)
    for entry in entries:
        table = table_of(entry)
        table["attachments"] = " ".join(entry.attachments)
        table["invented"] = "yes" if entry.invented else "no"
        writer.writerow([as_cell(str(table[field])) for field in FIELDS])
    return out.getvalue()


def json_text(entries: Iterable[Entry]) -> str:
    """Return entries as JSON that :func:`read_json` reads back equal."""
    document = {"format": FORMAT, "entries": [table_of(entry) for entry in entries]}
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"
