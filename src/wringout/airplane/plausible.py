"""Numbers of an airplane file that cannot be right together, most often because of a unit.

A span in metres beside a wing area in square feet has the right dimension and is still wrong. Each bound is wide enough
for anything from a motor glider to a large single (judged, no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.document import AirplaneDocument
from wringout.airplane.quantity import parse_measured
from wringout.airplane.textbook import lift_coefficient_at
from wringout.errors import BadInputError
from wringout.units import KNOT, POUND, US_GALLON

ASPECT_RATIO = (3.0, 40.0)
WING_LOADING_KGM2 = (10.0, 400.0)
DIAMETER_M = (0.8, 5.0)
POWER_PER_MASS_WKG = (15.0, 600.0)
CL_MAX_CLEAN = (0.6, 2.6)
CL_MAX_FLAPS = (0.6, 4.5)
LONGEST_TRAVEL_S = 120.0
LARGEST_WEIGHT_ERROR = 0.2
LARGEST_INTERACTION = 1.0
LARGEST_READING_MPS = 10.0 * KNOT
LONGEST_CLOCK_S = 10.0
FUEL_LB_PER_GALLON = (4.0, 9.0)


@dataclass(frozen=True, slots=True)
class _Bound:
    """A number held between two bounds: ``said`` names it with what it is made of, ``field`` where it was written."""

    field: str
    said: str
    value: float
    bounds: tuple[float, float]
    advice: str = "check the number and its unit"


def refuse_impossible(document: AirplaneDocument, beliefs: Beliefs, name: str) -> None:
    """Raise BadInputError (one sentence, file and field) for the first numbers that cannot be right together."""
    printed = _printed_stalls(document, name)
    for bound in (*_sizes(beliefs), *_lift(printed, beliefs), *_times(beliefs), *_doubts(beliefs), *_loading(beliefs)):
        if not bound.bounds[0] <= bound.value <= bound.bounds[1]:
            low, high = (f"{x:g}" for x in bound.bounds)
            what = f"{bound.said} {bound.value:.3g}, outside {low} to {high}"
            raise BadInputError(what, f"{name}, {bound.field}", bound.advice)
    _refuse_stalls_out_of_order(printed, name)


def _sizes(beliefs: Beliefs) -> Iterator[_Bound]:
    a = beliefs.prior_row()
    both = "check both numbers and their units"
    ratio = float(a[v.SPAN] ** 2 / a[v.WING_AREA])
    yield _Bound("geometry.span", "with the wing area it makes an aspect ratio of", ratio, ASPECT_RATIO, both)
    loading = beliefs.limits.max_mass_kg / float(a[v.WING_AREA])
    said = "with the wing area it makes a wing loading, in kg/m2, of"
    yield _Bound("limits.max_weight", said, loading, WING_LOADING_KGM2, both)
    diameter = 2.0 * math.sqrt(float(a[v.DISK_AREA]) / math.pi)
    yield _Bound("propulsion.diameter", "the propeller's diameter, in m, is", diameter, DIAMETER_M)
    power = float(a[v.RATED_POWER]) / beliefs.limits.max_mass_kg
    said = "over the maximum weight it makes, in W/kg,"
    yield _Bound("propulsion.rated_power", said, power, POWER_PER_MASS_WKG, both)


def _lift(printed: Sequence[tuple[str, float]], beliefs: Beliefs) -> Iterator[_Bound]:
    advice = "check the stall speed, the maximum weight, the wing area and their units"
    for field, speed in printed:
        lift = lift_coefficient_at(beliefs.limits.max_mass_kg, max(speed, 0.1), float(beliefs.base[v.WING_AREA]))
        yield _Bound(field, "it makes a CLmax of", lift, CL_MAX_FLAPS if "flaps" in field else CL_MAX_CLEAN, advice)


def _times(beliefs: Beliefs) -> Iterator[_Bound]:
    for parameter in beliefs.parameters:
        if parameter.key.endswith(("_down_time", "_up_time")):
            device, direction = parameter.key.removesuffix("_time").rsplit("_", 1)
            field = f"{'flap_travel' if device == 'flap' else device}.{direction}_time"
            yield _Bound(field, "the travel time, in s, is", parameter.prior.value, (0.0, LONGEST_TRAVEL_S))


def _doubts(beliefs: Beliefs) -> Iterator[_Bound]:
    known = {parameter.key: parameter.prior for parameter in beliefs.parameters}
    weight = known["mass_factor"].sd
    yield _Bound("instrument.weight_error", "the weight's error, as a share, is", weight, (0.0, LARGEST_WEIGHT_ERROR))
    if "interaction" in known:
        said, bounds = "the share that full flaps shield is", (-LARGEST_INTERACTION, LARGEST_INTERACTION)
        yield _Bound("drag.interaction", said, known["interaction"].value, bounds)
    reading = beliefs.instrument.reading_sd_mps / KNOT
    said = "the error of one reading, in kt, is"
    yield _Bound("instrument.reading", said, reading, (0.0, LARGEST_READING_MPS / KNOT))
    said = "the error of the clock, in s, is"
    yield _Bound("instrument.clock", said, beliefs.instrument.clock_sd_s, (0.0, LONGEST_CLOCK_S))


def _loading(beliefs: Beliefs) -> Iterator[_Bound]:
    if beliefs.loading is None:
        return
    share = beliefs.loading.empty_mass_kg / beliefs.limits.max_mass_kg
    said = "over the maximum weight it makes"
    yield _Bound("loading.empty_weight", said, share, (0.2, 1.0), "check both weights and their units")
    fuel = beliefs.loading.fuel_density_kgm3 * US_GALLON / POUND
    yield _Bound("loading.fuel_weight_per_gallon", "a gallon of fuel, in lb, is", fuel, FUEL_LB_PER_GALLON)


def _printed_stalls(document: AirplaneDocument, name: str) -> list[tuple[str, float]]:
    """Return the fields of the stall speeds that were given, and the speeds, m/s, flaps up first."""
    fields = [("stall_speed_clean", document.stall_speed_clean)]
    fields += [(f"flaps / number {i} / stall_speed", f.stall_speed) for i, f in enumerate(document.flaps, start=1)]
    return [
        (field, parse_measured(text, "speed", f"{name}, {field}", "55 ± 2 kt")[0])
        for field, text in fields
        if text is not None
    ]


def _refuse_stalls_out_of_order(printed: Sequence[tuple[str, float]], name: str) -> None:
    """Refuse a printed stall speed above that of the setting before it: flaps would cost lift."""
    for (_, before), (field, speed) in pairwise(printed):
        if speed > before:
            what = (
                f"the stall speed of {speed / KNOT:.0f} kt is above that of the setting before, {before / KNOT:.0f} kt"
            )
            raise BadInputError(what, f"{name}, {field}", "check both against the manual, since flaps lower it")
