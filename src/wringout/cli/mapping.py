"""Commands about column mappings of loggers' tables: ``mapping propose``, ``mapping use``, ``mapping confirm``."""

from __future__ import annotations

from pathlib import Path

import click

from wringout.cli import page
from wringout.cli.files import read_whole
from wringout.cli.options import Wanted, answers_of, shared


@click.group("mapping")
def mapping_command() -> None:
    """Say what the columns of a logger's table are."""


@mapping_command.command("propose")
@shared(study=False, database=False)
@click.argument("file", type=click.Path(path_type=Path))
def propose(wanted: Wanted, file: Path) -> None:
    """Print what the columns of FILE are taken to be, as JSON to correct and save. Nothing is stored.

    \b
    Example:
      wringout mapping propose logger.csv > my-logger.json
    """
    from wringout.services.flights.mappings import LONGEST_TABLE_BYTES, proposed_mapping

    del wanted  # the proposal is JSON with and without --json
    page.raw(proposed_mapping(read_whole(file, LONGEST_TABLE_BYTES), file.name))


@mapping_command.command("use")
@shared()
@click.argument("recording")
@click.argument("file", type=click.Path(path_type=Path))
def use(wanted: Wanted, recording: str, file: Path) -> None:
    """Use the mapping in FILE for a RECORDING of the study.

    \b
    Example:
      wringout mapping use logger.csv my-logger.json
    """
    from wringout.services.flights.mappings import LONGEST_MAPPING_BYTES, read_mapping
    from wringout.services.flights.recordings import use_mapping

    mapping = read_mapping(read_whole(file, LONGEST_MAPPING_BYTES), file.name)
    with wanted.open(create=False) as store:
        use_mapping(store, wanted.study, recording, mapping)
    _tell(wanted, recording)


@mapping_command.command("confirm")
@shared()
@click.argument("recording")
@click.argument("answers", nargs=-1, required=True, metavar="COLUMN=UNIT...")
def confirm(wanted: Wanted, recording: str, answers: tuple[str, ...]) -> None:
    """Answer a reader's questions about a RECORDING of the study.

    Write COLUMN=UNIT where the name says what is measured, COLUMN=QUANTITY:UNIT where it does not, COLUMN=ignore where
    the column is not to be used.

    \b
    Examples:
      wringout mapping confirm logger.csv "IAS=kt"
      wringout mapping confirm logger.csv "Speed=ias:kt" "Aux 1=ignore"
    """
    from wringout.services.flights.recordings import use_mapping

    with wanted.open(create=False) as store:
        use_mapping(store, wanted.study, recording, None, answers_of(answers))
    _tell(wanted, recording)


def _tell(wanted: Wanted, recording: str) -> None:
    from wringout.cli.recordings import tell_notices
    from wringout.services.flights.documents import recording_document
    from wringout.services.flights.recordings import study_recording
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        found = study_recording(store, study, recording)
    if wanted.as_json:
        page.document("recording", study, recording_document(found))
        return
    columns = [] if found.recording is None else list(found.recording.channels.values())
    page.say(f"{found.item.name} is read with this mapping; {len(columns)} columns are used.")
    page.table(("measures", "column", "unit"), [(c.quantity, c.column, c.unit) for c in columns])
    if found.recording is not None:
        tell_notices(found.recording.notices, f'wringout mapping confirm "{recording}"')
    if not found.runs:
        page.say(wanted.next_step(f'wringout run add "{found.item.name}" --method "level deceleration"'))
