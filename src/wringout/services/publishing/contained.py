"""What a bundle or a brief would hold, said before it is written: its parts, and what in them could point to a person.

No program can tell every name in a text. What is listed is what can be told: registrations, mail addresses, telephone
numbers, positions, header lines that name people, pictures and speech. Whoever passes a study on reads the rest.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from wringout.advice import Way
from wringout.errors import BadInputError
from wringout.services.opening import the_study
from wringout.services.privacy import hints
from wringout.store import (
    BundleContents,
    FileEntry,
    Store,
    Study,
    StudyRecording,
    View,
    bundle_contents,
    list_airplanes,
    list_recordings,
    list_runs,
    list_tap_flights,
    list_taps,
)
from wringout.store.vault import read_chunks

LOOKED_AT_BYTES = 50_000
"""How much of each recording is looked through: its head, and enough rows to see positions."""
_PERSONS = re.compile(
    r"(?im)^[\s#,;HFOP]*(pilot|co-?pilot|crew|instructor|observer|student|registration|call ?sign|owner|operator"
    r"|PLTPILOTINCHARGE|GIDGLIDERID|CM2CREW2)\s*[:=,][ \t]*\S"
)
_POSITIONS = re.compile(
    r"(?i)\blat(itude)?\b.{0,200}\blon(g|gitude)?\b|<trkpt|^B\d{13}[NS]|\$..(RMC|GGA),", re.MULTILINE
)
_PICTURES = (".mp4", ".mov", ".avi", ".mkv", ".jpg", ".jpeg", ".png")
_SPEECH = (".vtt", ".srt", ".wav", ".mp3", ".m4a")
_WORDS: tuple[tuple[str, str], ...] = (
    ("recordings/", "recordings, as they were taken in"),
    ("airplane", "versions of the airplane's file"),
    ("results/", "results, and the draws they were taken from"),
    ("documents/", "plans, cards and other documents, every revision"),
    ("taps.jsonl", "taps made in the cockpit"),
    ("recordings.json", "list of recordings, with your notes"),
    ("runs.json", "list of runs, with what was flown and why any was set aside"),
    ("history.csv", "history of every edit, with what stood there before"),
)


@dataclass(frozen=True, slots=True)
class Part:
    """One kind of thing in a bundle: in words, how many files, their size together [bytes]."""

    words: str
    files: int
    size_bytes: int


@dataclass(frozen=True, slots=True)
class Contained:
    """What a bundle would hold.

    Attributes:
        study: whose bundle.
        sha256: the hash it would have now.
        parts: its parts, largest first.
        personal: what in it could point to a person: where, and what, in words.
        contents: every file.
    """

    study: Study
    sha256: str
    parts: tuple[Part, ...]
    personal: tuple[tuple[str, str], ...]
    contents: BundleContents


def contained(store: Store, slug: str | None) -> Contained:
    """Return what the bundle of a study would hold now; nothing is written.

    Raises:
        NotFoundError: there is no such study, or a recording of it is missing.
        StoreError: a recording is damaged.
    """
    with store.reading() as view:
        study = the_study(view, slug)
        contents = bundle_contents(view, study)
        return Contained(study, contents.sha256, _parts(contents.files), tuple(_personal(view, study)), contents)


def refuse_persons(found: Contained) -> None:
    """Refuse to pass on, unasked, what could point to a person; raises BadInputError that names it."""
    if found.personal:
        first = "; ".join(f"{where}: {what}" for where, what in found.personal[:3])
        more = f" and {len(found.personal) - 3} more" if len(found.personal) > 3 else ""
        raise BadInputError(
            f"the bundle would hold what can point to a person ({first}{more})",
            found.study.slug,
            f"look through what it would hold, then {Way.PASS_ON}",
        )


def _parts(files: Iterable[FileEntry]) -> tuple[Part, ...]:
    counts: Counter[str] = Counter()
    sizes: Counter[str] = Counter()
    for file in files:
        words = next((words for begins, words in reversed(_WORDS) if file.path.startswith(begins)), "other files")
        counts[words] += 1
        sizes[words] += file.size_bytes
    return tuple(Part(words, counts[words], size) for words, size in sizes.most_common())


def _personal(view: View, study: Study) -> Iterator[tuple[str, str]]:
    for where, text in _texts(view, study):
        yield from ((where, what) for what in _said(hints(text)))
    for item in list_recordings(view, study.id):
        yield from ((item.name, what) for what in _in_recording(view, item))
    devices = {tap.device for flight in list_tap_flights(view, study.id) for tap in list_taps(view, study.id, flight)}
    if devices:
        yield "taps", f"the names of {len(devices)} devices" if len(devices) > 1 else "the name of a device"


def _texts(view: View, study: Study) -> Iterator[tuple[str, str]]:
    """Yield the texts somebody typed, each with where it stands."""
    yield "title and question", f"{study.title}\n{study.question}"
    for airplane in list_airplanes(view, study.id):
        yield f"airplane file, version {airplane.version}", airplane.toml
    for item in list_recordings(view, study.id):
        yield f"note on {item.name}", f"{item.name}\n{item.note}"
    for run in list_runs(view, study.id):
        yield f"run {run.key}", "\n".join((run.reason, *(str(word) for word in run.setup.values())))


def _in_recording(view: View, item: StudyRecording) -> Iterator[str]:
    name = item.name.lower()
    if name.endswith(_PICTURES):
        yield "pictures from the cockpit"
        return
    if name.endswith(_SPEECH):
        yield "what was said in the cockpit"
    first = next(read_chunks(view.place.recordings, item.recording.sha256), b"")
    text = first[:LOOKED_AT_BYTES].decode("utf-8", errors="replace")
    for word in sorted({found[1].lower() for found in _PERSONS.finditer(text)}):
        yield f"a line that names the {word}"
    if _POSITIONS.search(text):
        yield "positions along the flight"
    yield from _said({kind: count for kind, count in hints(text).items() if kind != "positions"})


def _said(found: Mapping[str, int]) -> Iterator[str]:
    for kind, count in sorted(found.items()):
        yield f"{count} {kind}" if count > 1 else f"1 {kind[:-2] if kind.endswith('sses') else kind[:-1]}"
