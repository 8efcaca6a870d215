"""A study that fills every page to its edge: names of sixty characters without a gap, sixty runs, a plan, a brief.

All invented. Most of its runs are lists of two stalls, since those are cheap to fit; the pages do not know.
"""

from __future__ import annotations

import io
import json
from datetime import datetime
from importlib.resources import files
from pathlib import Path

from wringout.services.airplane.airplanes import put_airplane_file
from wringout.services.demonstration import take_in_demonstration
from wringout.services.findings.reduce import no_progress, reduce_study
from wringout.services.fleet_demonstration import FAMILY
from wringout.services.flights.capture import receive_taps
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
