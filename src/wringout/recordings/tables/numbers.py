"""Columns of text cells as numbers, all at once."""

from __future__ import annotations

import numpy as np
import polars as pl

from wringout.recordings.tables.cells import BLANKS, LARGE
from wringout.recordings.types import FloatArray, IntArray

_THOUSANDS = r"^[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d+)?$"


def numbers_of(text: pl.Series, separator: str, dimension: str = "") -> FloatArray:
    """Return the cells of a column as numbers, shape (n,), NaN for anything else.

    A comma marks decimals. It marks thousands where every comma in the column could, and one thing more says so: the
    file is separated by commas, other cells have no comma, a point marks decimals, or the quantity runs to thousands
    (feet, pounds, revolutions).
    """
    commas = text.str.contains(",", literal=True).fill_null(False)
    if bool(commas.any()):
        with_comma = text.filter(commas)
        grouped = bool(with_comma.str.contains(_THOUSANDS).all())
        plain = bool(text.filter(~commas).cast(pl.Float64, strict=False).is_not_null().any())
        pointed = bool(with_comma.str.contains(".", literal=True).any())
        thousands = grouped and (separator == "," or plain or pointed or dimension in LARGE)
        text = text.str.replace_all(",", "" if thousands else ".", literal=True)
    values = text.cast(pl.Float64, strict=False).fill_null(np.nan).to_numpy().astype(np.float64)
    values[~np.isfinite(values)] = np.nan
    return values


def unreadable(text: pl.Series, values: FloatArray) -> IntArray:
    """Return the positions of cells that hold something, though neither a number nor a usual word for a blank."""
    candidates = text.is_not_null().to_numpy() & ~np.isfinite(values)
    positions = np.flatnonzero(candidates)
    words = (str(text[int(i)]).casefold() for i in positions)
    kept = [i for i, word in zip(positions.tolist(), words, strict=True) if word not in BLANKS]
    return np.array(kept, dtype=np.int64)
