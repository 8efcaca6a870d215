"""Commands about captions: ``captions listen``, ``list``, ``yes``, ``no`` and ``readings``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wringout.cli import page
from wringout.cli.options import Wanted, shared, words_of
from wringout.errors import BadInputError

if TYPE_CHECKING:
    from wringout.services.flights.candidates import CandidateList, OfferedCandidate


@click.group("captions")
def captions_command() -> None:
    """Turn what was said in captions of a video into readings and marks."""


@captions_command.command("listen")
@shared()
@click.argument("sound", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Write the captions here, and take nothing in.")
@click.option("--name", default="", help="Name of the captions. Default: the sound's with .heard.vtt.")
def listen_command(wanted: Wanted, sound: Path, out: Path | None, name: str) -> None:
    """Hear what is said in SOUND by machine, and take it in as captions.

    Needs the extra 'speech' (PocketSphinx). WAV is read as it is; other formats need FFmpeg. What a machine hears in a
    cockpit is often wrong: nothing counts before you have said yes to it (docs/speech.md says how often).

    \b
    Examples:
      wringout captions listen flight.wav
      wringout captions listen flight.m4a --out flight.vtt
    """
    from wringout.services.flights.candidates import caption_candidates
    from wringout.services.flights.speech import listen, take_in_sound
    from wringout.services.study.studies import summary

    if out is not None:
        heard = listen(sound)
        try:
            out.write_text(heard.captions, encoding="utf-8")
        except OSError as error:
            raise BadInputError(
                f"the captions cannot be written ({error.strerror})", str(out), "name another place"
            ) from None
        body = {"captions": str(out), "count": heard.count, "length_s": heard.length_s, "sound_sha256": heard.sha256}
        if wanted.as_json:
            page.document("heard", None, body)
        else:
            page.say(f"{out}: {heard.count} captions heard in {heard.length_s:.0f} s.")
        return
    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        heard = listen(sound)
        arrival = take_in_sound(store, study, sound, heard, name or f"{sound.stem}.heard.vtt")
        found = caption_candidates(store, study, arrival.item.recording.sha256)
    _tell(wanted, study, found)


@captions_command.command("list")
@shared()
@click.argument("recording")
def list_command(wanted: Wanted, recording: str) -> None:
    """List what may be readings and marks in a caption file of the study, each with its line and score.

    \b
    Example:
      wringout captions list flight.vtt
    """
    from wringout.services.flights.candidates import caption_candidates
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        found = caption_candidates(store, study, recording)
    _tell(wanted, study, found)


@captions_command.command("yes")
@shared()
@click.argument("recording")
@click.argument("keys", nargs=-1)
@click.option("--likely", is_flag=True, help="Yes to every likely candidate not answered yet, no to the others.")
def yes_command(wanted: Wanted, recording: str, keys: tuple[str, ...], likely: bool) -> None:
    """Say yes to candidates of a caption file, by their KEYS.

    \b
    Examples:
      wringout captions yes flight.vtt 12.1 15.1
      wringout captions yes flight.vtt --likely
    """
    _answer(wanted, recording, keys, "yes", likely=likely)


@captions_command.command("no")
@shared()
@click.argument("recording")
@click.argument("keys", nargs=-1, required=True)
def no_command(wanted: Wanted, recording: str, keys: tuple[str, ...]) -> None:
    """Say no to candidates of a caption file, by their KEYS.

    \b
    Example:
      wringout captions no flight.vtt 18.1
    """
    _answer(wanted, recording, keys, "no", likely=False)


@captions_command.command("readings")
@shared()
@click.argument("recording")
@click.option("--set", "pairs", multiple=True, metavar="KEY=VALUE", help="A header word of the readings; repeatable.")
@click.option("--name", default="", help="Name of the new recording. Default: the captions' with -readings.csv.")
def readings_command(wanted: Wanted, recording: str, pairs: tuple[str, ...], name: str) -> None:
    """Take in what was said yes to as a recording of called readings.

    \b
    Example:
      wringout captions readings flight.vtt --set "method=level deceleration" --set "weight=2,900 lb"
    """
    from wringout.services.flights.candidates import readings_from_captions
    from wringout.services.flights.documents import arrival_document
    from wringout.services.study.studies import summary

    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        arrival = readings_from_captions(store, study, recording, words_of(pairs, "--set"), name)
    if wanted.as_json:
        page.document("take-in", study, {"files": [{"file": arrival.item.name, "taken": arrival_document(arrival)}]})
        return
    made = f"Run {arrival.run.stored.key}: {arrival.run.title}." if arrival.run else arrival.no_run
    page.say(f"{arrival.item.name}: {len(arrival.recording or ())} rows. {made}")


def _answer(wanted: Wanted, recording: str, keys: tuple[str, ...], answer: str, *, likely: bool) -> None:
    from wringout.services.flights.candidates import answer_candidates, answer_likely
    from wringout.services.study.studies import summary

    if not keys and not likely:
        raise click.UsageError("Name candidates by their keys, or give --likely.")
    with wanted.open(create=False) as store:
        study = summary(store, wanted.study).study.slug
        found = answer_candidates(store, study, recording, dict.fromkeys(keys, answer)) if keys else None
        if likely:
            found = answer_likely(store, study, recording)
    if found is not None:
        _tell(wanted, study, found)


def _tell(wanted: Wanted, study: str, found: CandidateList) -> None:
    from wringout.services.flights.candidates import candidate_document

    if wanted.as_json:
        body = {
            "recording": found.item.name,
            "revision": found.revision,
            "candidates": [candidate_document(one) for one in found.candidates],
        }
        page.document("captions", study, body)
        return
    likely = sum(one.found.is_likely for one in found.candidates)
    page.say(f"{len(found.candidates)} candidates, {likely} likely, {found.waiting} without an answer.")
    page.table(("key", ">time, s", "candidate", ">score", "answer", "said"), [_row(one) for one in found.candidates])
    recording = found.item.name
    step = (
        f'wringout captions yes "{recording}" --likely'
        if found.waiting
        else f'wringout captions readings "{recording}"'
    )
    page.say(wanted.next_step(step))


def _row(one: OfferedCandidate) -> tuple[str, ...]:
    found, meant = one.found, one.meant
    what = f"{meant.value:g} {meant.unit}" if meant.kind == "reading" else meant.label
    return found.key, f"{found.time_s:.1f}", what, f"{found.score:.2f}", one.answer or "-", found.said[:60]
