"""Write the recordings and the test plan of the demo study again, exactly as they stand in the package.

Usage: ``python tools/make_demo_study.py`` (writes them) or ``python tools/make_demo_study.py --check`` (compares only).

Everything is invented. An invented airplane, ``TRUTH``, that differs from what the study's airplane file believes, is
flown by the methods' own ``simulate`` with reading noise, and what a second person would have written down is put into
ordinary text files. The truth is kept here and nowhere in the package: the study has to find it.
"""

from __future__ import annotations

import sys
import zlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.airplane.vector import FloatArray
from wringout.methods.level_deceleration.run import DecelerationRun, knots
from wringout.methods.register import method
from wringout.planning.document import EngineSection, FlightSection, QuestionSection, TestPlanDocument
from wringout.planning.hazards import GO_NO_GO, starter_hazards
from wringout.planning.propose import Wishes, propose
from wringout.recordings.reader import read_recording
from wringout.recordings.types import Device
from wringout.services.planning.plans import plan_toml
from wringout.units import DEGREE, HORSEPOWER, KNOT, SQUARE_FOOT

STUDY = Path(__file__).resolve().parents[1] / "src" / "wringout" / "services" / "demo_study"
PLAN = "test-plan.toml"
SEED = 230

TRUTH: Mapping[str, float] = {
    # invented; each within what the airplane file believes, none at its middle
    "glide_ratio": 11.35,
    "glide_speed": 92.5 * KNOT,
    "clean_slope": 0.5 * SQUARE_FOOT,
    "gear_area": 4.7 * SQUARE_FOOT,
    "door_bump": 0.04,
    "interaction": 0.22,
    "flap_area": 6.6 * SQUARE_FOOT,  # full, at lift coefficient 0.5
    "flap_share.1": 2.0 / 6.6,  # of it, had at half
    "flap_floor.1": 0.25,
    "flap_floor.2": 0.3,
    "flap_lift_slope.1": -1.2 * SQUARE_FOOT,
    "flap_lift_slope.2": -3.4 * SQUARE_FOOT,
    "cl_max": 1.49,
    "cl_gain": 0.65,
    "cl_share.1": 0.48 / 0.65,
    "stall_rate_slope": -0.03,
    "efficiency_slope": 0.16,
    "thrust_bend": -0.25,
    "disk_efficiency": 0.80,
    "rated_power": 226.0 * HORSEPOWER,
    "flap_down_time": 6.3,
    "flap_up_time": 5.6,
    "gear_down_time": 7.2,
    "gear_up_time": 6.7,
    "ias_bias": 0.6 * KNOT,
    "mass_factor": 1.004,
}


@dataclass(frozen=True, slots=True)
class Called:
    """A level deceleration as it is called out: when the dial is read, and what is said at which second.

    ``times`` are seconds on the run's own clock; ``first`` is what the written clock shows at second 0. ``missed`` are
    times at which no speed was called. ``wrong`` maps a time to the knots by which it was called wrongly. ``altitude``
    gives the true altitude, ft, at a time.
    """

    file: str
    header: tuple[str, ...]
    entry_kt: float
    times: tuple[int, ...]
    said: Mapping[int, str]
    columns: str = "time, speed, mark"
    clock: Callable[[int], str] = str
    first: int = 0
    missed: frozenset[int] = frozenset()
    wrong: Mapping[int, int] | None = None
    altitude: Callable[[float], float] | None = None


def minutes(second: int) -> str:
    """Return m:ss."""
    return f"{second // 60}:{second % 60:02d}"


def hours(second: int) -> str:
    """Return h:mm:ss."""
    return f"{second // 3600}:{second // 60 % 60:02d}:{second % 60:02d}"


def every(step: int, until: int, start: int = 0, *, without: Sequence[int] = ()) -> tuple[int, ...]:
    """Return seconds from ``start`` to ``until``, some left out."""
    return tuple(t for t in range(start, until + 1, step) if t not in without)


INVENTED = "# Quillback 230 (invented); an invented flight"

RUNS: tuple[Called, ...] = (
    Called(
        "G1-gear-out-and-back.csv",
        (
            INVENTED,
            "# method: level deceleration",
            "# device: gear",
            "# altitude: 6500 ft",
            "# temperature: 6 C",
            "# weight: 3010 lb",
            "# power: 21 in 2400 rpm, not touched until the end",
            "# altitude held: 40 ft",
        ),
        121.0,
        (0, 6, 12, 18, *every(6, 102, 26), 108, *every(6, 180, 114, without=(138,))),
        {12: "gear down", 20: "three green", 102: "stable", 108: "gear up", 115: "gear lights out"},
        clock=minutes,
        missed=frozenset({56}),
    ),
    Called(
        "G2-gear-cut-short.csv",
        (
            INVENTED,
            "# method: level deceleration",
            "# device: gear",
            "# altitude: 6500 ft",
            "# temperature: 6 C",
            "# weight: 2995 lb",
            "# power: 21 in 2400 rpm",
            "# altitude held: 40 ft",
            "# cut short for traffic, 12 o'clock",
        ),
        120.0,
        (0, 6, 12, 18, 24, 31, 36, 42, 48),
        {11: "gear down", 19: "three green", 48: "traffic"},
        clock=minutes,
    ),
    Called(
        "G3-gear-altitude-wanders.csv",
        (
            INVENTED,
            "# method: level deceleration",
            "# device: gear",
            "# altitude: 6500 ft",
            "# temperature: 7 C",
            "# weight: 2980 lb",
            "# power: 20.5 in 2400 rpm",
            "# a bumpy half minute, altitude read along",
        ),
        118.0,
        (0, 6, 12, *every(7, 124, 19, without=(54,))),
        {12: "gear down", 20: "gear down and locked", 124: "stable"},
        columns="time; speed (kt); altitude (ft); mark",
        clock=hours,
        first=10 * 3600 + 41 * 60 + 17,
        altitude=lambda t: 6510.0 + 45.0 * np.sin(2.0 * np.pi * t / 118.0) - 0.25 * t,
    ),
    Called(
        "F1-full-flaps.csv",
        (
            INVENTED,
            "# method: level deceleration",
            "# device: flaps",
            "# altitude: 6000 ft",
            "# temperature: 7 C",
            "# weight: 2965 lb",
            "# power: 19.5 in 2400 rpm",
            "# altitude held: 50 ft",
        ),
        107.0,
        every(6, 108, without=(36, 66)),
        {12: "flaps full", 18: "flaps stopped", 108: "stable"},
        clock=minutes,
    ),
    Called(
        "F2-full-flaps-a-wrong-call.txt",
        (
            INVENTED,
            "# method: level deceleration",
            "# device: flaps",
            "# altitude: 6000 ft",
            "# temperature: 7 C",
            "# weight: 2950 lb",
            "# power: 19.5 in 2400 rpm",
            "# altitude held: 50 ft",
            "# typed from the video of the panel",
        ),
        106.0,
        every(6, 102, without=(54,)),
        {12: "full flaps", 96: "stable"},
        columns="",
        clock=minutes,
        first=58 * 60 + 48,
        wrong={42: 10},
    ),
    Called(
        "H1-half-flaps.csv",
        (
            INVENTED,
            "# method: level deceleration",
            "# device: flaps",
            "# altitude: 6000 ft",
            "# temperature: 8 C",
            "# weight: 2910 lb",
            "# power: 20 in 2400 rpm",
            "# altitude held: 40 ft",
        ),
        112.0,
        every(6, 114, without=(48,)),
        {12: "flaps half", 15: "flaps at half", 108: "steady"},
        clock=minutes,
    ),
    Called(
        "H2-half-flaps.csv",
        (
            INVENTED,
            "# method: level deceleration",
            "# device: flaps",
            "# altitude: 6000 ft",
            "# temperature: 8 C",
            "# weight: 2900 lb",
            "# power: 20 in 2400 rpm",
            "# altitude held: 50 ft",
        ),
        110.0,
        (0, 5, 11, *every(6, 119, 17, without=(77, 83))),
        {11: "flaps 20"},
        clock=str,
    ),
    Called(
        "B1-full-flaps-with-gear-down.csv",
        (
            INVENTED,
            "# method: level deceleration",
            "# device: flaps",
            "# entry gear: down",
            "# altitude: 5500 ft",
            "# temperature: 8 C",
            "# weight: 2885 lb",
            "# power: 22 in 2400 rpm",
            "# altitude held: 50 ft",
        ),
        105.0,
        every(6, 102, without=(30,)),
        {12: "flaps full", 18: "flaps stopped", 96: "stable"},
        clock=minutes,
    ),
)

LOGGER = Called(
    "F3-full-flaps-logger.csv",
    (
        "# recorder: Fencepost panel log (invented); an invented flight",
        "# method: level deceleration",
        "# device: flaps",
        "# altitude: 6000 ft",
        "# weight: 2935 lb",
        "# temperature: 7 C",
        "# altitude held: 30 ft",
    ),
    105.5,
    every(6, 120),
    {15: "flaps full"},
    clock=str,
)

STALLS_HEAD = """\
# Quillback 230 (invented); an invented flight
# method: stall series
# altitude: 5500 ft
# temperature: 9 C
# power: idle
flap, speed, entry rate, weight (lb), gear, note
"""

STALLS: tuple[tuple[str, str, str, str, str], ...] = (
    ("up", "1", "2870", "up", ""),
    ("up", "1.5", "2866", "up", "light buffet 3 kt before"),
    ("up", "0.8", "2862", "up", ""),
    ("half", "1", "2856", "up", ""),
    ("half", "1.2", "2853", "up", ""),
    ("half", "1", "2850", "down", ""),
    ("full", "1", "2844", "down", ""),
    ("full", "2", "2840", "down", "nose dropped sharply"),
    ("full", "1", "2836", "down", ""),
)

TRAVELS_HEAD = """\
# Quillback 230 (invented); on the flight of the runs, at 90 kt, stop-watch with tenths
# method: transit timing
device, from, to, seconds
"""

TRAVELS: tuple[tuple[str, str, str], ...] = (
    ("gear", "up", "down"),
    ("gear", "down", "up"),
    ("gear", "up", "down"),
    ("gear", "down", "up"),
    ("gear", "up", "down"),
    ("gear", "down", "up"),
    ("flaps", "up", "full"),
    ("flaps", "full", "up"),
    ("flaps", "up", "full"),
    ("flaps", "full", "up"),
    ("flaps", "up", "full"),
    ("flaps", "full", "up"),
    ("flaps", "full", "half"),
)


def believed() -> Beliefs:
    """Return what the study's airplane file believes."""
    return airplane_from_document(parse_airplane((STUDY / "airplane.toml").read_text(encoding="utf-8")))


def rng_for(file: str) -> np.random.Generator:
    """Return the dice of one file, so that files can be added without changing the others."""
    return np.random.default_rng([SEED, zlib.crc32(file.encode())])


def _cells(run: Called, second: int, speed: str, altitude: str, said: str) -> str:
    """Return one written row."""
    time = run.clock(run.first + second)
    if not run.columns:
        return f"{time} {speed} {said}".rstrip()
    if run.altitude is not None:
        return "; ".join((time, speed, altitude, said)).rstrip("; ")
    return ", ".join((time, speed, said)).rstrip(", ") if said or speed else f"{time},"


def _written(run: Called, speeds: Mapping[int, str], altitudes: Mapping[int, str]) -> str:
    rows = [
        _cells(run, t, speeds.get(t, ""), altitudes.get(t, ""), run.said.get(t, ""))
        for t in sorted({*run.times, *run.said})
    ]
    return "\n".join([*run.header, *([run.columns] if run.columns else []), *rows]) + "\n"


def _skeleton(run: Called, beliefs: Beliefs) -> DecelerationRun:
    """Return the run as planned: read from a file of its own kind that shows the entry speed throughout."""
    speeds = {t: f"{run.entry_kt:.0f}" for t in run.times if t not in run.missed}
    altitudes = {} if run.altitude is None else {t: f"{run.altitude(float(t)):.2f}" for t in run.times}
    recording = read_recording(_written(run, speeds, altitudes).encode(), run.file)
    planned: DecelerationRun = method("level deceleration").from_recording("run", recording, {}, beliefs)[0]
    return planned


def called_text(run: Called, truth: FloatArray, beliefs: Beliefs) -> str:
    """Return the file of a hand-called run."""
    rng = rng_for(run.file)
    flown = method("level deceleration").simulate(_skeleton(run, beliefs), truth, beliefs, rng)
    seconds = [t for t in run.times if t not in run.missed]
    speeds = {t: f"{x / KNOT + (run.wrong or {}).get(t, 0):.0f}" for t, x in zip(seconds, flown.ias_mps, strict=True)}
    speeds |= dict.fromkeys(run.missed, "-")
    altitudes: dict[int, str] = {}
    if run.altitude is not None:
        altitudes = {t: f"{round((run.altitude(float(t)) + rng.normal(0.0, 6.0)) / 10.0) * 10:d}" for t in seconds}
    return _written(run, speeds, altitudes)


def logger_text(run: Called, truth: FloatArray, beliefs: Beliefs) -> str:
    """Return the file of the run that a panel logger recorded at 2 Hz."""
    rng = rng_for(run.file)
    planned = _skeleton(run, beliefs)
    known = method("level deceleration").nuisances(planned, beliefs)
    own = {"entry acceleration": 0.004, "propeller": -0.6}
    nuisance = np.array([own.get(n.key, n.mean) for n in known])
    times = np.arange(0.0, float(run.times[-1]) + 0.1, 0.5)
    timed = method("level deceleration")
    speed = timed.curve(planned, truth, nuisance, beliefs, times) / KNOT  # type: ignore[attr-defined]
    gust = np.zeros(times.size)
    for i in range(1, times.size):
        gust[i] = 0.8 * gust[i - 1] + rng.normal(0.0, 0.3)
    flap_t, flap_x = knots(planned, truth, np.zeros(len(planned.moves)), Device.FLAPS)
    flap = np.interp(times, flap_t, flap_x) / DEGREE
    lines = [
        *run.header,
        "Date,Time,IAS,Altitude,OAT,Flaps,Gear,MAP,RPM,Fuel Flow,CHT 3",
        "yyyy-mm-dd,hh:mm:ss,kt,ft,degC,deg,,inHg,rpm,gal/h,degF",
    ]
    for i, t in enumerate(times):
        clock = 11 * 3600 + 2 * 60 + 30 + float(t)
        stamp = f"{int(clock // 3600):02d}:{int(clock // 60 % 60):02d}:{clock % 60:04.1f}"
        drift = 8.0 * np.sin(t / 17.0) + rng.normal(0.0, 1.5)
        lines.append(
            f"2026-05-09,{stamp},{speed[i] + gust[i] + rng.normal(0.0, 0.2):.1f},{6003.0 + drift:.0f},7,"
            f"{flap[i]:.1f},UP,{19.5 + rng.normal(0.0, 0.03):.1f},{2400 + rng.integers(-4, 5)},"
            f"{10.1 + rng.normal(0.0, 0.08):.1f},{352 + int(t // 40)}"
        )
    return "\n".join(lines) + "\n"


def stalls_text(truth: FloatArray, beliefs: Beliefs) -> str:
    """Return the list of stalls."""

    def written(speeds: Sequence[str]) -> str:
        rows = [
            ", ".join((flap, speed, rate, weight, gear, note)).rstrip(", ")
            for speed, (flap, rate, weight, gear, note) in zip(speeds, STALLS, strict=True)
        ]
        return STALLS_HEAD + "\n".join(rows) + "\n"

    name = "S1-stalls.csv"
    recording = read_recording(written(["50"] * len(STALLS)).encode(), name)
    planned = method("stall series").from_recording("S1", recording, {}, beliefs)[0]
    flown = method("stall series").simulate(planned, truth, beliefs, rng_for(name))
    return written([f"{x / KNOT:.0f}" for x in flown.ias_mps])


def travels_text(truth: FloatArray, beliefs: Beliefs) -> str:
    """Return the list of timed travels."""

    def written(seconds: Sequence[str]) -> str:
        rows = [", ".join((*travel, time)) for time, travel in zip(seconds, TRAVELS, strict=True)]
        return TRAVELS_HEAD + "\n".join(rows) + "\n"

    name = "T1-travel-times.csv"
    recording = read_recording(written(["5.1"] * len(TRAVELS)).encode(), name)
    planned = method("transit timing").from_recording("T1", recording, {}, beliefs)[0]
    flown = method("transit timing").simulate(planned, truth, beliefs, rng_for(name))
    return written([f"{x:.1f}" for x in flown.seconds])


PLAN_NOTE = """\
# The test plan of the demo study's flight, as it was made before the flight. All invented, the place and the day too.
# Written by tools/make_demo_study.py.
"""
PLAN_FLIGHT = FlightSection(
    start="2026-05-09T10:00+02:00",
    latitude=48.0,
    longitude=9.0,
    ground_elevation="1500 ft",
    fuel="55 gal",
    fuel_flow="11 gal/h",
    fuel_reserve="12 gal",
    load={"front seats": "350 lb", "baggage": "20 lb"},
)
PLAN_QUESTION = QuestionSection(
    # what can be in doubt before the flight; which of flaps and gear goes first is not, by the difference that matters
    first="gear-up,flaps-half,flaps-up",
    second="gear-up-climbing,flaps-half,flaps-up",
    law="level, then climb",
    knowing="beliefs only",
)
PLAN_ENGINE = EngineSection(highest_rpm="2600 rpm", highest_manifold_pressure="29 inHg")


def plan_text(beliefs: Beliefs) -> str:
    """Return the test plan: the points proposed for the airplane file, with the starter hazards and list."""
    points = propose(beliefs, Wishes(repeats=2, altitude_ft=6500.0, ground_ft=1500.0))
    document = TestPlanDocument(
        title="Quillback 230 (invented): the flight of the study",
        question=PLAN_QUESTION,
        flight=PLAN_FLIGHT,
        engine=PLAN_ENGINE,
        points=[point for point in points if point.method not in ("glide", "climb")],
        hazards=list(starter_hazards([point.method for point in points])),
        go_no_go=list(GO_NO_GO),
    )
    return PLAN_NOTE + plan_toml(document)


def all_files() -> dict[Path, str]:
    """Return the text of every recording, and of the test plan, by its place in the folder of the study."""
    beliefs = believed()
    truth = beliefs.row(TRUTH)
    files = {run.file: called_text(run, truth, beliefs) for run in RUNS}
    files[LOGGER.file] = logger_text(LOGGER, truth, beliefs)
    files["S1-stalls.csv"] = stalls_text(truth, beliefs)
    files["T1-travel-times.csv"] = travels_text(truth, beliefs)
    return {Path("recordings") / name: text for name, text in files.items()} | {Path(PLAN): plan_text(beliefs)}


def main(arguments: Sequence[str]) -> int:
    """Write or check the files; return the exit code."""
    different = []
    for name, text in all_files().items():
        path = STUDY / name
        if path.exists() and path.read_bytes() == text.encode():
            continue
        different.append(str(name))
        if "--check" not in arguments:
            path.write_bytes(text.encode())
    print("\n".join(different) if different else "The files are as they would be made now.")
    return 1 if different and "--check" in arguments else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
