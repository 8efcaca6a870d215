"""The rows under the head of a logger's table: cells as numbers all at once, as text only where somebody needs them.

A plain table is parsed straight from its bytes. Comments, blank lines or lines of another width in the middle take a
slower way that looks at every line; what comes out is the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from wringout.errors import BadInputError
from wringout.recordings.tables.head import TableHead
from wringout.recordings.tables.lines import COMMENT_SIGNS
from wringout.recordings.tables.numbers import numbers_of
from wringout.recordings.types import FloatArray, IntArray, Notice, Severity

_COMMENT_BYTES = tuple(sign.encode() for sign in COMMENT_SIGNS)
_BLANK = b" \t\r\f\v,;"
_ODD_STARTS = np.isin(np.arange(256), list(_BLANK + b"\n#/%"))


@dataclass(slots=True)
class Body:
    """Cells of the wanted columns of n rows, read when they are asked for.

    Attributes:
        rows: 1-based line of each row, shape (n,).
        notices: what was noticed about whole rows.
    """

    rows: IntArray
    notices: tuple[Notice, ...]
    _source: bytes
    _separator: str
    _width: int
    _quote: str | None
    _kept: IntArray | None = None
    _numbers: dict[int, FloatArray] = field(default_factory=dict)
    _texts: dict[int, pl.Series] = field(default_factory=dict)

    def text(self, position: int) -> pl.Series:
        """Return the cells of a column as stripped text, blank ones null, shape (n,)."""
        if position not in self._texts:
            column = _read(self._source, self._separator, self._width, [position], self._quote, pl.String)
            bare = pl.all().str.strip_chars(' \t"')
            cells = column.slice(1).select(pl.when(bare.str.len_bytes() > 0).then(bare).name.keep()).to_series()
            self._texts[position] = cells if self._kept is None else cells[self._kept.tolist()]
        return self._texts[position]

    def plain(self, position: int) -> FloatArray | None:
        """Return a column that is nothing but finite numbers, shape (n,); None for any other."""
        return self._numbers.get(position)

    def numbers(self, position: int, dimension: str = "") -> FloatArray:
        """Return the cells of a column as numbers, shape (n,), NaN for anything else; see `numbers_of`."""
        known = self._numbers.get(position)
        return numbers_of(self.text(position), self._separator, dimension) if known is None else known

    def keep(self, kept: IntArray) -> None:
        """Go on with these rows only, in this order: positions, shape (m,)."""
        if kept.size == self.rows.size and np.array_equal(kept, np.arange(kept.size)):
            return
        self._kept = kept if self._kept is None else self._kept[kept]
        self.rows = self.rows[kept]
        self._numbers = {position: values[kept] for position, values in self._numbers.items()}
        self._texts = {position: cells[kept.tolist()] for position, cells in self._texts.items()}


def read_body(text: str, head: TableHead, width: int, wanted: Sequence[int], file: str) -> Body:
    """Take the rows of a table apart.

    Args:
        text: the whole file.
        head: its head.
        width: how many columns it has.
        wanted: 0-based positions of the columns that will be asked for.
        file: its name, for sentences.

    Raises:
        BadInputError: the rows cannot be taken apart into columns.
    """
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    source = text.encode()
    start = 0
    for _ in range(head.data_row - 1):
        start = source.index(b"\n", start) + 1
    plain = _plain_body(source, start, head, width, wanted)
    return _mended_body(source, head, width, wanted, file) if plain is None else plain


def _full_row(separator: str, width: int) -> bytes:
    """Return a row that fixes the width; it is put in front and taken off again."""
    return separator.join(["0"] * width).encode() + b"\n"


def _plain_body(source: bytes, start: int, head: TableHead, width: int, wanted: Sequence[int]) -> Body | None:
    """Return the body where every line from byte ``start`` on is a full row without quotes, else None."""
    part = source[start:]
    if not part.endswith(b"\n"):
        part += b"\n"
    characters = np.frombuffer(part, dtype=np.uint8)
    ends = np.flatnonzero(characters == 10)
    starts = np.concatenate(([0], ends[:-1] + 1))
    odd = np.any(_ODD_STARTS[characters[starts]])
    whole = part.count(head.separator.encode()) == ends.size * (width - 1)
    if odd or not whole or b'"' in part:
        return None
    rows = np.arange(head.data_row, head.data_row + ends.size, dtype=np.int64)
    body = Body(rows, (), _full_row(head.separator, width) + part, head.separator, width, None)
    try:
        _with_numbers(body, wanted, strict=True)
    except pl.exceptions.PolarsError:
        return None  # some row has a cell too many, so another one lacks one
    return body


def _with_numbers(body: Body, wanted: Sequence[int], *, strict: bool = False) -> None:
    """Parse the columns that are nothing but numbers."""
    table = _read(
        body._source, body._separator, body._width, wanted, body._quote, pl.Float64, ragged=not strict, ignore=True
    )
    if table.height != body.rows.size + 1:
        raise pl.exceptions.ComputeError("a row was lost")
    for position in wanted:
        cells = table[f"c{position}"]
        if cells.null_count() == 0:
            values = cells.to_numpy()[1:]
            if np.isfinite(np.sum(values)) or np.all(np.isfinite(values)):
                body._numbers[position] = values


def _read(
    source: bytes,
    separator: str,
    width: int,
    wanted: Sequence[int],
    quote: str | None,
    kind: type[pl.DataType],
    *,
    ragged: bool = True,
    ignore: bool = False,
) -> pl.DataFrame:
    return pl.read_csv(
        source,
        has_header=False,
        schema={f"c{i}": kind if i in wanted else pl.String for i in range(width)},
        columns=sorted(wanted),
        separator=separator,
        quote_char=quote,
        truncate_ragged_lines=ragged,
        ignore_errors=ignore,
    )


def _mended_body(source: bytes, head: TableHead, width: int, wanted: Sequence[int], file: str) -> Body:
    """Return the body with comments and blank lines left out, and notices on rows of another width."""
    lines = source.split(b"\n")
    kept = [
        i
        for i in range(head.data_row - 1, len(lines))
        if (line := lines[i].strip(_BLANK)) and not line.startswith(_COMMENT_BYTES)
    ]
    separator = head.separator.encode()
    counts = np.array([lines[i].count(separator) for i in kept]) + 1
    quoted = any(b'"' in lines[i] for i in kept)
    notices: list[Notice] = []
    if lines[-1] and kept[-1] == len(lines) - 1 and counts[-1] < min(width, int(np.median(counts))) and len(kept) > 1:
        notices.append(
            Notice(
                Severity.CAUTION,
                f"row {len(lines)}, the last of the file, breaks off in the middle and is not used: "
                f"{lines[-1][-60:].decode(errors='replace')!r}",
                len(lines),
            )
        )
        kept, counts = kept[:-1], counts[:-1]
    notices += [] if quoted else _ragged(counts, kept, width)
    rows = np.array(kept, dtype=np.int64) + 1
    joined = _full_row(head.separator, width) + b"\n".join([*(lines[i] for i in kept), b""])
    return _parsed(Body(rows, tuple(notices), joined, head.separator, width, None), wanted, quoted, file)


def _parsed(body: Body, wanted: Sequence[int], quoted: bool, file: str) -> Body:
    """Return a body whose rows were shown to come apart, with quotes around cells where they come in pairs."""
    for quote in ('"', None) if quoted else (None,):
        try:
            body._quote = quote
            table = _read(body._source, body._separator, body._width, wanted[:1], quote, pl.String)
            if table.height != body.rows.size + 1:
                continue
            if quote is None:
                _with_numbers(body, wanted)
        except pl.exceptions.PolarsError:
            continue
        return body
    raise BadInputError(
        "the rows cannot be taken apart into columns",
        file,
        "write one row a line, with quotes only in pairs around a whole cell",
    )


def _ragged(counts: IntArray, kept: Sequence[int], width: int) -> list[Notice]:
    """Notice rows with more or fewer cells than there are columns (one separator too many at the end is usual)."""
    odd = np.flatnonzero((counts != width) & (counts != width + 1))
    if odd.size == 0:
        return []
    first = int(odd[0])
    count = "1 row has" if odd.size == 1 else f"{odd.size} rows have"
    return [
        Notice(
            Severity.CAUTION,
            f"{count} another number of cells than the {width} columns, the first is row "
            f"{kept[first] + 1} with {counts[first]}; missing cells are blank, extra cells are not used",
            kept[first] + 1,
        )
    ]
