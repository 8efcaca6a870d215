"""What would settle a map: its uncertain inputs in words, ranked over the least decided cells; the run to fly next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.briefs.procedure_words import is_go_around
from wringout.errors import BadInputError
from wringout.techniques.judging.map_inputs import cell_sensitivity
from wringout.techniques.judging.maps import TechniqueMap
from wringout.techniques.judging.sensitivity import Measured, Share, run_to_fly

LEAST_DECIDED = 5
"""Cells over which the ranking is taken."""
LEAST_SHARE = 0.02
"""A smaller share of the variance is not worth a flight (judged, no source)."""
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
_LABELS: Mapping[str, str] = {
    "clean_area": "drag area of the clean airplane",
    "span_efficiency": "span efficiency of the clean airplane",
    "clean_slope": "lean of the clean polar",
    "gear_area": "drag area of the gear",
    "door_bump": "drag of the gear's doors on the way",
    "interaction": "what the flaps take off the gear's drag",
    "disk_efficiency": "propeller efficiency",
    "efficiency_slope": "how propeller efficiency changes with speed",
    "thrust_bend": "how thrust bends with speed",
    "rated_power": "rated power",
    "gear_up_time": "time the gear takes to come up",
    "flap_up_time": "time the flaps take to come up",
    "mass_factor": "true weight over stated weight",
    "cl_max": "maximum lift coefficient with flaps up",
    "weight": "weight",
    "isa_deviation": "air temperature",
    "entry_speed": "entry speed",
    "density_altitude": "pressure altitude",
}
_SETUPS: Mapping[str, Mapping[str, str]] = {
    "gear_area": {"flaps": "up", "gear": "up, then down"},
    "interaction": {"flaps": "full", "gear": "up, then down"},
    "door_bump": {"flaps": "up", "gear": "travelling"},
    "clean_area": {"flaps": "up", "gear": "up"},
    "span_efficiency": {"flaps": "up", "gear": "up"},
    "clean_slope": {"flaps": "up", "gear": "up"},
    "disk_efficiency": {"flaps": "up", "gear": "up", "power": "full"},
    "efficiency_slope": {"flaps": "up", "gear": "up", "power": "full"},
    "thrust_bend": {"flaps": "up", "gear": "up", "power": "full"},
    "rated_power": {"flaps": "up", "gear": "up", "power": "full"},
    "cl_max": {"flaps": "up", "gear": "up"},
    "gear_up_time": {"gear": "from down to up"},
    "flap_up_time": {"flaps": "from full to up"},
}


@dataclass(frozen=True, slots=True)
class Input:
    """One uncertain input of the least decided cells.

    Attributes:
        key, label: its name, and in words.
        variance, standard_error: share of the variance of the difference that goes if it were known, mean over cells.
        settled: expected share of its values at which the verdict would be decided, mean over cells.
        method, setup, words: the run that measures it ("" and empty where no flight does), and what to do.
    """

    key: str
    label: str
    variance: float
    standard_error: float
    settled: float
    method: str
    setup: Mapping[str, str]
    words: str

    @property
    def is_worth_a_flight(self) -> bool:
        """Whether a flight measures it and its share is more than chance and than a trifle."""
        return bool(self.method) and self.variance > max(2.0 * self.standard_error, LEAST_SHARE)


@dataclass(frozen=True, slots=True)
class Ranking:
    """What would settle a map: the cells looked at, every input that varies, and why there is none if there is none."""

    cells: tuple[int, ...]
    inputs: tuple[Input, ...]
    problem: str = ""

    @property
    def next_run(self) -> Input | None:
        """The input whose run is to be flown next; None where no flight would teach much."""
        return next((one for one in self.inputs if one.is_worth_a_flight), None)


def contenders(found: TechniqueMap, n: int) -> tuple[int, int]:
    """Return the best of a cell and whom it is held against: the nearest that leads too and moves another lever first.

    Where there is none, the nearest rival; -1 for one that is missing.
    """
    cell, techniques = found.cells[n], found.study.techniques
    if cell.best < 0:
        return -1, -1
    first = techniques[cell.best].actions[:1]
    others = [j for j in cell.leading[1:] if [a.device for a in techniques[j].actions[:1]] != [a.device for a in first]]
    return cell.best, min(others, key=lambda j: cell.gap[cell.best, j]) if others else cell.rival


def least_decided(found: TechniqueMap, most: int = LEAST_DECIDED) -> tuple[int, ...]:
    """Return the cells whose probability is nearest to the one asked for, least decided first."""
    asked = found.study.thresholds.probability
    distance = {}
    for n, cell in enumerate(found.cells):
        best, other = contenders(found, n)
        if other >= 0:
            distance[n] = abs(float(cell.ahead[best, other]) - asked)
    return tuple(sorted(distance, key=lambda n: (distance[n], n))[:most])


def ranked(found: TechniqueMap, beliefs: Beliefs) -> Ranking:
    """Return what would settle the least decided cells, each with its own two contenders."""
    cells = least_decided(found)
    if not cells:
        return Ranking((), (), "no cell has two techniques that keep the margins")
    try:
        shares = [cell_sensitivity(found.study, n, *contenders(found, n)) for n in cells]
    except BadInputError as error:
        return Ranking(cells, (), error.what)
    keys = sorted({share.key for one in shares for share in one})
    is_other = not is_go_around(found.study.situation)
    inputs = [
        _input(key, [share for one in shares for share in one if share.key == key], beliefs, is_other) for key in keys
    ]
    return Ranking(cells, tuple(sorted(inputs, key=lambda item: (-item.variance, item.key))))


TIMING = Measured("timing of the hands", "fly the procedure at a height and time the hands")
"""What stands in for pairs of go-arounds where another procedure is flown."""


def _input(key: str, shares: Sequence[Share], beliefs: Beliefs, is_other: bool) -> Input:
    measured = run_to_fly(key)
    if is_other and measured is not None and measured.method == "go around pairs":
        measured = TIMING
    return Input(
        key,
        label_of(key, beliefs),
        float(np.mean([share.variance for share in shares])),
        float(np.mean([share.standard_error for share in shares])),
        float(np.mean([share.settled for share in shares])),
        "" if measured is None else measured.method,
        {} if measured is None or not measured.method else setup_of(key, beliefs),
        "" if measured is None else measured.words,
    )


def label_of(key: str, beliefs: Beliefs) -> str:
    """Return an input in words, flap settings by the names of the airplane."""
    name, _, place = key.partition(".")
    if name == "flap_area":
        return f"drag area of flaps {beliefs.settings[int(place)].name}"
    if name == "flap_lift_slope":
        return f"how the drag area of flaps {beliefs.settings[int(place)].name} changes with lift"
    if name == "flap_floor":
        return f"least drag area of flaps {beliefs.settings[int(place)].name} at high lift"
    if name == "cl_gain":
        return f"lift that flaps {beliefs.settings[int(place)].name} add at the stall"
    if name == "reaction":
        return f"the pilot's delay before the {_ORDINALS[int(place) - 1]} action"
    return _LABELS.get(name, name.replace("_", " "))


def setup_of(key: str, beliefs: Beliefs) -> dict[str, str]:
    """Return the configuration in which an input is measured, flap settings by the names of the airplane."""
    name, _, place = key.partition(".")
    if name in ("flap_area", "flap_lift_slope", "flap_floor", "cl_gain"):
        found = {"flaps": beliefs.settings[int(place)].name, "gear": "up"}
    else:
        full = beliefs.settings[-1].name
        found = {
            what: how.replace("full", full) if what == "flaps" else how for what, how in _SETUPS.get(name, {}).items()
        }
    if not beliefs.retractable:
        found.pop("gear", None)
    return found
