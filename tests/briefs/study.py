"""A small invented study for the tests of the brief: recordings are simulated, written as text and read back."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import AirplaneDocument, parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.briefs.airplane_figures import airplane_figures
from wringout.briefs.content import BriefContent, KeyFigure, RecordingUsed, RunAside
from wringout.estimate.problem import StudyRun
from wringout.estimate.reduction import Reduction, reduce_runs
from wringout.methods.register import method
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Recording
from wringout.techniques.flying.matchup import fly_matchups
from wringout.techniques.stated.orders import Detent, orders
from wringout.techniques.stated.types import Domain, EntrySpeed, GoAround, Law, Matchup, Thresholds
from wringout.units import FOOT, KNOT, POUND

NAME = "Quillback 230 (invented)"
AIRPLANE = """
format = "wringout airplane, version 1"
name = "Quillback 230 (invented)"
invented = true
source = "invented for the tests"
stall_speed_clean = "62 ± 2 kt"
[geometry]
wing_area = "174 ft2"
span = "33.5 ft"
[propulsion]
propeller = "constant speed"
diameter = "76 in"
rated_power = "230 ± 5 hp"
[drag]
clean_area = "4.0 ± 0.4 ft2"
span_efficiency = "0.75 ± 0.06"
gear_area = "4 ± 3 ft2"
[[flaps]]
name = "half"
angle = "20 deg"
stall_speed = "54 ± 2 kt"
limit_speed = "130 kt"
[[flaps]]
name = "full"
angle = "40 deg"
stall_speed = "51 ± 2 kt"
limit_speed = "110 kt"
[flap_travel]
down_time = "6 ± 2 s"
up_time = "6 ± 2 s"
[gear]
down_time = "7 ± 2 s"
up_time = "7 ± 2 s"
operate_limit = "140 kt"
retract_limit = "110 kt"
extended_limit = "140 kt"
[limits]
max_weight = "3200 lb"
never_exceed = "180 kt"
[instrument]
reading = "1 kt"
clock = "0.5 s"
bias = "0 ± 1 kt"
"""
TRUE_VALUES = {"gear_area": 4.5, "flap_area": 6.6, "interaction": 0.25}
"""Areas of the airplane that is flown, ft2 (invented)."""


@cache
def document() -> AirplaneDocument:
    return parse_airplane(AIRPLANE)


@cache
def beliefs() -> Beliefs:
    return airplane_from_document(document())


def true_row() -> np.ndarray:
    """Return the invented airplane that is flown."""
    known = beliefs()
    values = {p.key: p.prior.from_latent(0.3) for p in known.parameters}
    for key, value in TRUE_VALUES.items():
        values[key] = value if key == "interaction" else value * FOOT**2
    values["ias_bias"], values["mass_factor"] = 0.2, 1.002
    return known.row(values)


def _called(name: str, device: str, entry_kt: int, seconds: int, extra: str = "", middle: str = "") -> str:
    """Return the empty form of a called run: times and marks, entry speed in every row."""
    lines = [
        "# method: level deceleration",
        "# altitude: 7000 ft",
        "# temperature: 8 C",
        "# weight: 2950 lb",
        *([extra] if extra else []),
        "time, speed, mark",
    ]
    for t in range(0, seconds, 6):
        mark = device if t == 12 else middle if middle and t == 96 else ""
        lines.append(f"{t // 60}:{t % 60:02d}, {entry_kt}{', ' + mark if mark else ''}")
    return "\n".join(lines) + "\n"


def _filled(form: str, key: str, name: str, seed: int, row: np.ndarray, wrong: tuple[int, int] | None) -> bytes:
    """Return the form with the speeds the airplane would have shown; ``wrong`` is (reading, knots) misheard."""
    known, way = beliefs(), method("level deceleration")
    run = way.from_recording(key, read_recording(form.encode(), name), {}, known)[0]
    flown = way.simulate(run, row, known, np.random.default_rng(seed))
    speeds = [round(float(v) / KNOT) for v in flown.ias_mps]
    if wrong is not None:
        speeds[wrong[0]] += wrong[1]
    out, i = [], 0
    for line in form.splitlines():
        if line[0].isdigit():
            cells = line.split(", ")
            cells[1] = str(speeds[i])
            line, i = ", ".join(cells), i + 1
        out.append(line)
    return ("\n".join(out) + "\n").encode()


STALLS = b"""# method: stall series
# altitude: 6000 ft
# temperature: 4 C
# weight: 2950 lb
flap, speed, entry rate
up, 60, 1
up, 59, 1.5
up, 60, 1
half, 51, 1
half, 52, 1
half, 51, 2
full, 48, 1
full, 49, 1
full, 48, 1.5
"""
TIMINGS = b"""# method: transit timing
device, from, to, seconds
gear, up, down, 7.1
gear, up, down, 7.4
gear, down, up, 6.8
gear, down, up, 7.0
flaps, up, full, 6.3
flaps, up, full, 6.1
flaps, full, up, 5.8
flaps, full, half, 3.0
"""


@dataclass(frozen=True)
class Study:
    reduction: Reduction
    recordings: tuple[RecordingUsed, ...]


def _reduce(files: list[tuple[str, str, str, bytes]]) -> Study:
    runs, used = [], []
    for key, way, name, data in files:
        recording: Recording = read_recording(data, name)
        runs += [StudyRun(run, method(way)) for run in method(way).from_recording(key, recording, {}, beliefs())]
        used.append(RecordingUsed(name, recording.sha256, len(data), len(recording)))
    return Study(reduce_runs(beliefs(), runs, draws=2000, seed=7), tuple(used))


@cache
def full_study() -> Study:
    row, files = true_row(), []
    forms = [
        ("G1", "gear-1.csv", "gear down", 125, 150, "", "", None),
        ("G2", "gear-2.csv", "gear down", 122, 72, "", "", None),
        ("G3", "gear-3.csv", "gear down", 124, 180, "", "gear up", None),
        ("F1", "flaps-1.csv", "flaps full", 106, 150, "", "", None),
        ("F2", "flaps-2.csv", "flaps full", 112, 150, "", "", (9, -12)),
        ("F3", "flaps-3.csv", "flaps full", 105, 132, "", "", None),
        ("H1", "half-1.csv", "flaps half", 118, 138, "", "", None),
        ("B1", "both-1.csv", "flaps full", 100, 120, "# entry gear: down", "", None),
    ]
    for number, (key, name, device, entry, seconds, extra, middle, wrong) in enumerate(forms):
        form = _called(name, device, entry, seconds, extra, middle)
        files.append((key, "level deceleration", name, _filled(form, key, name, 10 + number, row, wrong)))
    files += [("S1", "stall series", "stalls.csv", STALLS), ("T1", "transit timing", "timings.csv", TIMINGS)]
    return _reduce(files)


HOSTILE = "<b>&amp; \"x\" 'y' *z* #panic() $k$ @a \\ \u202eright {{ 7*7 }}"
"""Text that is markup in HTML, Typst and Jinja, with a mark that turns the direction of writing."""


@cache
def one_run_study(key: str = "G1", name: str = "gear-1.csv") -> Study:
    form = _called(name, "gear down", 125, 150)
    return _reduce([(key, "level deceleration", name, _filled(form, key, name, 3, true_row(), None))])


@cache
def flap_run_study() -> Study:
    """One run with full flaps and nothing else."""
    form = _called("flaps-1.csv", "flaps full", 108, 130)
    return _reduce(
        [("F1", "level deceleration", "flaps-1.csv", _filled(form, "F1", "flaps-1.csv", 4, true_row(), None))]
    )


@cache
def matchups() -> tuple[Matchup, ...]:
    known = beliefs()
    detents = [Detent(s.name, s.angle_rad) for s in known.settings]
    start = known.settings[-1].angle_rad
    return fly_matchups(
        full_study().reduction.posterior.rows[:400],
        GoAround(start_flap_rad=start, entry_speed=EntrySpeed(1.3)),
        Domain((2700 * POUND, 3200 * POUND), (0.0, 3000 * FOOT), (-10.0, 20.0), (1.25, 1.35)),
        orders(detents, start),
        tuple(Law),
        Thresholds(difference=25 * FOOT),
        seed=11,
    )


def content(*, study: Study | None = None, with_matchups: bool = True, **changes: object) -> BriefContent:
    """Return the invented study's brief, with any field changed."""
    held = full_study() if study is None else study
    fields: dict[str, object] = {
        "title": "Clean-up order in a go-around",
        "question": "In a go-around from full flap and gear down, which comes up first: the gear or the flaps?",
        "difference": "25 ft of energy height at 30 s",
        "invented": True,
        "airplane": NAME,
        "reduction": held.reduction,
        "key_figures": airplane_figures(document()),
        "conditions": (KeyFigure("Air", "smooth, no cloud", "invented"), KeyFigure("Crew", "pilot and one recorder")),
        "recordings": held.recordings,
        "matchups": matchups() if with_matchups else (),
        "asides": (RunAside("G4", "gear down", "rough air; flown again as G3"),),
        "version": "0.1.0",
        "bundle_sha256": "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
        "date": "25 November 2026",
        "reproduce": ("wringout import clean-up-order.zip", "wringout reduce --seed 7", "wringout compare --seed 11"),
    }
    fields.update(changes)
    return BriefContent(**fields)  # type: ignore[arg-type]
