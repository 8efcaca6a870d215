"""Errors that say in one clear sentence what is wrong, where, and what would be right.

The tree::

    WringoutError                 everything this project raises on purpose
    ├── BadInputError             something typed or imported cannot be used as it stands
    ├── LimitError                a planned point or setting would break a limit of the airplane
    ├── FitError                  the data cannot support the estimate that was asked for
    └── StoreError                the study on disk could not be read or written
        ├── NotFoundError         nothing is stored under the name or key that was given
        └── ConflictError         what is stored was changed by somebody else meanwhile

Each error keeps its parts as attributes, so that a page or a command can show them separately, with signs that would
steer the printing written out (an error may quote a file that an enemy made), and
``str(error)`` is always one sentence that ends with a full stop. Errors survive pickling, so they can cross a
process boundary.
"""

from __future__ import annotations

from wringout.plain_text import visible

LONGEST_PART = 1500
"""Characters of each part of an error: what is quoted may be a name of a megabyte."""


def _quoted(part: str) -> str:
    """Return a part of an error fit to print: short enough, and with nothing in it that steers the printing."""
    text = visible(part)
    return text if len(text) <= LONGEST_PART else f"{text[: LONGEST_PART - 40]}... ({len(part):,} characters)"


def _sentence(where: str, what: str, advice: str) -> str:
    """Join the parts of an error into one sentence: ``where: what; advice.``."""
    body = "; ".join(part.strip().rstrip(".;") for part in (what, advice) if part.strip())
    if where.strip():
        return f"{where.strip().rstrip(':')}: {body}."
    return f"{body[:1].upper()}{body[1:]}."


class WringoutError(Exception):
    """Base of every error this project raises on purpose.

    Args:
        what: what is wrong, in words.
        where: file, row and field (or page and field) it was found in; empty when the caller adds it later.
        advice: what would be right, or what to do next.
    """

    def __init__(self, what: str, where: str = "", advice: str = "") -> None:
        what, where, advice = _quoted(what), _quoted(where), _quoted(advice)
        super().__init__(what, where, advice)
        self.what = what
        self.where = where
        self.advice = advice

    def __str__(self) -> str:
        """Return the error as one sentence."""
        return _sentence(self.where, self.what, self.advice)


class BadInputError(WringoutError):
    """Something typed or imported cannot be used as it stands.

    >>> print(BadInputError("'abc' is not a number", "readings.csv, row 12, speed", "write knots as digits"))
    readings.csv, row 12, speed: 'abc' is not a number; write knots as digits.

    Args:
        what: what is wrong, quoting the offending value.
        where: file, row and field.
        expected: what would be right, with an example where one helps.
    """

    def __init__(self, what: str, where: str = "", expected: str = "") -> None:
        super().__init__(what, where, expected)

    @property
    def expected(self) -> str:
        """What would be right."""
        return self.advice

    def at(self, where: str) -> BadInputError:
        """Return the same error with the place it was found put in front of the place it already names."""
        places = ", ".join(place for place in (where, self.where) if place)
        return BadInputError(self.what, places, self.expected)


class LimitError(WringoutError):
    """A planned point or setting would break a limit from the airplane's approved manual.

    Args:
        what: what was asked for, with its number and unit.
        where: the planned point, card or field.
        limit: the limit that stands against it, with its number, unit and source.
    """

    def __init__(self, what: str, where: str = "", limit: str = "") -> None:
        super().__init__(what, where, limit)

    @property
    def limit(self) -> str:
        """The limit that stands against what was asked for."""
        return self.advice


class FitError(WringoutError):
    """The data cannot support the estimate that was asked for."""


class StoreError(WringoutError):
    """The study on disk could not be read or written."""


class NotFoundError(StoreError):
    """Nothing is stored under the name or key that was given."""


class ConflictError(StoreError):
    """What is stored was changed meanwhile, so that keeping this edit would lose that one; nothing was changed."""
