"""Commands that pass a study on: ``brief``, ``export``, ``import``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wringout.cli import page
from wringout.cli.files import open_file
from wringout.cli.options import Wanted, now, shared
from wringout.errors import BadInputError

if TYPE_CHECKING:
    from wringout.services.publishing.contained import Contained
    from wringout.services.publishing.publish import Published, Reader


@click.command("brief")
@shared(units=True)
@click.option(
    "--folder",
    type=click.Path(path_type=Path),
    default=Path("brief"),
    show_default=True,
    help="Where it is written; made if it is not there, an earlier brief in it is replaced.",
)
@click.option(
    "--for",
    "readers",
    multiple=True,
    type=click.Choice(["peers", "members", "instructor", "slides"]),
    help="Who else it is for: one page for members, a lesson sheet for the instructor, slides. The full brief, for "
    "peers, is always written. Can be given more than once.",
)
def brief_command(wanted: Wanted, folder: Path, readers: tuple[Reader, ...]) -> None:
    """Write the brief: a page, the same for paper, and the bundle they come from.

    The kept results are computed again first, so that what is printed can be trusted to come from the bundle whose hash
    it names. What the bundle holds is said before it is written.

    \b
    Examples:
      wringout brief --folder brief
      wringout brief --folder kurz --units metric
      wringout brief --for members --for slides
    """
    from wringout.services.publishing.contained import contained
    from wringout.services.publishing.publish import publish

    with wanted.open(create=False) as store:
        found = contained(store, wanted.study)
    if not wanted.as_json:
        tell_contained(found)
    with wanted.open(create=False) as store, page.progress("Writing the brief") as report:
        done = publish(
            store, wanted.study, folder, now(), "metric" if wanted.metric else "aviation", report, readers=readers
        )
    if wanted.as_json:
        page.document("brief", done.study.slug, brief_document(done))
        return
    again = "came out again to the last digit" if done.reproduced else "differ from those kept before; both are kept"
    page.say(f"The brief is written; the results {again}.")
    if not done.with_matchup:
        page.say("It compares no techniques yet. To have them in it: wringout compare, then wringout brief.")
    page.table(("", ""), [("page", str(done.html)), ("paper", str(done.pdf)), ("bundle", str(done.bundle))])
    page.items([str(path) for path in done.others])
    page.say(f"Bundle hash {done.bundle_sha256}.")


def brief_document(done: Published) -> dict[str, object]:
    """Return what was written as a JSON document."""
    return {
        "html": str(done.html),
        "pdf": str(done.pdf),
        "bundle": str(done.bundle),
        "others": [str(path) for path in done.others],
        "bundle_sha256": done.bundle_sha256,
        "reproduced": done.reproduced,
        "with_matchup": done.with_matchup,
    }


@click.command("export")
@shared()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--replace", is_flag=True, help="Replace the file if it exists.")
@click.option("--list", "only_list", is_flag=True, help="Say what the bundle would hold, and write nothing.")
@click.option("--with-private", is_flag=True, help="Write it though something in it can point to a person.")
def export_command(wanted: Wanted, file: Path | None, replace: bool, only_list: bool, with_private: bool) -> None:
    """Write the study as one open bundle, after saying what it holds.

    A bundle is a zip of TOML, CSV and JSON with the recordings as they were taken in. Where something in it can point
    to a person (a registration, a position, a name in a header line, pictures, speech) it is named, and the bundle is
    written only with --with-private.

    \b
    Examples:
      wringout export --list
      wringout export gear-or-flaps.zip
      wringout export gear-or-flaps.zip --with-private
    """
    from wringout.services.publishing.bundles import export_study
    from wringout.services.publishing.contained import contained, refuse_persons

    if file is None and not only_list:
        raise BadInputError("no file is named", "export", "name one, such as my-study.zip, or say --list")
    with wanted.open(create=False) as store:
        found = contained(store, wanted.study)
        if not wanted.as_json:
            tell_contained(found)
        if file is not None and not only_list:
            if not with_private:
                refuse_persons(found)
            export_study(store, wanted.study, file, replace)
    written = None if only_list or file is None else file
    if wanted.as_json:
        body = {"file": None if written is None else str(written), **contained_document(found)}
        page.document("export", found.study.slug, body)
    elif written is not None:
        count = len(found.contents.files)
        page.say(f"'{found.study.slug}' is written to {written}: {count} files, hash {found.sha256}.")


def tell_contained(found: Contained) -> None:
    """Say what a bundle would hold."""
    page.say(f"The bundle of '{found.study.slug}' holds:")
    rows = [(f"{part.files:,}", part.words, f"{part.size_bytes / 1000:,.1f} kB") for part in found.parts]
    page.table((">files", "", ">size"), rows)
    if found.personal:
        page.say("What in it can point to a person, as far as a program can tell:")
        page.items([f"{where}: {what}" for where, what in found.personal])
    else:
        page.say("Nothing in it was found that points to a person; no program can tell every name, so look through it.")


def contained_document(found: Contained) -> dict[str, object]:
    """Return what a bundle would hold as a JSON document."""
    files = [{"path": f.path, "sha256": f.sha256, "size_bytes": f.size_bytes} for f in found.contents.files]
    personal = [{"where": where, "what": what} for where, what in found.personal]
    return {"sha256": found.sha256, "files": files, "personal": personal}


@click.command("import")
@shared(study=False)
@click.argument("file", type=click.Path(path_type=Path))
def import_command(wanted: Wanted, file: Path) -> None:
    """Take a study in from a bundle.

    Every file of it is checked first; a bad bundle changes nothing.

    \b
    Example:
      wringout import gear-or-flaps.zip
    """
    from wringout.services.publishing.bundles import import_study

    with open_file(file) as stream, wanted.open() as store:
        found = import_study(store, stream, file.name)
    if wanted.as_json:
        body = {"sha256": found.sha256, "already_there": found.already_there, "notices": list(found.notices)}
        page.document("import", found.study.slug, body)
        return
    if not found.already_there:
        page.say(f"The study '{found.study.slug}' is taken in from {file}.")
    page.say(*found.notices, wanted.next_step(f"wringout show --study {found.study.slug}"))
