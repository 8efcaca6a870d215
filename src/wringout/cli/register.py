"""Commands about the register of printed procedures: ``register list``, ``import``, ``holds``, ``check`` ..."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wringout.cli import codes, page
from wringout.cli.files import open_file, read_whole
from wringout.cli.options import Wanted, shared
from wringout.cli.printed_orders import (
    FAMILY,
    ON,
    agree_command,
    airplane_command,
    holds_sentence,
    read_command,
    the_day,
)

SHOWN_ERRORS = 20


@click.group("register")
def register_command() -> None:
    """Keep what handbooks print for a go-around, ask what holds for an airplane, and fly the printed orders."""


@register_command.command("list")
@shared(study=False)
@click.option("--model", default="", help="Only this model.")
@FAMILY
def list_command(wanted: Wanted, model: str, family: str) -> None:
    """List the entries of the register.

    \b
    Examples:
      wringout register list
      wringout register list --model "Quillback 230"
    """
    from wringout.services.register.documents import registered_document
    from wringout.services.register.entries import list_register, order_of

    with wanted.open(create=False) as store:
        found = list_register(store, model, family)
    if wanted.as_json:
        page.document("register", None, {"entries": [registered_document(item) for item in found]})
        return
    page.say(f"{len(found)} {'entry' if len(found) == 1 else 'entries'}.")
    rows = [
        (
            item.key[:8],
            item.entry.model,
            str(item.entry.serials),
            item.entry.name,
            order_of(item.entry),
        )
        for item in found
    ]
    page.table(("key", "model", "serials", "document", "order"), rows)


@register_command.command("show")
@shared(study=False)
@click.argument("key")
def show_command(wanted: Wanted, key: str) -> None:
    """Show one entry by its KEY or the beginning of it.

    \b
    Example:
      wringout register show 3fa94c01
    """
    from wringout.services.register.documents import registered_document
    from wringout.services.register.entries import show_entry, table_of

    with wanted.open(create=False) as store:
        found, revisions = show_entry(store, key)
    if wanted.as_json:
        page.document("register entry", None, {**registered_document(found), "revisions": len(revisions)})
        return
    shown = {**table_of(found.entry), "key": found.key, "revisions in the library": str(len(revisions))}
    rows = [(name.replace("_", " "), _cell(value)) for name, value in shown.items() if value not in ("", [])]
    page.table(("", ""), rows)


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return " ".join(str(item) for item in value) if isinstance(value, list) else str(value)


@register_command.command("put")
@shared(study=False)
@click.argument("fields", nargs=-1, required=True, metavar="FIELD=VALUE...")
@click.option("--key", help="Change this entry; its other fields stay. Default: a new entry.")
def put_command(wanted: Wanted, fields: tuple[str, ...], key: str | None) -> None:
    """Write one entry, or change fields of one.

    Fields: family, model, serials, document, part_number, revision, date, section, prints (steps or none), steps,
    paraphrase, invented, note. Write the steps in the printed order, parted by semicolons; the words of the printed
    page stay in the handbook.

    \b
    Example:
      wringout register put family=Quillback model="Quillback 230" serials="1001-1250, 1300 and on" \\
        document="Pilot's Handbook" revision=B date=1974-11-20 steps="power full; flaps half; gear up when climbing"
    """
    from wringout.cli.options import words_of
    from wringout.services.register.documents import registered_document
    from wringout.services.register.entries import put_in_register, show_entry, table_of

    given: dict[str, Any] = dict(words_of(fields, "FIELD=VALUE"))
    with wanted.open() as store:
        if key is None:
            found = put_in_register(store, given)
        else:
            known, _ = show_entry(store, key)
            found = put_in_register(store, {**table_of(known.entry), **given}, known.key, known.revision)
    if wanted.as_json:
        page.document("register entry", None, registered_document(found))
        return
    page.say(f"{found.entry.model}, {found.entry.name}, is kept as {found.key[:8]}.")


@register_command.command("remove")
@shared(study=False)
@click.argument("key")
def remove_command(wanted: Wanted, key: str) -> None:
    """Remove an entry; its revisions stay in the library.

    \b
    Example:
      wringout register remove 3fa94c01
    """
    from wringout.services.register.documents import registered_document
    from wringout.services.register.entries import remove_from_register

    with wanted.open(create=False) as store:
        found = remove_from_register(store, key)
    if wanted.as_json:
        page.document("register entry", None, registered_document(found))
        return
    page.say(f"{found.entry.model}, {found.entry.name}, is removed; its revisions are kept.")


@register_command.command("attach")
@shared(study=False)
@click.argument("key")
@click.argument("file", type=click.Path(path_type=Path))
def attach_command(wanted: Wanted, key: str, file: Path) -> None:
    """Keep a photo or a page with the entry KEY. It is never part of an export.

    \b
    Example:
      wringout register attach 3fa94c01 page-4-12.pdf
    """
    from wringout.services.register.documents import registered_document
    from wringout.services.register.entries import attach

    with wanted.open(create=False) as store, open_file(file) as stream:
        found = attach(store, key, stream, file.name)
    if wanted.as_json:
        page.document("register entry", None, registered_document(found))
        return
    page.say(f"{file.name} is kept with {found.entry.model}, {found.entry.name}.")


@register_command.command("import")
@shared(study=False)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--good-rows", is_flag=True, help="Keep the rows without an error, and name the others.")
def import_command(wanted: Wanted, file: Path, good_rows: bool) -> None:
    """Take in a table of entries, CSV or JSON. With an error in any row nothing is kept.

    \b
    Examples:
      wringout register import handbooks.csv
      wringout register import handbooks.csv --good-rows
    """
    from wringout.services.register.entries import LONGEST_TABLE_BYTES, import_register

    data = read_whole(file, LONGEST_TABLE_BYTES)
    with wanted.open() as store:
        done = import_register(store, data, file.name, good_rows)
    errors = [str(error) for error in done.errors]
    if wanted.as_json:
        body = {"kept": done.kept, "changed": done.changed, "read": done.read, "errors": errors}
        page.document("register import", None, body)
    else:
        for sentence in errors[:SHOWN_ERRORS]:
            page.complain(sentence)
        if len(errors) > SHOWN_ERRORS:
            page.complain(f"{len(errors) - SHOWN_ERRORS:,} more rows have errors; --json names them all.")
        kept = f"{done.read:,} entries read, {done.changed:,} new or changed." if done.kept else "Nothing is kept."
        page.say(kept)
    if errors:
        raise click.exceptions.Exit(codes.BAD_INPUT)


@register_command.command("export")
@shared(study=False)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Replace the file if it exists.")
def export_command(wanted: Wanted, file: Path, replace: bool) -> None:
    """Write the whole register, notes and all, as CSV, or as JSON if FILE ends in .json.

    To pass it on to others use wringout fleet export, which takes personal data out.

    \b
    Example:
      wringout register export handbooks.csv
    """
    from wringout.services.register.entries import export_register
    from wringout.services.texts_written import write_text

    with wanted.open(create=False) as store:
        text = export_register(store, file.suffix.lower() == ".json")
    write_text(file, text, replace)
    if wanted.as_json:
        page.document("register export", None, {"file": str(file)})
        return
    page.say(f"The register is written to {file}.")


@register_command.command("holds")
@shared(study=False)
@click.argument("model")
@click.argument("serial")
@ON
@FAMILY
def holds_command(wanted: Wanted, model: str, serial: str, on: str | None, family: str) -> None:
    """Say which printed procedure holds for a SERIAL of a MODEL on a day.

    \b
    Examples:
      wringout register holds "Quillback 230" 1205
      wringout register holds "Quillback 230" 1205 --on 1970-01-01
    """
    from wringout.services.register.documents import CAUTIONS, holding_document
    from wringout.services.register.entries import what_holds

    with wanted.open(create=False) as store:
        found = what_holds(store, model, serial, the_day(on), family)
    if wanted.as_json:
        page.document("holding", None, {"model": model, **holding_document(found)})
        return
    if not found.entries:
        page.say(f"The register holds nothing for serial {found.serial} of {model} on {found.on.isoformat()}.")
    for entry in found.entries:
        page.say(holds_sentence(entry))
    page.items(list(found.notices), "!")
    if found.superseded:
        page.heading("Superseded")
        page.items([entry.name for entry in found.superseded])
    page.heading("Cautions")
    page.items(list(CAUTIONS), "!")


@register_command.command("check")
@shared(study=False)
@ON
def check_command(wanted: Wanted, on: str | None) -> None:
    """Find gaps and overlaps of serials, and revisions with another order.

    \b
    Example:
      wringout register check
    """
    from wringout.services.register.documents import checked_document
    from wringout.services.register.entries import check_register

    with wanted.open(create=False) as store:
        found = check_register(store, the_day(on))
    if wanted.as_json:
        page.document("register check", None, checked_document(found))
        return
    gaps = [item.sentence for item in found.irregular]
    page.say(f"{found.entries:,} entries; {len(gaps)} {'gap or overlap' if len(gaps) == 1 else 'gaps and overlaps'}.")
    page.items(gaps)
    if found.revisions:
        page.heading("Revisions")
        page.items([item.sentence for item in found.revisions])


for _command in (airplane_command, read_command, agree_command):
    register_command.add_command(_command)
