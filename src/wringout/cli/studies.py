"""Commands about studies as a whole: ``new``, ``studies``, ``show``, ``history``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from wringout.cli import page
from wringout.cli.options import Wanted, shared

if TYPE_CHECKING:
    from wringout.services.study.studies import StudySummary


@click.command("new")
@shared(study=False)
@click.argument("title")
@click.option("--question", default="", help="What is asked, in words.")
@click.option("--name", help="Short name: small letters, digits, hyphens. Default: made from the title.")
@click.option(
    "--score",
    metavar="KEY",
    help="The score of a technique that decides. Default: energy_height_30s (30 s after the decision).",
)
@click.option("--difference", metavar="QUANTITY", help='The smallest difference of it that matters. Default: "25 ft".')
@click.option("--invented", is_flag=True, help="The airplane and its numbers are made up.")
def new_command(
    wanted: Wanted,
    title: str,
    question: str,
    name: str | None,
    score: str | None,
    difference: str | None,
    invented: bool,
) -> None:
    """Make a study: a question, and the difference that matters, stated before flying.

    \b
    Examples:
      wringout new "Gear or flaps first?" --question "What should come up first in a go-around?"
      wringout new "Short field" --score obstacle_distance --difference "100 ft" --name short-field
    """
    from wringout.services.study.studies import make_study, summary

    table = {key: value for key, value in (("score", score), ("smallest", difference)) if value is not None}
    with wanted.open() as store:
        study = make_study(store, title, question, table, invented, name)
        found = summary(store, study.slug)
    if wanted.as_json:
        _as_json("study", found)
        return
    page.say(f"The study '{study.slug}' is made.", wanted.next_step(next_step(found)))


@click.command("studies")
@shared(study=False)
def studies_command(wanted: Wanted) -> None:
    """List the studies in the database.

    \b
    Examples:
      wringout studies
      wringout studies --json
    """
    from wringout.services.study.documents import study_document
    from wringout.services.study.studies import summaries

    with wanted.open(create=False) as store:
        found = summaries(store)
    if wanted.as_json:
        page.document("studies", None, {"studies": [study_document(item) for item in found]})
        return
    if not found:
        page.say("There is no study yet.", wanted.next_step('wringout new "Gear or flaps first?"'))
        return
    page.say(f"{len(found)} {'study' if len(found) == 1 else 'studies'}.")
    rows = [
        (item.study.slug, item.study.title, str(item.recordings), str(item.runs_in_use), _state(item)) for item in found
    ]
    page.table(("name", "title", ">recordings", ">runs in use", "state"), rows)


@click.command("show")
@shared()
def show_command(wanted: Wanted) -> None:
    """Show a study: its question, how far it has come, and the next step.

    \b
    Examples:
      wringout show
      wringout show --study gear-or-flaps --json
    """
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        found = summary(store, wanted.study)
    if wanted.as_json:
        _as_json("study", found)
        return
    study = found.study
    invented = " All of it is invented." if study.invented else ""
    page.say(f"{study.title}: {_state(found)}.{invented}")
    if study.question:
        page.say(f"Question: {study.question}")
    page.say(f"Difference that matters: {found.difference_words}.")
    put = f"version {found.airplane_version}" if found.airplane_version else "none yet"
    page.table(
        ("", ""),
        [
            ("airplane", put),
            ("recordings", str(found.recordings)),
            ("runs in use", str(found.runs_in_use)),
            ("runs set aside", str(found.runs_set_aside)),
            ("reduction", _standing(found.reduction.computed_at, found.reduction.current)),
            ("matchup", _standing(found.matchup.computed_at, found.matchup.current)),
            ("brief", found.brief_path or "none yet"),
        ],
    )
    page.say(wanted.next_step(next_step(found)))


@click.command("history")
@shared()
def history_command(wanted: Wanted) -> None:
    """List every edit of a study, oldest first; 'wringout undo' takes the number of one.

    \b
    Examples:
      wringout history
      wringout history --json
    """
    from wringout.services.study.documents import history_document
    from wringout.services.study.studies import history, summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study
        entries = history(store, study.slug)
    if wanted.as_json:
        page.document("history", study.slug, {"edits": [history_document(entry) for entry in entries]})
        return
    page.say(f"{len(entries)} edits of '{study.slug}'.")
    rows = [(str(n), e.at, e.what, _subject(e.after or e.before or {})) for n, e in enumerate(entries, 1)]
    page.table((">edit", "when (UTC)", "what", "of"), rows)


def _subject(values: Any) -> str:
    for field in ("key", "name", "version", "slug"):
        if field in values:
            return str(values[field])
    return ""


def _as_json(kind: str, found: StudySummary) -> None:
    from wringout.services.study.documents import study_document

    page.document(kind, found.study.slug, study_document(found))


def _standing(computed_at: str, current: bool) -> str:
    if not computed_at:
        return "none yet"
    return computed_at if current else f"{computed_at}, but the study has changed since"


def _state(found: StudySummary) -> str:
    if found.matchup.current:
        return "compared"
    if found.reduction.current:
        return "reduced"
    if found.reduction.computed_at:
        return "changed since it was reduced"
    return "not reduced yet" if found.runs_in_use else "no runs in use yet"


def next_step(found: StudySummary) -> str:
    """Return the command that takes a study further."""
    if found.airplane_version is None:
        return "wringout airplane put my-airplane.toml"
    if not found.runs_in_use:
        return "wringout take-in my-run.csv"
    if not found.reduction.current:
        return "wringout reduce"
    if not found.matchup.current:
        return "wringout compare"
    return "wringout brief --folder brief"
