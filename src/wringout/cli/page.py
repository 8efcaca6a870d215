"""What a command prints: sentences, aligned tables, or one JSON document; progress goes to the other stream."""

from __future__ import annotations

import contextlib
import io
import json
import sys
import textwrap
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from rich.console import Console, RenderableType
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from wringout.advice import Way, Wording, worded

WORDING = Wording(
    {
        Way.OWN_MARKS: 'let its own gear and flap columns give the marks: --set "marks=columns"',
        Way.STRETCH: "give the start and the end of the stretch with --from and --to",
        Way.METHOD: "name the method with --method",
        Way.COLUMNS: "say what its columns are (wringout mapping)",
        Way.PASS_ON: "say that it may be passed on: --list shows it, --with-private says so",
        Way.PICTURES: "write pictures instead: --frames",
        Way.RESCUE: "run 'wringout rescue' to save what can still be read of it",
    },
    'add the line "# {key}: {value}"',
)
"""How the prompt words what a refusal asks for. A set-up word stays a line: not every command takes ``--set``."""

UNBOUNDED = 100_000
"""Width used when the output is not a terminal: nothing is wrapped, so that lines can be searched."""

Cell = str | None


def clean(text: str) -> str:
    """Return text without control characters, which could move a terminal's cursor or hide what was typed."""
    return "".join(c if c in "\n\t" or unicodedata.category(c) not in {"Cc", "Cf"} else " " for c in text)


def _print(drawn: RenderableType, error: bool = False) -> None:
    """Print on a terminal as wide as it is; elsewhere unwrapped, without colours and blanks at line ends."""
    stream = sys.stderr if error else sys.stdout
    if stream.isatty():
        Console(file=stream, highlight=False, markup=False, emoji=False).print(drawn)
        return
    text = io.StringIO()
    Console(file=text, width=UNBOUNDED, highlight=False, markup=False, emoji=False, color_system=None).print(drawn)
    stream.write("".join(f"{line.rstrip()}\n" for line in text.getvalue().splitlines()))


def say(*sentences: str) -> None:
    """Print sentences, a line each; a terminal wraps them at its width."""
    for sentence in sentences:
        _print(Text(clean(worded(sentence, WORDING))))


def complain(sentence: str) -> None:
    """Print a sentence on the error stream."""
    _print(Text(clean(worded(sentence, WORDING))), error=True)


def heading(text: str) -> None:
    """Print a heading with a blank line before it."""
    _print(Text(f"\n{clean(text)}", style="bold"))


def items(lines: Sequence[str], sign: str = "-") -> None:
    """Print a list."""
    table = Table.grid(padding=(0, 1, 0, 0))
    table.add_column(width=len(sign))
    table.add_column(overflow="fold")
    for line in lines:
        table.add_row(sign, Text(clean(worded(line, WORDING))))
    if lines:
        _print(table)


def table(columns: Sequence[str], rows: Sequence[Sequence[Cell]]) -> None:
    """Print an aligned table. A column whose title starts with ``>`` is flush right and never folded."""
    drawn = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim", show_header=any(columns))
    for index, title in enumerate(columns):
        if not title.startswith(">"):
            drawn.add_column(title, overflow="fold")
            continue
        name = title.removeprefix(">")
        cells = max((len(row[index] or "") for row in rows), default=0)
        width = max(cells, *(len(part) for part in (name.split(" ") if sys.stdout.isatty() else [name])))
        drawn.add_column("\n".join(textwrap.wrap(name, width)), justify="right", no_wrap=True, min_width=width)
    for row in rows:
        drawn.add_row(*(Text(clean(cell or "")) for cell in row))
    _print(drawn)


def raw(text: str) -> None:
    """Print text exactly as it is."""
    sys.stdout.write(text if text.endswith("\n") else f"{text}\n")


def document(kind: str, study: str | None, body: dict[str, Any]) -> None:
    """Print one JSON document: its kind, the version of its shape, the study, then the body."""
    raw(json.dumps({"kind": kind, "version": 1, "study": study, **body}, ensure_ascii=False, indent=2))


Report = Callable[[float, str], None]


def _silent(share: float, words: str) -> None:
    """Say nothing."""
    del share, words


@contextlib.contextmanager
def progress(title: str) -> Iterator[Report]:
    """Show a bar on the error stream while work is done; nothing when that is not a terminal."""
    if not sys.stderr.isatty():
        yield _silent
        return
    columns = (TextColumn("{task.description}"), BarColumn(bar_width=24), TimeElapsedColumn())
    with Progress(
        *columns, console=Console(file=sys.stderr, highlight=False, markup=False, emoji=False), transient=True
    ) as bar:
        task = bar.add_task(title, total=1.0)

        def report(share: float, words: str) -> None:
            bar.update(task, completed=share, description=clean(f"{title}: {words}"))

        yield report
