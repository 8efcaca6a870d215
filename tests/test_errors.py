"""The errors speak one sentence, keep their parts and cross process boundaries."""

import doctest
import pickle
from types import ModuleType

import pytest

from wringout import errors, plain_text, rounding
from wringout.errors import BadInputError, FitError, LimitError, NotFoundError, StoreError, WringoutError


def test_bad_input_reads_as_one_sentence_with_place_fault_and_cure() -> None:
    error = BadInputError(
        "'abc' is not a number", "readings.csv, row 12, speed", "write knots as digits, for example 118"
    )
    assert str(error) == ("readings.csv, row 12, speed: 'abc' is not a number; write knots as digits, for example 118.")
    assert error.what == "'abc' is not a number"
    assert error.where == "readings.csv, row 12, speed"
    assert error.expected == "write knots as digits, for example 118"


def test_a_sentence_without_a_place_starts_with_a_capital_and_has_one_full_stop() -> None:
    assert str(BadInputError("the file is empty.", "", "choose another file.")) == (
        "The file is empty; choose another file."
    )
    assert str(BadInputError("the file is empty")) == "The file is empty."
    assert str(BadInputError("the file is empty", "log.csv:")) == "log.csv: the file is empty."


def test_at_puts_the_outer_place_first() -> None:
    error = BadInputError("'abc' is not a number", "row 12, speed", "write digits").at("readings.csv")
    assert error.where == "readings.csv, row 12, speed"
    assert str(error) == "readings.csv, row 12, speed: 'abc' is not a number; write digits."


def test_limit_error_names_the_limit() -> None:
    error = LimitError("140 kt with the gear down", "point 3", "VLE is 122 kt, manual section 2")
    assert error.limit == "VLE is 122 kt, manual section 2"
    assert str(error) == "point 3: 140 kt with the gear down; VLE is 122 kt, manual section 2."


@pytest.mark.parametrize("kind", [BadInputError, LimitError, FitError, StoreError, NotFoundError])
def test_every_error_is_ours_and_survives_pickling(kind: type[WringoutError]) -> None:
    error = kind("what", "where", "advice")
    assert isinstance(error, WringoutError)
    again = pickle.loads(pickle.dumps(error))  # noqa: S301 - our own bytes
    assert type(again) is kind
    assert str(again) == str(error) == "where: what; advice."


def test_not_found_is_a_store_error() -> None:
    assert issubclass(NotFoundError, StoreError)


@pytest.mark.parametrize("module", [errors, plain_text, rounding])
def test_the_examples_in_the_docstrings_hold(module: ModuleType) -> None:
    results = doctest.testmod(module)
    assert results.attempted > 0
    assert results.failed == 0


def test_what_an_error_quotes_steers_no_printing() -> None:
    error = BadInputError("'a\x1b[31m\nb' is no name", "x\u202evsc.exe", "write\u2028words")
    assert str(error) == "x[U+202E]vsc.exe: 'a[U+001B][31m b' is no name; write words."
    assert "\x1b" not in error.what


def test_what_an_error_quotes_may_be_long_and_is_cut() -> None:
    error = BadInputError(f"there is no field {'x' * 10**6!r}", "a.toml")
    assert len(str(error)) < 2000
    assert str(error).endswith("... (1,000,020 characters).")
    assert str(pickle.loads(pickle.dumps(error))) == str(error)  # noqa: S301 - our own bytes
