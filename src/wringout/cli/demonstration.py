"""The command ``demo``: the bundled study from question to brief."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from wringout.cli import page
from wringout.cli.options import Wanted, now, shared


@click.command("demo")
@shared(study=False, database=False)
@click.option(
    "--folder",
    type=click.Path(path_type=Path),
    default=Path("demo"),
    show_default=True,
    help="Where the database, the recordings and the brief go; made if it is not there.",
)
def demo_command(wanted: Wanted, folder: Path) -> None:
    """Work the bundled study from question to brief, and say what it found.

    The study is invented: airplane, recordings, numbers. It is said where everything is. Running it again changes
    nothing. The study can then be looked at with every other command. At a terminal it ends by opening the workbench on
    the study; stop that with Ctrl+C.

    \b
    Examples:
      wringout demo
      wringout demo --folder try-it
      wringout findings --database demo/study.db
    """
    from wringout.services.demonstration import demonstrate
    from wringout.services.flights.documents import arrival_document
    from wringout.services.matchups.compiled import Work, is_compiled

    if not is_compiled(Work.MATCHUP):
        page.complain("Compiling the equations once, about half a minute; they are kept for the next time.")
    with page.progress("Demonstration") as report:
        done = demonstrate(folder, now, report)
    body = done.reduced.result.body
    flown = done.compared.result.body
    if wanted.as_json:
        from wringout.cli.publishing import brief_document

        page.document(
            "demo",
            done.published.study.slug,
            {
                "database": str(done.database),
                "arrivals": [arrival_document(item) for item in done.arrivals],
                "findings": {"answer": body["answer"], "support": body["support"]},
                "verdict": {"answer": flown["answer"], "support": flown["support"]},
                "brief": brief_document(done.published),
            },
        )
        return
    page.say(f"{done.published.study.title}.", "All of it is invented: airplane, recordings, numbers.", "")
    page.say(f"Question: {done.published.study.question}")
    page.heading("What it found")
    page.items([str(body["answer"]), *_strings(flown["answer"])])
    page.heading("Where it is")
    page.table(
        ("", ""),
        [
            ("brief, page", str(done.published.html)),
            ("brief, paper", str(done.published.pdf)),
            ("bundle", str(done.published.bundle)),
            ("database", str(done.database)),
        ],
    )
    page.heading("Next")
    page.items(
        [
            f"wringout open --database {done.database}",
            f"wringout findings --database {done.database}",
            f"wringout verdict --database {done.database}",
            "wringout --help",
        ]
    )
    page.heading("Cautions")
    page.items(list(_strings(flown["cautions"])), "!")
    if sys.stdin.isatty() and sys.stdout.isatty():
        from wringout.web.serving import serve

        page.say("")
        serve(done.database, now, page.say, path=f"/studies/{done.published.study.slug}/")


def _strings(value: object) -> list[str]:
    return [value] if isinstance(value, str) else [str(item) for item in value] if isinstance(value, list) else []
