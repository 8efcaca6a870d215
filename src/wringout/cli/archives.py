"""Commands about archives of logs: ``archives scan``, ``archives show``."""

from __future__ import annotations

from pathlib import Path

import click

from wringout.cli import page
from wringout.cli.options import Wanted, shared


@click.group("archives")
def archives_command() -> None:
    """Find go-arounds and movements of gear and flaps in folders of thousands of recordings."""


@archives_command.command("scan")
@shared(study=False, database=False)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), required=True, help="Folder for the tables; made if not there."
)
@click.option("--processes", type=click.IntRange(min=0), help="Worker processes. Default: one less than processors.")
@click.option("--cluster", metavar="ADDRESS", help="A Dask scheduler, such as tcp://10.0.0.5:8786.")
def scan_command(wanted: Wanted, folder: Path, output: Path, processes: int | None, cluster: str | None) -> None:
    """Scan a FOLDER of recordings, and the folders in it; the finds go into Parquet tables.

    Stopped and started again it goes on where it was. Files that were changed since are read again. The workers of a
    cluster must see the folder under the same name.

    \b
    Examples:
      wringout archives scan logs -o logs-scanned
      wringout archives scan logs -o logs-scanned --cluster tcp://10.0.0.5:8786
    """
    from wringout.services.fleet.archives import scan_archive

    with page.progress("Scanning") as report:
        done = scan_archive(folder, output, processes, cluster, report)
    if wanted.as_json:
        body = {
            "folder": str(done.folder),
            "files": done.files,
            "skipped": done.skipped,
            "unread": done.unread,
            "rows": done.rows,
            "size_bytes": done.size_bytes,
            "go_arounds": done.go_arounds,
            "changes": done.changes,
        }
        page.document("archive scan", None, body)
        return
    page.say(
        f"Scanned now: {_many(done.files, 'file')} with {_many(done.rows, 'row')}; known already: {done.skipped:,}; "
        f"could not be read: {done.unread:,}.",
        f"The tables hold {_many(done.go_arounds, 'go-around')} and {_many(done.changes, 'movement')} of gear "
        "or flaps.",
        f"Next: wringout archives show {done.folder}",
    )


def _many(count: int, name: str) -> str:
    return f"{count:,} {name}" if count == 1 else f"{count:,} {name}s"


@archives_command.command("show")
@shared(study=False, database=False)
@click.argument("output", type=click.Path(path_type=Path))
def show_command(wanted: Wanted, output: Path) -> None:
    """Show the orders in which gear and flaps came up in the go-arounds of a scan, most often first.

    \b
    Example:
      wringout archives show logs-scanned
    """
    from wringout.services.fleet.archives import flown_orders

    found = flown_orders(output)
    if wanted.as_json:
        body = [{"order": order, "count": count} for order, count in found]
        page.document("archive orders", None, {"folder": str(output), "orders": body})
        return
    total = sum(count for _, count in found)
    page.say(f"{_many(total, 'go-around')}.")
    page.table(("order", ">how often"), [(order or "not recorded", f"{count:,}") for order, count in found])
    page.say("", "A go-around of an archive was found by a program; look at one before anything is concluded from it.")
