"""Commands that keep studies from being lost: ``backup``, ``restore``, ``rescue``, ``undo``, ``redo``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wringout.cli import page
from wringout.cli.figures import counted
from wringout.cli.files import open_file
from wringout.cli.options import Wanted, now, shared

if TYPE_CHECKING:
    from wringout.services.undo import Edit


@click.command("backup")
@shared(study=False)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Replace the file if it exists.")
def backup_command(wanted: Wanted, file: Path, replace: bool) -> None:
    """Write every study and every recording to one file.

    Others may go on working meanwhile; what they add later is not in it.

    \b
    Example:
      wringout backup everything.zip
    """
    from wringout.services.backups import back_up

    with wanted.open(create=False) as store:
        done = back_up(store, file, replace)
    if wanted.as_json:
        page.document("backup", None, {"file": str(file), "recordings": done.recordings, "notices": list(done.notices)})
        return
    page.say(f"All studies, with {counted(done.recordings, 'recording')}, are written to {file}.", *done.notices)


@click.command("restore")
@shared(study=False)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Take the place of the database; a copy of it is kept beside it.")
def restore_command(wanted: Wanted, file: Path, replace: bool) -> None:
    """Take back everything from a file that 'wringout backup' wrote.

    Recordings are added to those there are; none is removed.

    \b
    Examples:
      wringout restore everything.zip
      wringout restore everything.zip --replace
    """
    from wringout.services.backups import restore

    with open_file(file) as stream:
        done = restore(wanted.database, stream, file.name, replace)
    if wanted.as_json:
        page.document("restore", None, {"recordings": done.recordings, "notices": list(done.notices)})
        return
    page.say(f"All studies of {file}, with {counted(done.recordings, 'recording')}, are here again.", *done.notices)
    page.say(wanted.next_step("wringout studies"))


@click.command("rescue")
@shared(study=False)
def rescue_command(wanted: Wanted) -> None:
    """Make a new database from a damaged one.

    Every recording is saved, and everything else that can still be read. The damaged file is kept under another name.

    \b
    Example:
      wringout rescue
    """
    from wringout.services.backups import rescue

    done = rescue(wanted.database, now)
    if wanted.as_json:
        body = {
            "aside": str(done.aside),
            "rows": done.rows,
            "recordings": done.recordings,
            "loose": done.loose,
            "loose_study": done.study_slug or None,
            "damaged": list(done.damaged),
        }
        page.document("rescue", None, body)
        return
    saved = counted(done.recordings, "recording is", "recordings are")
    page.say(f"{saved} saved; the damaged database is kept as {done.aside}.")
    if done.loose:
        page.say(f"{done.loose} of them belonged to no study any more and are in '{done.study_slug}'.")
    if done.damaged:
        damaged = counted(len(done.damaged), "recording is", "recordings are")
        page.say(f"{damaged} damaged as well; take in the original files again.")
    page.table(("table", ">rows saved"), [(name.replace("_", " "), str(count)) for name, count in done.rows.items()])
    page.say(wanted.next_step("wringout studies"))


def _turned(wanted: Wanted, edit: Edit) -> None:
    """Say what was undone or redone."""
    word, other = ("undone", "redo") if edit.undone else ("redone", "undo")
    if wanted.as_json:
        page.document("edit", None, {"number": edit.number, "what": edit.what, "of": edit.subject, "state": word})
        return
    page.say(f"Edit {edit.number} is {word}: {edit.what}{f' ({edit.subject})' if edit.subject else ''}.")
    page.say(wanted.next_step(f"wringout {other} {edit.number}"))


@click.command("undo")
@shared()
@click.argument("number", type=int, required=False)
def undo_command(wanted: Wanted, number: int | None) -> None:
    """Undo an edit, by default the last one.

    What it replaced is put back as a new edit; nothing is taken out of the history, and no recording is removed.

    \b
    Examples:
      wringout undo
      wringout undo 12
    """
    from wringout.services.undo import undo

    with wanted.open(create=False) as store:
        edit = undo(store, wanted.study, number)
    _turned(wanted, edit)


@click.command("redo")
@shared()
@click.argument("number", type=int, required=False)
def redo_command(wanted: Wanted, number: int | None) -> None:
    """Redo an edit that was undone, by default the one undone last.

    \b
    Examples:
      wringout redo
      wringout redo 12
    """
    from wringout.services.undo import redo

    with wanted.open(create=False) as store:
        edit = redo(store, wanted.study, number)
    _turned(wanted, edit)
