"""An invented airplane and runs flown by our own model, for tests of the estimator (all numbers invented)."""

from __future__ import annotations

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.estimate.problem import StudyRun
from wringout.methods.level_deceleration.run import DecelerationRun, Move
from wringout.methods.register import method
from wringout.methods.types import Conditions, Source
from wringout.recordings.types import Device
from wringout.units import DEGREE, FOOT, KNOT, POUND

AIRPLANE = """
format = "wringout airplane, version 1"
name = "Quillback 230 (invented)"
invented = true
stall_speed_clean = "60 ± 2 kt"
[geometry]
wing_area = "174 ft2"
span = "33.5 ft"
[propulsion]
propeller = "constant speed"
diameter = "76 in"
rated_power = "230 ± 5 hp"
[drag]
clean_area = "4.0 ± 0.3 ft2"
span_efficiency = "0.75 ± 0.05"
gear_area = "4 ± 3 ft2"
[[flaps]]
name = "half"
angle = "20 deg"
area = "2.5 ± 1.5 ft2"
stall_speed = "54 ± 2 kt"
limit_speed = "125 kt"
[[flaps]]
name = "full"
angle = "40 deg"
area = "7 ± 4 ft2"
stall_speed = "52 ± 2 kt"
limit_speed = "110 kt"
[gear]
down_time = "7 ± 2 s"
up_time = "7 ± 2 s"
operate_limit = "140 kt"
[flap_travel]
down_time = "6 ± 2 s"
up_time = "6 ± 2 s"
[limits]
max_weight = "3200 lb"
never_exceed = "190 kt"
"""

DECELERATION = method("level deceleration")


def beliefs() -> Beliefs:
    return airplane_from_document(parse_airplane(AIRPLANE))


def blank_run(key: str, device: Device, to: float, entry_kt: float, seconds: float = 120.0) -> DecelerationRun:
    """A deceleration with its times, waiting for speeds: readings every 6 s, the device selected 12 s in."""
    times = np.arange(0.0, seconds, 6.0)
    return DecelerationRun(
        key=key,
        title=key,
        source=Source("0" * 64, f"{key}.csv"),
        conditions=Conditions(7000 * FOOT, 0.0, 3000 * POUND, 20 * FOOT),
        time_s=times,
        ias_mps=np.full(times.size, entry_kt * KNOT),
        altitude_m=np.full(times.size, np.nan),
        rows=np.arange(2, 2 + times.size),
        moves=(Move(device, 12.0, 0.0, to, None, 4),),
        entry_gear=0.0,
        entry_flap_rad=0.0,
    )


def flown(key: str, device: Device, to: float, entry_kt: float, row: np.ndarray, seed: int) -> StudyRun:
    """The run the airplane ``row`` would have produced, with reading noise."""
    run = DECELERATION.simulate(blank_run(key, device, to, entry_kt), row, beliefs(), np.random.default_rng(seed))
    return StudyRun(run, DECELERATION)


def small_study(row: np.ndarray, seed: int = 1) -> list[StudyRun]:
    """Two gear runs and two full-flap runs."""
    full = 40.0 * DEGREE
    return [
        flown("G1", Device.GEAR, 1.0, 120.0, row, seed),
        flown("G2", Device.GEAR, 1.0, 118.0, row, seed + 1),
        flown("F1", Device.FLAPS, full, 108.0, row, seed + 2),
        flown("F2", Device.FLAPS, full, 106.0, row, seed + 3),
    ]
