"""The command ``open``: the workbench in the browser."""

from __future__ import annotations

import click

from wringout.cli import page
from wringout.cli.options import Wanted, now, shared


@click.command("open")
@shared(study=False)
@click.option(
    "--port", type=click.IntRange(1, 65535), help="The port to use. Default: 8462, or another if it is taken."
)
@click.option("--share", is_flag=True, help="Let other devices on this network in, with a code; says what it opens.")
@click.option("--no-browser", is_flag=True, help="Do not open the browser; print the address only.")
def open_command(wanted: Wanted, port: int | None, share: bool, no_browser: bool) -> None:
    """Open the workbench in the browser, from this machine, for this machine.

    It answers to this machine only, needs no network, and keeps everything in the database of studies. Stop it with
    Ctrl+C. With --share other devices on the same network can open it too, after typing the code that is printed:
    whoever has the code can read and change every study until it is stopped, over a line that is not encrypted.

    \b
    Examples:
      wringout open
      wringout open --database demo/study.db
      wringout open --share --no-browser
    """
    from wringout.web.serving import serve

    serve(wanted.database, now, page.say, port, share, browser=not no_browser)
