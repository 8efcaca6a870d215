"""Trials on an airplane nobody here wrote: JSBSim's L17 is flown, read off, written down as text, and reduced.

The way through is the one a user takes: a text with header lines and calls, `read_recording`, the method's
`from_recording`, the joint fit, posterior draws. What comes out is held against the drag that JSBSim itself reports at
equal speed and equal lift. Used by the tests beside this file and by tools/accuracy_table.py.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.outside.flight_dynamics import Device, Flown, device_drag_area, fly_level_deceleration, read_by_hand
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import parse_airplane
from wringout.airplane.from_document import airplane_from_document
from wringout.airplane.vector import FloatArray
from wringout.airspeed import equivalent_from_calibrated
from wringout.estimate.findings import device_areas
from wringout.estimate.fit import fit
from wringout.estimate.posterior import draw
from wringout.estimate.problem import StudyRun
from wringout.methods.register import method
from wringout.recordings.reader import read_recording
from wringout.units import DEGREE, FOOT, KNOT, POUND, SQUARE_FOOT

ALTITUDE_FT = 3000.0
WEIGHT_LB = 2770.0
FULL_FLAP_DEG = 30.0
BEFORE_S = 18.0
REACTION_S = 0.3
DRAWS = 600
PLACES = ("entry", "middle", "end")
DEVICES: tuple[Device, ...] = ("gear", "flaps")

ENTRIES_ONE: dict[Device, tuple[float, ...]] = {"gear": (135.0,), "flaps": (120.0,)}
ENTRIES_THREE: dict[Device, tuple[float, ...]] = {"gear": (135.0, 130.0, 125.0), "flaps": (120.0, 118.0, 115.0)}

AIRPLANE = """\
format = "wringout airplane, version 1"
name = "L17, a model in the wheel of JSBSim"
source = "figures its handbook would print: tests/outside, handbook_figures"
stall_speed_clean = "68.3 ± 2 kt"

[geometry]
wing_area = "184 ft2"
span = "33.42 ft"

[propulsion]
propeller = "fixed pitch"
diameter = "75 in"
rated_power = "260 hp"

[drag]
best_glide = { ratio = "11.6 ± 0.35", speed = "87 ± 2.5 kt", weight = "2770 lb" }
gear_area = "4 ± 3 ft2"

[[flaps]]
name = "half"
angle = "15 deg"
stall_speed = "62 ± 2 kt"

[[flaps]]
name = "full"
angle = "30 deg"
stall_speed = "57.2 ± 2 kt"

[flap_travel]
down_time = "6 ± 4 s"

[gear]
down_time = "8 ± 4 s"

[limits]
max_weight = "2770 lb"

[instrument]
reading = "1 kt"
clock = "0.5 s"
bias = "0 ± 0.5 kt"
"""


@dataclass(frozen=True, slots=True)
class Slip:
    """What is done differently on purpose in a trial: nothing, by default.

    ``mark_late_s``: the device is written down as selected that much after it was. ``mark_scatter_s``: standard
    deviation of the time written down. ``bias_kt``: the dial reads that much high, and the airplane file denies it.
    ``weight_share``: stated over true weight. ``at_once``: the device is taken as out the moment it is selected, and
    nothing is timed. ``exact``: readings and timings without any error, to a thousandth.
    """

    mark_late_s: float = 0.0
    mark_scatter_s: float = 0.0
    bias_kt: float = 0.0
    weight_share: float = 1.0
    at_once: bool = False
    exact: bool = False


NO_SLIP = Slip()


@dataclass(frozen=True, slots=True)
class Trial:
    """One device over many repeats. ``speeds_kias`` and ``truth_ft2`` are (3,): entry, middle, end of its first run.

    ``estimate_ft2`` (the posterior median), ``low_ft2`` and ``high_ft2`` (its 95 % interval) are (repeats, 3).
    """

    device: Device
    speeds_kias: FloatArray
    truth_ft2: FloatArray
    estimate_ft2: FloatArray
    low_ft2: FloatArray
    high_ft2: FloatArray

    @property
    def error(self) -> FloatArray:
        """Relative error of each repeat at each speed."""
        return np.asarray(self.estimate_ft2 / self.truth_ft2 - 1.0)

    @property
    def rms(self) -> FloatArray:
        """Root mean square relative error at each speed."""
        return np.asarray(np.sqrt(np.mean(self.error**2, axis=0)))

    @property
    def bias(self) -> FloatArray:
        """Mean relative error at each speed."""
        return np.asarray(np.mean(self.error, axis=0))

    @property
    def coverage(self) -> FloatArray:
        """Share of repeats whose 95 % interval holds the truth, at each speed."""
        inside = (self.low_ft2 <= self.truth_ft2) & (self.truth_ft2 <= self.high_ft2)
        return np.asarray(np.mean(inside, axis=0))

    @property
    def half_width(self) -> FloatArray:
        """Mean half width of the 95 % interval over the truth, at each speed."""
        return np.asarray(np.mean(self.high_ft2 - self.low_ft2, axis=0) / 2.0 / self.truth_ft2)


def flown(device: Device, entry_kias: float, altitude_ft: float = ALTITUDE_FT) -> Flown:
    """Return the run as JSBSim flew it."""
    return fly_level_deceleration(device, entry_kias, altitude_ft)


@functools.cache
def speeds_and_truth(device: Device, altitude_ft: float = ALTITUDE_FT) -> tuple[FloatArray, FloatArray]:
    """Return entry, middle and end speed of the device's first run, kt, and JSBSim's own area there, ft2."""
    run = flown(device, ENTRIES_ONE[device][0], altitude_ft)
    entry, end = run.entry_ias_kt, float(run.ias_kt[-1])
    speeds = np.array([entry, 0.5 * (entry + end), end])
    return speeds, device_drag_area(device, speeds.tolist(), altitude_ft)


def beliefs_with(slip: Slip = NO_SLIP, text: str = AIRPLANE) -> Beliefs:
    """Return what is believed before the runs."""
    if slip.at_once:
        text = text.replace('down_time = "6 ± 4 s"', 'down_time = "0.1 ± 0.001 s"')
        text = text.replace('down_time = "8 ± 4 s"', 'down_time = "0.1 ± 0.001 s"')
    if slip.bias_kt:
        text = text.replace('bias = "0 ± 0.5 kt"', 'bias = "0 ± 0.01 kt"')
    return airplane_from_document(parse_airplane(text))


def run_text(
    device: Device,
    run: Flown,
    rng: np.random.Generator,
    slip: Slip = NO_SLIP,
    altitude_ft: float = ALTITUDE_FT,
) -> str:
    """Return what the second person wrote down of a run, as the text of a recording."""
    said = "gear down" if device == "gear" else "flaps full"
    if slip.exact:
        times = np.arange(-BEFORE_S, run.time_s[-1] + 0.1, 6.0)
        read = [(float(t), round(float(np.interp(t, run.time_s, run.ias_kt)), 3)) for t in times]
    else:
        read = read_by_hand(run, rng, start_before_s=BEFORE_S)
    calls = {t + BEFORE_S: f"{v + slip.bias_kt:g}" for t, v in read}
    mark = BEFORE_S + slip.mark_late_s
    if slip.mark_scatter_s:
        mark = round(mark + rng.normal(0.0, slip.mark_scatter_s), 1)
    rows = [f"{t:g}, {calls.get(t, '')}{f', {said}' if t == mark else ''}" for t in sorted({*calls, mark})]
    head = [
        "# method: level deceleration",
        f"# device: {device}",
        f"# altitude: {altitude_ft:g} ft",
        f"# weight: {WEIGHT_LB * slip.weight_share:.1f} lb",
        "# altitude held: 20 ft",
        "time, speed, mark",
    ]
    return "\n".join([*head, *rows]) + "\n"


def timings_text(rng: np.random.Generator, slip: Slip = NO_SLIP) -> str:
    """Return three timings of each device, by a stop-watch with a reaction of 0.3 s."""
    rows = []
    ways: tuple[tuple[Device, str, str], ...] = (("gear", "up", "down"), ("flaps", "up", "full"))
    for device, start, end in ways:
        run = flown(device, ENTRIES_ONE[device][0])
        assert run.fully_out_s is not None
        reaction = 0.0 if slip.exact else REACTION_S
        rows += [f"{device}, {start}, {end}, {run.fully_out_s + rng.normal(0.0, reaction):.1f}" for _ in range(3)]
    return "# method: transit timing\ndevice, from, to, seconds\n" + "\n".join(rows) + "\n"


def taken_in(key: str, text: str, beliefs: Beliefs) -> StudyRun:
    """Return a run from the text of its recording."""
    recording = read_recording(text.encode(), f"{key}.csv")
    found = method(recording.header["method"])
    (run,) = found.from_recording(key, recording, {}, beliefs)
    return StudyRun(run, found)


def runs_of(
    entries: dict[Device, tuple[float, ...]],
    rng: np.random.Generator,
    beliefs: Beliefs,
    slip: Slip = NO_SLIP,
    altitude_ft: float = ALTITUDE_FT,
) -> list[StudyRun]:
    """Return all runs of one repeat, freshly read off."""
    runs = []
    for device in DEVICES:
        for i, entry in enumerate(entries[device], start=1):
            text = run_text(device, flown(device, entry, altitude_ft), rng, slip, altitude_ft)
            runs.append(taken_in(f"{device[0].upper()}{i}", text, beliefs))
    if not slip.at_once:
        runs.append(taken_in("T1", timings_text(rng, slip), beliefs))
    return runs


def trials(
    entries: dict[Device, tuple[float, ...]],
    seeds: Sequence[int],
    slip: Slip = NO_SLIP,
    airplane: str = AIRPLANE,
    altitude_ft: float = ALTITUDE_FT,
) -> dict[Device, Trial]:
    """Reduce one repeat for each seed; return the trial of each device."""
    beliefs = beliefs_with(slip, airplane)
    found: dict[Device, list[FloatArray]] = {device: [] for device in DEVICES}
    for seed in seeds:
        rng = np.random.default_rng(seed)
        posterior = draw(fit(beliefs, runs_of(entries, rng, beliefs, slip, altitude_ft)), DRAWS, seed)
        for device in DEVICES:
            gear, flap_rad = (1.0, 0.0) if device == "gear" else (0.0, FULL_FLAP_DEG * DEGREE)
            speeds = speeds_and_truth(device, altitude_ft)[0] * KNOT
            at = np.asarray(equivalent_from_calibrated(speeds, altitude_ft * FOOT))
            areas = device_areas(posterior.rows, WEIGHT_LB * POUND, at, gear, flap_rad) / SQUARE_FOOT
            found[device].append(np.percentile(areas, [2.5, 50.0, 97.5], axis=0))
    out: dict[Device, Trial] = {}
    for device in DEVICES:
        low, middle, high = np.moveaxis(np.array(found[device]), 1, 0)
        out[device] = Trial(device, *speeds_and_truth(device, altitude_ft), middle, low, high)
    return out
