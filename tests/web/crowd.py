"""A study that fills every page to its edge: names of sixty characters without a gap, sixty runs, a plan, a brief.

All invented. Most of its runs are lists of two stalls, since those are cheap to fit; the pages do not know.
"""

from __future__ import annotations

import io
import json
import tempfile
import tomllib
from datetime import datetime
from importlib.resources import files
from pathlib import Path

import cv2
import numpy as np

from tests.instruments.rendered import Trouble, dial_picture, marks_toml
from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.demonstration import take_in_demonstration
from wringout.services.findings.reduce import no_progress, reduce_study
from wringout.services.fleet_demonstration import FAMILY
from wringout.services.flights.capture import receive_taps
from wringout.services.flights.clip_documents import Wish
from wringout.services.flights.clips import keep_marks, read_marked_clip
from wringout.services.flights.recordings import take_in_recording
from wringout.services.matchups.compare import compare_techniques
from wringout.services.matchups.trial_drafts import keep_draft
from wringout.services.opening import Clock, Store, open_studies
from wringout.services.planning.chances import work_out
from wringout.services.planning.plans import Asked, keep_plan, read_test_plan
from wringout.services.publishing.publish import publish
from wringout.services.register.agreement_kept import keep_agreement
from wringout.services.study.studies import make_study

DEMO = files("wringout.services") / "demo_study"
NAME = "Quillback-230-of-the-flying-club-with-the-longest-name-there-x"[:60]
CROWDED = NAME.lower()[:52]
RUNS = 60
DRAWS, FLOWN, TRIALS = 400, 100, 4
FLOWN_FILES = (
    "F1-full-flaps.csv",
    "F2-full-flaps-a-wrong-call.txt",
    "F3-full-flaps-logger.csv",
    "G1-gear-out-and-back.csv",
    "H1-half-flaps.csv",
    "T1-travel-times.csv",
)
STALLS = """# method: stall series
# altitude: 5500 ft
# temperature: 9 C
# power: idle
# remark: {n}
flap, speed, entry rate, weight (lb), gear, note
up, {up}, 1, 2870, up, {name}
full, {full}, 1, 2850, down
"""
SAID = f"""WEBVTT

00:01.000 --> 00:03.000
<v {NAME}>one hundred ten

00:05.000 --> 00:07.000
gear down

00:09.000 --> 00:11.000
{NAME} and nothing else
"""
PLAN = f"""
format = "wringout test plan, version 1"
[flight]
fuel = "50 gal"
fuel_flow = "11 gal/h"
fuel_reserve = "12 gal"
ground_elevation = "1500 ft"
[[points]]
key = "F1"
method = "level deceleration"
remark = "{NAME}"
words = {{ device = "flaps", to = "full", "entry speed" = "100 kt", altitude = "7000 ft" }}
[[points]]
key = "F2"
method = "level deceleration"
words = {{ device = "flaps", to = "full", "entry speed" = "125 kt", altitude = "7000 ft" }}
[[hazards]]
key = "stall"
hazard = "{NAME}"
cause = "slow"
effect = "stall"
likelihood = "remote"
severity = "critical"
mitigation = ["{NAME}"]
residual_likelihood = "improbable"
residual_severity = "critical"
stop = "the warning"
"""


def make_crowd(database: Path, clock: Clock) -> None:
    """Put the bundled study, as it was taken in, and the crowded one, worked to its end, into a database."""
    with open_studies(database, clock) as store:
        take_in_demonstration(store)
        slug = make_study(store, NAME, f"{NAME}: gear or flaps first?", {"smallest": "25 ft"}).slug
        airplane = (DEMO / "airplane.toml").read_bytes().replace(b"Quillback 230 (invented)", NAME.encode(), 1)
        put_airplane_file(store, slug, airplane, f"{NAME}.toml")
        _plan(store, slug)  # before flying, as it is done, and quick while there is no run
        _fly(store, slug)
        reduced = reduce_study(store, slug, draws=DRAWS)
        compared = compare_techniques(store, slug, draws=FLOWN)
        publish(store, slug, database.parent / "brief", clock(), reduced=reduced, compared=compared)
        _rest(store, slug, clock())


def _fly(store: Store, slug: str) -> None:
    for name in FLOWN_FILES:
        setup = {"marks": "columns"} if "logger" in name else None
        data = (DEMO / "recordings" / name).read_bytes()
        take_in_recording(store, slug, io.BytesIO(data), f"{NAME[:54]}-{name[:2]}{name[-4:]}", NAME, setup=setup)
    for n in range(RUNS - len(FLOWN_FILES)):
        text = STALLS.format(n=n, up=56 + n % 5, full=45 + n % 4, name=NAME)
        take_in_recording(store, slug, io.BytesIO(text.encode()), f"{NAME[:53]}-{n:02d}.csv")
    take_in_recording(store, slug, io.BytesIO(b"one,two\nnot,a recording\n"), f"{NAME[:52]}-bad.csv")
    take_in_recording(store, slug, io.BytesIO(SAID.encode()), f"{NAME[:52]}-said.vtt")
    again = (DEMO / "recordings" / "F3-full-flaps-logger.csv").read_bytes().replace(b"\n", b"\n# again: yes\n", 1)
    take_in_recording(store, slug, io.BytesIO(again), f"{NAME[:52]}-again.csv", make_run=False)
    _film(store, slug)


def _film(store: Store, slug: str) -> None:
    """Take in a clip of a dial that is hidden for a while, and read it."""
    dice, hidden = np.random.default_rng(1), (8, 9)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{NAME[:52]}-dial.avi"
        video = cv2.VideoWriter(str(path), cv2.VideoWriter_fourcc(*"MJPG"), 10.0, (300, 260))
        for i in range(16):
            frame = dial_picture(110.0 - i, Trouble(0.0, 3.0, 0.0, 0.0), dice, 0.0)
            video.write(cv2.cvtColor(np.full_like(frame, 90) if i in hidden else frame, cv2.COLOR_GRAY2BGR))
        video.release()
        with path.open("rb") as stream:
            clip = take_in_recording(store, slug, stream, path.name, make_run=False).item.recording.sha256
    keep_marks(store, slug, clip, Wish(tomllib.loads(marks_toml())))
    read_marked_clip(store, slug, clip)


def _plan(store: Store, slug: str) -> None:
    keep_plan(store, slug, read_test_plan(PLAN.encode(), "plan"))
    work_out(store, slug, "flight-1", Asked(trials=TRIALS), ("as planned",), no_progress)


def _rest(store: Store, slug: str, now: datetime) -> None:
    keep_agreement(store, slug, FAMILY, now.date())
    keep_draft(store, slug, "kept", NAME, [{"device": "flaps", "to": "half", "wait_s": 1.0, "gate": ""}], 0)
    taps = [
        {"sequence": n, "kind": "mark", "label": "stable", "wall_ms": 1.8e12 + n, "mono_ms": n, "epoch": "e"}
        for n in (1, 2)
    ]
    receive_taps(store, slug, "one", "a-phone", json.loads(json.dumps(taps)))
