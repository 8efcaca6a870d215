"""Exit codes, and the one way an error is told: a sentence for people, one JSON shape for programs."""

from __future__ import annotations

from typing import Any

from wringout.errors import BadInputError, ConflictError, FitError, LimitError, NotFoundError, StoreError, WringoutError

DONE, UNEXPECTED, USAGE, BAD_INPUT, LIMIT, STORE, UNDECIDED, NOT_AGAIN, STOPPED = 0, 1, 2, 3, 4, 5, 6, 7, 130

CODES: dict[int, str] = {
    DONE: "done",
    UNEXPECTED: "something unexpected went wrong inside the program",
    USAGE: "the command was not written as it should be",
    BAD_INPUT: "something typed or imported cannot be used as it stands, or waits for an answer",
    LIMIT: "a planned point would break a limit of the airplane",
    STORE: "what was asked for is not there, or the study on disk could not be read or written",
    UNDECIDED: "the data cannot support the estimate that was asked for",
    NOT_AGAIN: "a number of the bundle did not come out again when it was computed again",
    STOPPED: "stopped from the keyboard",
}
"""What each exit code says."""

_KINDS: tuple[tuple[type[WringoutError], int, str], ...] = (
    (BadInputError, BAD_INPUT, "bad input"),
    (LimitError, LIMIT, "limit"),
    (FitError, UNDECIDED, "cannot decide"),
    (NotFoundError, STORE, "not found"),
    (ConflictError, STORE, "conflict"),
    (StoreError, STORE, "store"),
)


def code_of(error: WringoutError) -> int:
    """Return the exit code of an error."""
    return next((code for kind, code, _ in _KINDS if isinstance(error, kind)), UNEXPECTED)


def kind_of(error: WringoutError) -> str:
    """Return the kind of an error, as the JSON shape names it."""
    return next((name for kind, _, name in _KINDS if isinstance(error, kind)), "unexpected")


def error_body(
    kind: str, code: int, sentence: str, what: str = "", where: str = "", advice: str = ""
) -> dict[str, Any]:
    """Return the one JSON shape of an error."""
    return {
        "kind": kind,
        "exit_code": code,
        "sentence": sentence,
        "what": what or sentence,
        "where": where,
        "advice": advice,
    }
