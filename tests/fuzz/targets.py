"""Every reader of what comes from outside, as a function of bytes that ends well or in an error of ours.

A target reads its bytes to the end of what is made of them: runs found in a recording, beliefs of an airplane, a text
that must read back. Seeds are sound files; ``corpus/`` holds more, most of them found by fuzzing.
"""

from __future__ import annotations

import contextlib
import functools
import io
import json
import random
import re
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from tests.fuzz.bending import bent
from tests.recordings.test_bad_input import GOOD_FILES, check
from tests.recordings.test_captured import log_of, mark, reading
from tests.recordings.test_mapping import document as mapping_document
from tests.recordings.test_open_formats import a_gpx, an_igc, an_nmea
from tests.store.packing import full_bundle, listed, packed, unpacked
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.airplane.handbook import airplane_toml, beliefs_from_handbook, read_handbook
from wringout.errors import BadInputError
from wringout.handbooks.entry import LONGEST_TEXT, parse_date
from wringout.handbooks.reading import read_order
from wringout.handbooks.serials import parse_effectivity
from wringout.handbooks.steps import parse_steps
from wringout.instruments.marks import read_marks
from wringout.planning.plan import plan_in_si
from wringout.recordings.columns.mapping import mapping_to_json
from wringout.recordings.decoding import decode
from wringout.recordings.finding.runs import find_runs
from wringout.recordings.reader import propose_mapping, read_recording
from wringout.recordings.spoken.captions import looks_captioned, read_cues
from wringout.recordings.spoken.said import find_candidates
from wringout.services.airplane.airplanes import decoded
from wringout.services.fleet.sharing import export_fleet, merge_fleet
from wringout.services.fleet_demonstration import put_demo_fleet
from wringout.services.flights.capture import take_log, tap_flights
from wringout.services.flights.instruments import read_clip
from wringout.services.flights.mappings import read_mapping
from wringout.services.matchups.plans import parse_plan, plan_of, plan_text, read_plan
from wringout.services.opening import open_studies
from wringout.services.planning.plans import plan_toml, read_test_plan
from wringout.services.register.entries import export_register, import_register
from wringout.store import Store, add_study, import_bundle, place_at, restore_backup, write_backup
from wringout.typed_quantity import parse_quantity

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
CORPUS = HERE / "corpus"
STUDY = ROOT / "src" / "wringout" / "services" / "demo_study"
FLEET = ROOT / "src" / "wringout" / "services" / "demo_fleet"


@dataclass(frozen=True, slots=True)
class Target:
    """A reader and sound files for it. ``heavy`` ones write to a disk and are tried less often.

    ``bend`` makes damaged files of sound ones where random damage says little and coverage nothing.
    """

    name: str
    read: Callable[[bytes], object]
    seeds: Callable[[], list[bytes]]
    heavy: bool = False
    bend: Callable[[bytes, list[bytes], random.Random], bytes] | None = None


def clock() -> datetime:
    """Return a fixed moment."""
    return datetime(2027, 5, 1, 12, tzinfo=UTC)


@functools.cache
def _folder() -> Path:
    """Return a folder of this process in memory, where there is one, so that syncing costs nothing."""
    memory = Path("/dev/shm")  # noqa: S108  only where it is made
    held = tempfile.TemporaryDirectory(prefix="wringout-fuzz-", dir=memory if memory.is_dir() else None)
    _HELD.append(held)
    return Path(held.name)


_HELD: list[tempfile.TemporaryDirectory[str]] = []


@contextlib.contextmanager
def fresh_store() -> Iterator[Store]:
    """Open an empty store, and see that nothing was written beside it."""
    with tempfile.TemporaryDirectory(dir=_folder()) as folder:
        home = Path(folder) / "home"
        with open_studies(home / "study.db", clock) as store:
            yield store
        assert [path.name for path in Path(folder).iterdir()] == ["home"]
        strange = {path.name for path in home.iterdir()} - {
            *("study.db", "study.db-wal", "study.db-shm", "study.recordings")
        }
        assert not strange, strange


@functools.cache
def kept_store() -> Store:
    """Return a store with one study that lives as long as the process."""
    store = open_studies(_folder() / "kept.db", clock)
    with store.writing() as work:
        add_study(work, "Fuzzed", "What is read?", {"height": "25 ft"}, slug="fuzzed")
    return store


@functools.cache
def beliefs() -> Beliefs:
    """Return the bundled airplane."""
    text = (STUDY / "airplane.toml").read_text(encoding="utf-8")
    return airplane_from_document(parse_airplane(text, "airplane.toml"), "airplane.toml")


def read_any_recording(data: bytes, name: str = "x.csv") -> None:
    """Read a recording, what its columns are, the runs in it and what was said in it."""
    found = read_recording(data, name)
    check(found)
    with contextlib.suppress(BadInputError):  # a sound recording may be too short
        find_runs(found)
    text = decode(data, name)
    if looks_captioned(text[:20_000]):
        find_candidates(read_cues(text, name)[0])


def read_columns(data: bytes) -> None:
    """Propose what the columns are; what is proposed reads back."""
    proposed = propose_mapping(data, "x.csv")
    assert read_mapping(mapping_to_json(proposed).encode(), "x.json") == proposed


def read_airplane(data: bytes) -> None:
    """Read an airplane file as its owner writes it."""
    airplane_from_document(parse_airplane(decoded(data, "x.toml"), "x.toml"), "x.toml")


def read_figures(data: bytes) -> None:
    """Read a handbook's figures; the airplane made of them reads as one."""
    text = decoded(data, "x.toml")
    parse_airplane(airplane_toml(read_handbook(text, "x.toml")), "made.toml")
    beliefs_from_handbook(text, "x.toml")


def read_flight_plan(data: bytes) -> None:
    """Read a test plan; what is written of it reads back."""
    found = read_test_plan(data, "x.toml")
    assert read_test_plan(plan_toml(found).encode(), "again.toml") == found
    plan_in_si(found, beliefs(), "x.toml")


def read_matchup_plan(data: bytes) -> None:
    """Read a plan of techniques to compare; what is written of it reads back."""
    found = read_plan(data, "x.toml")
    assert parse_plan(plan_text(found), "again.toml") == found
    plan_of(found, beliefs(), "x.toml")


def read_register(data: bytes) -> None:
    """Read a register of printed orders, and write it back."""
    with fresh_store() as store:
        import_register(store, data, "x", good_rows=True)
        again = export_register(store).encode()
        assert import_register(store, again, "again.csv").changed == 0


def read_fleet(data: bytes) -> None:
    """Merge a member's fleet file."""
    with fresh_store() as store:
        merge_fleet(store, data, "x.json")


def read_taps(data: bytes) -> None:
    """Take in a log of taps, and read it as a recording."""
    take_log(kept_store(), "fuzzed", data, "x.taps")
    tap_flights(kept_store(), "fuzzed")
    read_any_recording(data, "x.taps")


def read_words(data: bytes) -> None:
    """Read the small texts that stand in fields: steps, serials, dates, quantities."""
    text = data.decode("utf-8", errors="replace")[:LONGEST_TEXT]
    small: tuple[Callable[[str], object], ...] = (
        parse_effectivity,
        parse_date,
        lambda words: read_order(parse_steps(words), beliefs(), 0.5),
        lambda words: parse_quantity(words, "speed", default_unit="kt"),
        lambda words: parse_quantity(words, "mass"),
    )
    for one in small:
        with contextlib.suppress(BadInputError):
            one(text)


def read_bundle(data: bytes) -> None:
    """Take in a zip as a bundle."""
    with fresh_store() as store:
        import_bundle(store, io.BytesIO(data), "x.zip")


@functools.cache
def _good_bundle() -> dict[str, bytes]:
    with tempfile.TemporaryDirectory(dir=_folder()) as folder:
        return unpacked(full_bundle(Path(folder)))


def read_repacked(data: bytes) -> None:
    """Put bytes into one file of a sound bundle, list them truthfully, and take it in: past the hashes.

    The first byte chooses the file; of the second, an even one replaces it, an odd one splices into it.
    """
    if len(data) < 2:
        return
    files = dict(_good_bundle())
    names = sorted(files)
    name = names[data[0] % len(names)]
    old, new = files[name], data[2:]
    if data[1] % 2:
        at = data[1] * len(old) // 256
        new = old[:at] + new + old[at + len(new) :]
    files[name] = new
    read_bundle(packed(files if name == "bundle.toml" else listed(files), zipfile.ZIP_STORED))


def read_backup(data: bytes) -> None:
    """Take back a back-up."""
    with tempfile.TemporaryDirectory(dir=_folder()) as folder:
        restore_backup(place_at(Path(folder) / "study.db"), io.BytesIO(data), "x.zip")


def read_video(data: bytes) -> None:
    """Read the needle in a clip."""
    with tempfile.TemporaryDirectory(dir=_folder()) as folder:
        clip, marks = Path(folder) / "x.avi", Path(folder) / "marks.toml"
        clip.write_bytes(data)
        marks.write_text(_marks(), encoding="utf-8")
        read_clip(clip, marks, rate_hz=2.0)


@functools.cache
def _marks() -> str:
    from tests.instruments.rendered import marks_toml

    return marks_toml()


def _clips() -> list[bytes]:
    """Return three small clips: motion JPEG in AVI, MPEG-4 in MP4, VP8 in WebM."""
    import cv2
    import numpy as np

    from tests.instruments.rendered import Trouble, dial_picture

    found = []
    for ending, code in ((".avi", "MJPG"), (".mp4", "mp4v"), (".webm", "VP80")):
        path = _folder() / f"seed{ending}"
        video = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*code), 2.0, (300, 260))
        for i in range(3):
            picture = dial_picture(100.0 - i, Trouble(glare=0.0, hidden=0.0), np.random.default_rng(1), 0.0)
            video.write(cv2.cvtColor(picture, cv2.COLOR_GRAY2BGR))
        video.release()
        found.append(path.read_bytes())
    return found


def _blocks(page: str, wanted: str = "toml") -> list[bytes]:
    """Return the code blocks of a page of the documentation."""
    text = (ROOT / "docs" / page).read_text(encoding="utf-8")
    return [block.encode() for block in re.findall(rf"```{wanted}[^\n]*\n(.*?)```", text, re.DOTALL)]


def _whole_plans() -> list[bytes]:
    """Return the plans of the page that are whole; its other blocks are parts of one."""
    return [block for block in _blocks("plan.md") if block.startswith(b"format =")]


def _studied(pattern: str) -> list[bytes]:
    return [path.read_bytes() for path in sorted((STUDY / "recordings").glob(pattern))]


def _captions() -> list[bytes]:
    found = [path.read_bytes()[:3000] for path in sorted((ROOT / "tests" / "recordings" / "captions").glob("*.vtt"))]
    return [*found[:3], b"1\n00:00:01,000 --> 00:00:02,500\none two zero\n\n2\n00:00:03,000 --> 00:00:04,000\n- gear\n"]


def _backup() -> list[bytes]:
    target = _folder() / "seed-backup.zip"
    with tempfile.TemporaryDirectory(dir=_folder()) as folder, open_studies(Path(folder) / "s.db", clock) as store:
        write_backup(store, target, replace=True)
    return [target.read_bytes()]


def _fleet_file() -> list[bytes]:
    with fresh_store() as store:
        put_demo_fleet(store)
        data = export_fleet(store).text
    whole = json.loads(data)
    return [json.dumps({**whole, **{k: v[:2] for k, v in whole.items() if isinstance(v, list)}}).encode()]


def _pieces() -> list[bytes]:
    files = _good_bundle()
    return [bytes([i, 0]) + files[name] for i, name in enumerate(sorted(files))]


TARGETS = {
    target.name: target
    for target in (
        Target("tables", read_any_recording, lambda: [*(t.encode() for t in GOOD_FILES), *_studied("*logger.csv")]),
        Target("called", read_any_recording, lambda: [*_studied("[GHST]*.csv"), *_studied("*.txt")]),
        Target("columns", read_columns, lambda: [t.encode() for t in GOOD_FILES[:4]]),
        Target("gpx", read_any_recording, lambda: [a_gpx(4).encode()]),
        Target("nmea", read_any_recording, lambda: [an_nmea(4).encode()]),
        Target("igc", read_any_recording, lambda: [an_igc(4).encode()]),
        Target("captions", read_any_recording, _captions),
        Target(
            "taps",
            read_taps,
            lambda: [log_of({"s": 0.0, "kind": "open"}, reading(2.0, 120), mark(3.5, "gear down")).encode()],
        ),
        Target("mapping", lambda data: read_mapping(data, "x.json"), lambda: [mapping_document().encode()]),
        Target("airplane", read_airplane, lambda: [*_blocks("airplane.md"), (STUDY / "airplane.toml").read_bytes()]),
        Target("handbook", read_figures, lambda: _blocks("handbook.md"), heavy=True),
        Target("test-plan", read_flight_plan, lambda: [*_blocks("planning.md"), b"{}"]),
        Target("matchup-plan", read_matchup_plan, _whole_plans),
        Target(
            "marks", lambda data: read_marks(data.decode("utf-8", "replace"), "x"), lambda: _blocks("instruments.md")
        ),
        Target("register", read_register, lambda: [(FLEET / "register.csv").read_bytes()[:4000]], heavy=True),
        Target("fleet", read_fleet, _fleet_file, heavy=True),
        Target(
            "words", read_words, lambda: [b"power full; flaps 20; gear up", b"1001-1200, 1300 on", b"90 \xc2\xb1 2 kt"]
        ),
        Target("bundle", read_bundle, lambda: [packed(_good_bundle())], heavy=True),
        Target("repacked", read_repacked, _pieces, heavy=True),
        Target("backup", read_backup, _backup, heavy=True),
        Target("video", read_video, _clips, heavy=True, bend=bent),
    )
}
