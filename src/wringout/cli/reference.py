"""The reference of the command line, generated from its help; ``python -m wringout.cli.reference`` prints it."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import click

from wringout.cli.codes import CODES
from wringout.cli.main import COMMANDS, PROGRAM, cli
from wringout.cli.options import DATABASE_VARIABLE, STUDY_VARIABLE, UNITS_VARIABLE

WIDTH = 100

OPENING = f"""\
# Commands

This page is generated from the program's own help (`python -m wringout.cli.reference`); a test holds the two together.
What `--json` prints is described in [json.md](json.md), recordings in [recordings.md](recordings.md), airplane files in
[airplane.md](airplane.md), the plan of a matchup in [plan.md](plan.md).

Every command that shows something takes `--json`. Progress is told on the error stream, a bar only on a terminal. The
options `--database`, `--study` and `--units` may also be set once, as `{DATABASE_VARIABLE}`, `{STUDY_VARIABLE}` and
`{UNITS_VARIABLE}`.

## Exit codes

| code | says |
| --- | --- |
"""


def every_command(
    group: click.Group, path: tuple[str, ...], above: click.Context
) -> Iterator[tuple[str, click.Context]]:
    """Yield the words and the context of each command below a group, groups before what is in them."""
    for name in group.list_commands(above):
        command = group.get_command(above, name)
        if command is None:
            continue
        words = (*path, name)
        context = click.Context(command, info_name=name, parent=above, terminal_width=WIDTH, max_content_width=WIDTH)
        yield " ".join(words), context
        if isinstance(command, click.Group):
            yield from every_command(command, words, context)


def root_context() -> click.Context:
    """Return the context of the program itself."""
    names = list(cli.context_settings["help_option_names"])
    return click.Context(cli, info_name=PROGRAM, terminal_width=WIDTH, max_content_width=WIDTH, help_option_names=names)


def reference_text() -> str:
    """Return the whole page."""
    root = root_context()
    parts = [OPENING, *(f"| {code} | {words} |\n" for code, words in CODES.items())]
    parts.append(f"\n## {PROGRAM}\n\n```text\n{_help(root)}\n```\n")
    sections = {name: title for title, names in COMMANDS.items() for name in names}
    shown = ""
    for words, context in every_command(cli, (), root):
        title = sections[words.split(" ")[0]]
        if title != shown:
            parts.append(f"\n## {title}\n")
            shown = title
        parts.append(f"\n### {PROGRAM} {words}\n\n```text\n{_help(context)}\n```\n")
    return "".join(parts)


def _help(context: click.Context) -> str:
    return "\n".join(line.rstrip() for line in context.command.get_help(context).splitlines())


if __name__ == "__main__":
    sys.stdout.write(reference_text())
