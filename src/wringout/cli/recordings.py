"""Commands about recordings: ``take-in`` and ``recordings``."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wringout.advice import Way
from wringout.cli import codes, page
from wringout.cli.figures import sentences
from wringout.cli.files import open_file, read_whole
from wringout.cli.options import Wanted, answers_of, shared, words_of
from wringout.errors import BadInputError, WringoutError

if TYPE_CHECKING:
    from wringout.recordings.types import Notice
    from wringout.services.flights.recordings import Arrival, ReadRecording


@click.command("take-in")
@shared()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--mapping", "mapping_file", type=click.Path(path_type=Path), help="A saved mapping of the columns.")
@click.option("--confirm", multiple=True, metavar="COLUMN=UNIT", help="Answer a question of the reader; repeatable.")
@click.option("--set", "pairs", multiple=True, metavar="KEY=VALUE", help="A set-up word of the run; repeatable.")
@click.option("--run", "key", metavar="KEY", help="Short name of the run. Default: chosen, such as G1.")
@click.option("--no-run", is_flag=True, help="Take the recordings in without making runs.")
def take_in_command(
    wanted: Wanted,
    files: tuple[Path, ...],
    mapping_file: Path | None,
    confirm: tuple[str, ...],
    pairs: tuple[str, ...],
    key: str | None,
    no_run: bool,
) -> None:
    """Take recordings in: hand-called readings, lists of stalls or timings, loggers' tables.

    The bytes of each FILE are kept first, unchanged, under their hash; then they are read. Where the header says what
    was flown ("# method: level deceleration", "# weight: 2,900 lb", ...), the run is made at once. A file that cannot
    be read stays kept, and the reason is given.

    \b
    Examples:
      wringout take-in run-1.csv run-2.csv stalls.csv
      wringout take-in logger.csv --confirm "IAS=kt" --set "weight=2,900 lb"
      wringout take-in logger.csv --mapping my-logger.json --no-run
    """
    from wringout.services.flights.mappings import LONGEST_MAPPING_BYTES, read_mapping
    from wringout.services.flights.recordings import take_in_recording
    from wringout.services.study.studies import summary

    if key is not None and len(files) > 1:
        raise click.UsageError("--run names one run, but several files are given.")
    mapping = None
    if mapping_file is not None:
        mapping = read_mapping(read_whole(mapping_file, LONGEST_MAPPING_BYTES), mapping_file.name)
    setup, answers = words_of(pairs, "--set"), answers_of(confirm)
    arrivals: list[tuple[Path, Arrival | WringoutError]] = []
    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        for file in files:
            try:
                with open_file(file) as stream:
                    arrivals.append(
                        (
                            file,
                            take_in_recording(
                                store, study, stream, file.name, "", mapping, answers, setup, key, not no_run
                            ),
                        )
                    )
            except BadInputError as error:
                arrivals.append((file, error))
        found = summary(store, study)
    _tell(wanted, study, arrivals, pairs)
    if not wanted.as_json:
        page.say(
            f"The study has {_count(found.recordings, 'recording')} and {_count(found.runs_in_use, 'run')} in use."
        )
    code = max((_code(outcome) for _, outcome in arrivals), default=codes.DONE)
    if code:
        raise click.exceptions.Exit(code)


def _code(outcome: Arrival | WringoutError) -> int:
    """Return the exit code for one file: bad input where it, or its run, cannot be used, or an answer is waited for."""
    if isinstance(outcome, WringoutError):
        return codes.code_of(outcome)
    waits = outcome.problem or outcome.questions or outcome.run_refused
    return codes.BAD_INPUT if waits else codes.DONE


def _tell(
    wanted: Wanted, study: str, arrivals: list[tuple[Path, Arrival | WringoutError]], given: Sequence[str]
) -> None:
    if not wanted.as_json:
        for file, outcome in arrivals:
            if isinstance(outcome, WringoutError):
                page.complain(str(outcome))
            else:
                _tell_one(wanted, file, outcome, given)
        return
    from wringout.services.flights.documents import arrival_document

    files = []
    for file, outcome in arrivals:
        if isinstance(outcome, WringoutError):
            body = codes.error_body(
                codes.kind_of(outcome),
                codes.code_of(outcome),
                str(outcome),
                outcome.what,
                outcome.where,
                outcome.advice,
            )
            files.append({"file": file.name, "taken": None, "error": body})
        else:
            files.append({"file": file.name, "taken": arrival_document(outcome), "error": None})
    page.document("take-in", study, {"files": files})


def _next_command(file: Path, arrival: Arrival, given: Sequence[str]) -> str:
    """Return the whole command that makes a run of what was taken in, or nothing where no command alone can."""
    if arrival.run_refused and Way.OWN_MARKS in arrival.no_run:
        words = [word for pair in (*given, "marks=columns") for word in ("--set", pair)]
        return shlex.join(["wringout", "run", "add", file.name, *words])
    nothing_said = arrival.no_run.startswith("No run was made: no line")
    if nothing_said and arrival.recording is not None and arrival.recording.kind == "logger":
        return shlex.join(["wringout", "run", "propose", file.name])
    return ""


def _tell_one(wanted: Wanted, file: Path, arrival: Arrival, given: Sequence[str]) -> None:
    name = file.name
    again = " These bytes were taken in before; nothing was stored twice." if arrival.already_in_study else ""
    kept = f"{name}: kept as {arrival.item.recording.sha256[:12]}."
    if arrival.recording is None:
        page.say(f"{kept}{again} It could not be read: {arrival.problem}")
        return
    read = arrival.recording
    size = f"{_count(len(read), 'row')}, {_count(len(read.marks), 'mark')}"
    page.say(f"{kept}{again} {_kind(read.kind)}, {size}. {_run_words(arrival)}")
    tell_notices(read.notices, f'wringout take-in "{file}" --confirm')
    if arrival.earlier_runs:
        had = ", ".join(arrival.earlier_runs)
        page.items(
            [
                f"From an earlier {name} there is {had}, in use as well; if this file corrects that one: "
                f'wringout run aside {arrival.earlier_runs[0]} "corrected".'
            ],
            "  !",
        )
    if arrival.run is None and (command := _next_command(file, arrival, given)):
        page.say(wanted.next_step(command))
    if arrival.run is not None:
        tell_exceedances(arrival.run.stored.key, [found.sentence() for found in arrival.run.exceedances])
        if arrival.run.weighing is not None:
            page.items([f"Run {arrival.run.stored.key}: {text}" for text in arrival.run.weighing.notices], "  !")


def _count(n: int, word: str) -> str:
    return f"{n} {word}" if n == 1 else f"{n} {word}s"


def _run_words(arrival: Arrival) -> str:
    if arrival.run is None:
        return arrival.no_run
    run = arrival.run
    weighing = run.weighing
    weight = f", weight {weighing.basis}" if weighing is not None and weighing.basis else ""
    return f"Run {run.stored.key}: {run.title}{weight}."


def _kind(kind: str) -> str:
    return {
        "called": "Hand-called readings",
        "logger": "A logger's table",
        "stalls": "A list without times",
        "transits": "A list of timings",
        "legs": "A list of legs",
        "pairs": "A list of go-arounds",
    }.get(kind, kind)


_SIGNS = {"note": "  -", "caution": "  !", "question": "  ?"}


def tell_notices(notices: tuple[Notice, ...], answer_with: str) -> None:
    """Print what a reader noticed, questions last, with how to answer them: ``answer_with`` begins that command."""
    for severity, sign in _SIGNS.items():
        page.items([_capital(notice.sentence) for notice in notices if str(notice.severity) == severity], sign)
    asked = [notice for notice in notices if str(notice.severity) == "question"]
    if asked:
        column = asked[0].field or "COLUMN"
        page.say(
            f'    Answer with: {answer_with} "{column}=UNIT"; or, where it measures something else, '
            f'"{column}=QUANTITY:UNIT", such as "{column}=ias:kt"; or "{column}=ignore".'
        )


def _capital(sentence: str) -> str:
    text = f"{sentence[:1].upper()}{sentence[1:]}"
    return text if text.endswith((".", "?")) else f"{text}."


def tell_exceedances(key: str, said: list[str], metric: bool = False) -> None:
    """Print the limits a run went beyond."""
    page.items([f"Run {key}: {text}" for text in sentences(said, metric)], "  !")


@click.command("recordings")
@shared()
@click.argument("name", required=False)
@click.option("--rows", is_flag=True, help="With NAME: print every row that was read.")
def recordings_command(wanted: Wanted, name: str | None, rows: bool) -> None:
    """List the recordings of a study, or show one.

    NAME is the file's name or the beginning of its hash.

    \b
    Examples:
      wringout recordings
      wringout recordings run-1.csv
      wringout recordings run-1.csv --rows --json
    """
    from wringout.services.flights.documents import recording_document
    from wringout.services.flights.recordings import study_recording, study_recordings
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        if name is not None:
            one = study_recording(store, study, name)
            if wanted.as_json:
                page.document("recording", study, recording_document(one, rows))
            else:
                _show(one, rows)
            return
        found = study_recordings(store, study)
    if wanted.as_json:
        page.document("recordings", study, {"recordings": [recording_document(item) for item in found]})
        return
    if not found:
        page.say(f"There is no recording yet. {wanted.next_step('wringout take-in my-run.csv')}")
    else:
        page.say(f"{_count(len(found), 'recording')}.")
        page.table(("name", "hash", "kind", ">rows", "runs", "state"), [_row(item) for item in found])


def _row(found: ReadRecording) -> tuple[str, str, str, str, str, str]:
    read, item = found.recording, found.item
    if read is None:
        return item.name, item.recording.sha256[:12], "", "", ", ".join(found.runs), f"cannot be read: {found.problem}"
    asked = sum(str(notice.severity) == "question" for notice in read.notices)
    waiting = f"{_count(asked, 'question')} {'waits' if asked == 1 else 'wait'} for an answer"
    state = waiting if asked else ("read" if found.runs else "read, no run yet")
    return item.name, item.recording.sha256[:12], read.kind, str(len(read)), ", ".join(found.runs), state


def _show(found: ReadRecording, rows: bool) -> None:
    item, read = found.item, found.recording
    page.say(f"{item.name}: {item.recording.size_bytes:,} bytes, SHA-256 {item.recording.sha256}.")
    if read is None:
        page.say(f"It cannot be read: {found.problem}")
        return
    page.say(f"{_kind(read.kind)}, {_count(len(read), 'row')}; runs: {', '.join(found.runs) or 'none yet'}.")
    if read.header:
        page.heading("Header")
        page.table(("word", "value"), list(read.header.items()))
    page.heading("Columns")
    page.table(("measures", "column", "unit"), [(c.quantity, c.column, c.unit) for c in read.channels.values()])
    if read.marks:
        page.heading("Marks")
        page.table((">time, s", "words", ">row"), [(f"{m.time_s:.1f}", m.label, str(m.row)) for m in read.marks])
    if read.notices:
        page.heading("Noticed")
        tell_notices(read.notices, f'wringout mapping confirm "{item.name}"')
    if rows:
        _rows(found)


def _rows(found: ReadRecording) -> None:
    from wringout.services.flights.documents import recording_document

    values = recording_document(found, rows=True)["read"]["values"]
    names = [name for name, column in values.items() if column is not None]
    page.heading("Rows")
    cells = [["-" if x is None else (x if isinstance(x, str) else f"{x:.10g}") for x in values[name]] for name in names]
    page.table([f">{name}" for name in names], list(zip(*cells, strict=True)))
