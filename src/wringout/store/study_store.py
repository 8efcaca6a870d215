"""The open store: transactions over the database, and the vault beside it.

Edits are made inside ``with store.writing() as work:``; everything done with one ``work`` is kept together or not at
all, and is on the disk when the block has ended. Reading goes through ``with store.reading() as view:``. The functions
that take them stand in :mod:`~wringout.store.studies`, :mod:`~wringout.store.flights` and
:mod:`~wringout.store.results`.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from typing import TypeVar

from sqlalchemy import Connection, Engine, Transaction, insert

from wringout.errors import WringoutError
from wringout.store import schema
from wringout.store.database import BUSY_TIMEOUT_MS, WRITES, busy, explained, open_engine
from wringout.store.documents import Clock, Document, json_text, utc_text
from wringout.store.place import Place
from wringout.store.turns import Errand, Errands, Turns
from wringout.store.vault import DISK, DiskSteps, sweep

Kept = TypeVar("Kept")
LEFTOVERS_AFTER = timedelta(days=1)
"""An arrival that has not ended after this long was interrupted."""


@dataclass(frozen=True, slots=True)
class View:
    """A consistent sight of the store inside one transaction."""

    connection: Connection
    place: Place


@dataclass(frozen=True, slots=True)
class Work(View):
    """One transaction that edits. ``now`` is the UTC time stamp of everything done in it."""

    now: str


@dataclass(frozen=True, slots=True)
class Store:
    """An open store. Close it, or use it as a context manager; threads may share it."""

    place: Place
    engine: Engine
    clock: Clock
    disk: DiskSteps = DISK
    turns: Turns = field(default_factory=Turns, repr=False)
    errands: Errands = field(default_factory=Errands, repr=False)

    @contextlib.contextmanager
    def reading(self) -> Iterator[View]:
        """Give a sight of the store that does not change while it is looked at.

        Raises:
            StoreError: the database is damaged or cannot be read.
        """
        with explained(self.place), self.engine.connect() as connection:
            yield View(connection, self.place)

    @contextlib.contextmanager
    def writing(self) -> Iterator[Work]:
        """Give a transaction that is kept whole when the block ends, and forgotten whole when it raises.

        Raises:
            StoreError: the database is damaged, full, or another program holds it for more than ten seconds.
        """
        with self._transaction() as (connection, _):
            yield Work(connection, self.place, utc_text(self.clock()))

    def written(self, job: Callable[[Work], Kept]) -> Kept:
        """Do one small edit, in the same transaction as those that other threads ask for at the same moment.

        It returns once the edit is on the disk. An edit that raises is undone alone, the others are kept.

        Args:
            job: the edit; it may be called in another thread.

        Returns:
            What the edit returned.

        Raises:
            StoreError: as :meth:`writing`; and whatever the edit raises.
        """
        errand = self.errands.add(job)
        with self.turns.turn(BUSY_TIMEOUT_MS / 1000) as mine:
            if mine and not errand.done:
                self._run(self.errands.take())
        if not errand.done:
            self.errands.withdraw(errand)
            raise busy(self.place)
        found: Kept = errand.outcome()
        return found

    def _run(self, errands: list[Errand]) -> None:
        """Do edits in one transaction, each undone alone where it raises."""
        try:
            with self._connected() as (connection, _):
                work = Work(connection, self.place, utc_text(self.clock()))
                for errand in errands:
                    try:
                        with connection.begin_nested():
                            errand.result = errand.job(work)
                    except WringoutError as error:
                        errand.error = error
        except Exception as error:
            for errand in errands:
                errand.error = error
            raise
        finally:
            for errand in errands:
                errand.done = True

    @contextlib.contextmanager
    def rehearsing(self) -> Iterator[Work]:
        """Give a transaction that is always forgotten, to find out whether something could be stored.

        Raises:
            StoreError: as :meth:`writing`.
        """
        with self._transaction() as (connection, transaction):
            yield Work(connection, self.place, utc_text(self.clock()))
            transaction.rollback()

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[tuple[Connection, Transaction]]:
        with self.turns.turn(BUSY_TIMEOUT_MS / 1000) as mine:
            if not mine:
                raise busy(self.place)
            with self._connected() as found:
                yield found

    @contextlib.contextmanager
    def _connected(self) -> Iterator[tuple[Connection, Transaction]]:
        with (
            explained(self.place),
            self.engine.connect().execution_options(**WRITES) as connection,
            connection.begin() as transaction,
        ):
            yield connection, transaction

    def close(self) -> None:
        """Let go of the database file."""
        self.engine.dispose()

    def __enter__(self) -> Store:
        """Return the store itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let go of the database file."""
        self.close()


def open_store(place: Place, clock: Clock, create: bool = True, disk: DiskSteps = DISK) -> Store:
    """Open the store at a place, with the newest schema.

    Args:
        place: where it is, from :func:`wringout.store.place.place_at`.
        clock: returns the present moment with its time zone.
        create: False refuses to make a new database.
        disk: the steps that write recordings, replaceable in tests.

    Raises:
        NotFoundError: there is no database and ``create`` is False.
        StoreError: the database is damaged, newer than this version, not ours, or cannot be written.
    """
    store = Store(place, open_engine(place, create), clock, disk)
    sweep(place.recordings, clock() - LEFTOVERS_AFTER)
    return store


def note_edit(work: Work, study_id: int, what: str, before: Document | None, after: Document | None) -> None:
    """Append one edit to a study's history."""
    work.connection.execute(
        insert(schema.history).values(
            study_id=study_id,
            at=work.now,
            what=what,
            before=None if before is None else json_text(before, "history"),
            after=None if after is None else json_text(after, "history"),
        )
    )
