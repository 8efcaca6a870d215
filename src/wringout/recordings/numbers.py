"""Columns of text cells as numbers, all at once."""

from __future__ import annotations

import numpy as np
import polars as pl

from wringout.recordings.cells import BLANKS
from wringout.recordings.types import FloatArray, IntArray


def numbers_of(text: pl.Series) -> FloatArray:
    """Return the cells of a column as numbers, shape (n,), NaN for anything else; a comma may mark decimals."""
    column = text.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    values = column.fill_null(np.nan).to_numpy().astype(np.float64)
    values[~np.isfinite(values)] = np.nan
    return values


def unreadable(text: pl.Series, values: FloatArray) -> IntArray:
    """Return the positions of cells that hold something, though neither a number nor a usual word for a blank."""
    candidates = text.is_not_null().to_numpy() & ~np.isfinite(values)
    positions = np.flatnonzero(candidates)
    words = (str(text[int(i)]).casefold() for i in positions)
    kept = [i for i, word in zip(positions.tolist(), words, strict=True) if word not in BLANKS]
    return np.array(kept, dtype=np.int64)
