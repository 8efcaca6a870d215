"""The command ``verify``: every number of a bundle computed again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wringout.cli import codes, page
from wringout.cli.files import open_file
from wringout.cli.options import Wanted, now, shared

if TYPE_CHECKING:
    from wringout.services.publishing.verify import Checked, Verified

_MOST_SAID = 12


@click.command("verify")
@shared(study=False, database=False)
@click.argument("bundle", type=click.Path(path_type=Path))
@click.option("--sha256", metavar="HASH", default="", help="The hash a brief names: the bundle must have it.")
@click.option(
    "--tolerance",
    type=click.FloatRange(0.0, 0.1),
    default=1e-6,
    show_default=True,
    help="The share by which a number may differ, on another machine than the one it was computed on.",
)
def verify_command(wanted: Wanted, bundle: Path, sha256: str, tolerance: float) -> None:
    """Compute every number of a bundle again and say which differ.

    Findings and matchups are computed from the bundle's own recordings, with the seeds and settings it holds, and held
    against the numbers in it. Your studies are neither read nor changed. On the machine and version it was computed
    with, every digit must come out again. Exit code 0: all came out; 7: a number did not; 3: the file is damaged or was
    changed.

    \b
    Examples:
      wringout verify gear-or-flaps.zip
      wringout verify gear-or-flaps.zip --sha256 3b1c...e9 --json
    """
    from wringout.services.publishing.verified import verified_document
    from wringout.services.publishing.verify import Outcome, verify_bundle

    with open_file(bundle) as stream, page.progress("Computing again") as report:
        found = verify_bundle(stream, bundle.name, now, tolerance, report, sha256.strip().lower())
    if wanted.as_json:
        page.document("verify", found.study.slug, verified_document(found))
    else:
        _say(found)
    if found.outcome not in (Outcome.SAME, Outcome.CLOSE):
        raise click.exceptions.Exit(codes.NOT_AGAIN)


def _say(found: Verified) -> None:
    from wringout.services.publishing.verified import outcome_words

    page.say(outcome_words(found))
    page.table(
        ("Result", ">Seed", ">Draws", "Version", ">Numbers", ">Differ", "Came out"),
        [_row(item) for item in found.checked],
    )
    for item in found.checked:
        if item.reason:
            page.say(f"Result {item.number}: {item.reason}.")
        _say_differences(item)
        if item.draws_apart:
            page.say(f"Result {item.number}: a posterior draw differs by {item.draws_apart:.3g} standard deviations.")
        if item.other_version and item.comparison is not None:
            page.say(
                f"Result {item.number} was computed by version {item.result.package_version}; its wording may differ."
            )
    page.say(f"Bundle hash {found.sha256}.")


def _say_differences(item: Checked) -> None:
    counted = item.counted
    page.items([difference.sentence() for difference in counted[:_MOST_SAID]])
    if len(counted) > _MOST_SAID:
        page.say(f"and {len(counted) - _MOST_SAID:,} more; --json lists them all.")


def _row(item: Checked) -> tuple[str, ...]:
    numbers = "" if item.comparison is None else f"{item.comparison.numbers:,}"
    differ = "" if item.comparison is None else f"{len(item.counted):,}"
    result = item.result
    draws = str(result.settings.get("draws", ""))
    name = f"{item.number}, {result.kind}"
    return (name, str(result.seed), draws, result.package_version, numbers, differ, str(item.outcome))
