"""The options every command shares, and the place they end up in."""

from __future__ import annotations

import functools
import os
import shlex
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wringout.errors import BadInputError

if TYPE_CHECKING:
    from wringout.store import Store

DATABASE_VARIABLE, STUDY_VARIABLE, UNITS_VARIABLE = "WRINGOUT_DATABASE", "WRINGOUT_STUDY", "WRINGOUT_UNITS"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the shared options ask for.

    Attributes:
        database: the database file; None for the one in the user's data folder.
        study: the study's short name; None for the only one.
        as_json: print one JSON document in place of sentences and tables.
        metric: print km/h, metres, kilograms and square metres.
    """

    database: Path | None
    study: str | None
    as_json: bool
    metric: bool

    def open(self, create: bool = True) -> Store:
        """Open the database of studies.

        Raises:
            WringoutError: it cannot be opened.
        """
        from wringout.services.opening import open_studies

        return open_studies(self.database, now, create)

    def next_step(self, command: str) -> str:
        """Return the line that names the next command, with the database where it must be named again."""
        named = self.database is not None and os.environ.get(DATABASE_VARIABLE) != str(self.database)
        return f"Next: {command} --database {shlex.quote(str(self.database))}" if named else f"Next: {command}"


def now() -> datetime:
    """Return the present moment; the one clock of the program."""
    return datetime.now(UTC)


_DATABASE = click.Option(
    ["--database"],
    type=click.Path(path_type=Path),
    envvar=DATABASE_VARIABLE,
    show_envvar=True,
    metavar="PATH",
    help="The database file; the recordings lie in a folder beside it. Default: one in your data folder.",
)
_STUDY = click.Option(
    ["--study"],
    envvar=STUDY_VARIABLE,
    show_envvar=True,
    metavar="NAME",
    help="The study's short name. Default: the only study there is.",
)
_UNITS = click.Option(
    ["--units"],
    type=click.Choice(["aviation", "metric"]),
    envvar=UNITS_VARIABLE,
    show_envvar=True,
    default="aviation",
    show_default=True,
    help="Knots, feet, pounds; or km/h, metres, kilograms. JSON always holds the former, each with its unit.",
)
_JSON = click.Option(["--json", "as_json"], is_flag=True, help="Print one JSON document (docs/json.md).")
_DEBUG = click.Option(["--debug"], is_flag=True, help="If something unexpected goes wrong, show where.")

Body = Callable[..., None]


def shared(study: bool = True, units: bool = False, database: bool = True) -> Callable[[Body], Body]:
    """Give a command the shared options; its function gets a :class:`Wanted` first.

    Args:
        study: whether the command works on one study.
        units: whether it prints quantities.
        database: whether it opens the database.
    """

    def decorate(body: Body) -> Body:
        @functools.wraps(body)
        def command(**given: Any) -> None:
            given.pop("debug")
            above = click.get_current_context().find_root().params
            wanted = Wanted(
                database=given.pop("database", None) or above.get("database"),
                study=given.pop("study", None) or above.get("study"),
                as_json=given.pop("as_json"),
                metric=given.pop("units", "aviation") == "metric",
            )
            body(wanted, **given)

        chosen = [
            *([_DATABASE] if database else []),
            *([_STUDY] if study else []),
            *([_UNITS] if units else []),
            _JSON,
            _DEBUG,
        ]
        known: list[click.Parameter] = list(getattr(command, "__click_params__", []))
        command.__click_params__ = [*reversed(chosen), *known]  # type: ignore[attr-defined]
        return command

    return decorate


def words_of(pairs: tuple[str, ...], option: str) -> dict[str, str]:
    """Return ``KEY=VALUE`` pairs as a table.

    Raises:
        BadInputError: a pair has no key or no value.
    """
    found: dict[str, str] = {}
    for pair in pairs:
        key, sign, value = pair.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise BadInputError(f"{pair!r} is no pair", option, 'write KEY=VALUE, such as "weight=2,900 lb"')
        found[key.strip().lower()] = value.strip()
    return found


def answers_of(answers: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Return answers to a reader's questions, ``COLUMN=UNIT`` each, as columns and what is said of them.

    Raises:
        BadInputError: an answer has no column or says nothing.
    """
    found = []
    for answer in answers:
        column, _, said = answer.rpartition("=")
        if not column.strip() or not said.strip():
            raise BadInputError(f"{answer!r} is no answer", "answer", 'write COLUMN=UNIT, such as "IAS=kt"')
        found.append((column, said))
    return tuple(found)
