"""Taps of capture devices, each kept exactly once however often a device sends it.

A tap is named by its flight, its device and the device's own count, so sending again after a lost answer changes
nothing. Taps are never edited and do not stand in the history; what is made of them does.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Row, bindparam, func, insert, select
from sqlalchemy.dialects.sqlite import insert as insert_or_ignore

from wringout.errors import BadInputError, ConflictError
from wringout.store import schema
from wringout.store.documents import MAX_INTEGER, check_key, json_document, json_text
from wringout.store.records import KeptTap, Tap
from wringout.store.studies import study_numbered
from wringout.store.study_store import View, Work

BATCH = 5_000
"""Rows inserted at once."""

# Taps come hundreds a second, so their statements are put together once.
_OF_DEVICE = [schema.tap.c[name] == bindparam(name) for name in ("study_id", "flight", "device")]
_KEEP = insert_or_ignore(schema.tap).on_conflict_do_nothing()
_BODY = select(schema.tap.c.body).where(*_OF_DEVICE, schema.tap.c.sequence == bindparam("sequence"))
_COUNTED = select(func.count(), func.max(schema.tap.c.sequence)).where(*_OF_DEVICE, schema.tap.c.sequence > 0)
_SEQUENCES = select(schema.tap.c.sequence).where(*_OF_DEVICE, schema.tap.c.sequence > 0).order_by("sequence")


def _texts(flight: str, device: str, taps: Sequence[Tap]) -> dict[int, str]:
    """Check taps and return their bodies by sequence, as the database keeps them."""
    check_key(flight, "flight")
    check_key(device, "device")
    texts: dict[int, str] = {}
    for tap in taps:
        where = f"tap {tap.sequence} of {device}"
        if isinstance(tap.sequence, bool) or not 0 <= tap.sequence <= MAX_INTEGER:
            raise BadInputError(f"{tap.sequence} cannot number a tap", where, "a whole number from 0 on")
        text = json_text(tap.body, where)
        if texts.setdefault(tap.sequence, text) != text:
            raise _conflict(tap.sequence, device, flight)
    return texts


def _conflict(sequence: int, device: str, flight: str) -> ConflictError:
    return ConflictError(
        f"tap {sequence} of the device '{device}' in the flight '{flight}' says something else than before",
        advice="give the device a name of its own, or correct it by a new tap; the first one was kept",
    )


def add_taps(work: Work, study_id: int, flight: str, device: str, taps: Sequence[Tap]) -> int:
    """Keep taps of one device in one flight, each once, and return how many were not known before.

    Args:
        work: the transaction.
        study_id: the study they belong to.
        flight: a short slug.
        device: a short slug.
        taps: in any order; one that is there already and equal is passed over.

    Raises:
        BadInputError: a slug, a number or a body cannot be kept; nothing is then kept.
        ConflictError: a tap of that number says something else; nothing is then kept.
        NotFoundError: there is no such study.
    """
    study_numbered(work, study_id)
    texts = _texts(flight, device, taps)
    of_device = {"study_id": study_id, "flight": flight, "device": device}
    new = 0
    for sequence, text in texts.items():
        kept = work.connection.execute(_KEEP, of_device | {"sequence": sequence, "body": text, "at": work.now})
        if kept.rowcount == 1:
            new += 1
        elif work.connection.scalar(_BODY, of_device | {"sequence": sequence}) != text:
            raise _conflict(sequence, device, flight)
    return new


def _kept(row: Row[Any]) -> KeptTap:
    body = json_document(row.body, "database")
    return KeptTap(row.study_id, row.flight, row.device, row.sequence, body, row.at)


def list_taps(view: View, study_id: int, flight: str) -> tuple[KeptTap, ...]:
    """Return a flight's taps by device and sequence."""
    columns = schema.tap.c
    query = select(schema.tap).where(columns.study_id == study_id, columns.flight == flight)
    return tuple(_kept(row) for row in view.connection.execute(query.order_by(columns.device, columns.sequence)))


def tap_head(view: View, study_id: int, flight: str, device: str) -> int:
    """Return the last place up to which every tap of a device is kept, from 1 on; 0 where the first is missing."""
    of_device = {"study_id": study_id, "flight": flight, "device": device}
    count, last = view.connection.execute(_COUNTED, of_device).one()
    if count == (last or 0):
        return int(count)
    head = 0
    for sequence in view.connection.scalars(_SEQUENCES, of_device):
        if sequence != head + 1:
            break
        head = sequence
    return head


def list_tap_flights(view: View, study_id: int) -> tuple[str, ...]:
    """Return the flights of a study that have taps, sorted."""
    columns = schema.tap.c
    query = select(columns.flight).where(columns.study_id == study_id).distinct().order_by(columns.flight)
    return tuple(view.connection.scalars(query))


def restore_taps(work: Work, study_id: int, taps: Iterable[KeptTap]) -> None:
    """Insert taps that came to another store, with their own times; for bundles.

    Raises:
        BadInputError: a tap cannot be kept, or one stands twice.
    """
    known: set[tuple[str, str, int]] = set()
    rows: list[dict[str, Any]] = []
    for tap in taps:
        text = _texts(tap.flight, tap.device, [Tap(tap.sequence, tap.body)])[tap.sequence]
        name = (tap.flight, tap.device, tap.sequence)
        if name in known:
            raise BadInputError(
                f"tap {tap.sequence} of '{tap.device}' stands in it twice", "taps.jsonl", "export it again"
            )
        known.add(name)
        fields = {"flight": tap.flight, "device": tap.device, "sequence": tap.sequence, "at": tap.at}
        rows.append({"study_id": study_id, "body": text, **fields})
        if len(rows) == BATCH:
            work.connection.execute(insert(schema.tap), rows)
            rows = []
    if rows:
        work.connection.execute(insert(schema.tap), rows)
