"""What is believed of an airplane before its runs: a fixed part and a list of named priors, in SI units.

``Beliefs.row`` turns values of the named parameters into the parameter row that the equations use. The estimator
knows parameters only by name, prior and unit; this module alone knows what each does to the airplane.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wringout.airplane import vector as v
from wringout.airplane.distribution import Prior
from wringout.airplane.limits import Limits
from wringout.airplane.loading import Loading
from wringout.airplane.textbook import polar_from_best_glide
from wringout.airspeed import PositionErrorTable

FloatArray = v.FloatArray

LEAST_BEND = 0.45
"""Lift coefficient from which on a flap's area may stand at its floor (judged; 0.47 to 0.69 in models of JSBSim)."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One uncertain number of the airplane or its instruments.

    ``key`` is used in files and results, ``label`` in print. ``display_unit`` names a unit of
    :mod:`wringout.units`, or "" for a plain ratio. ``share`` says which part of a finding's interval it feeds.
    """

    key: str
    label: str
    prior: Prior
    display_unit: str = ""


@dataclass(frozen=True, slots=True)
class FlapSetting:
    """A named flap detent; ``angle_rad`` 0 is up."""

    name: str
    angle_rad: float


@dataclass(frozen=True, slots=True)
class Instrument:
    """Reading quality, standard deviations: a called dial reading (m/s) and the clock of each reading (s)."""

    reading_sd_mps: float
    clock_sd_s: float
    position_error: PositionErrorTable


@dataclass(frozen=True, slots=True)
class Beliefs:
    """Everything believed of one airplane.

    ``base`` is a parameter row holding the certain numbers. ``settings[0]`` is flaps up. ``glide_mass_kg`` is set
    when the clean polar is given by its best glide (parameters ``glide_ratio`` and ``glide_speed``).
    """

    name: str
    invented: bool
    base: FloatArray
    parameters: tuple[Parameter, ...]
    settings: tuple[FlapSetting, ...]
    retractable: bool
    limits: Limits
    instrument: Instrument
    loading: Loading | None
    glide_mass_kg: float | None

    def index(self, key: str) -> int:
        """Return a parameter's place in the list; raises KeyError."""
        for i, parameter in enumerate(self.parameters):
            if parameter.key == key:
                return i
        raise KeyError(key)

    def setting(self, name: str) -> FlapSetting:
        """Return the flap setting of that name (any case); raises KeyError."""
        for setting in self.settings:
            if setting.name.lower() == name.strip().lower():
                return setting
        raise KeyError(name)

    def row_from_latent(self, z: FloatArray) -> FloatArray:
        """Return the parameter row at latent values ``z``, shape (len(parameters),)."""
        values = {p.key: p.prior.from_latent(float(zi)) for p, zi in zip(self.parameters, z, strict=True)}
        return self.row(values)

    def prior_row(self) -> FloatArray:
        """Return the parameter row at the prior medians."""
        return self.row_from_latent(np.zeros(len(self.parameters)))

    def row(self, values: Mapping[str, float]) -> FloatArray:
        """Return the parameter row at the given parameter values, SI."""
        a = self.base.copy()
        for key, place in SCALAR_COLUMNS.items():
            if key in values:
                a[place] = values[key]
        if self.glide_mass_kg is not None:
            a[v.F_CLEAN], a[v.OSWALD] = polar_from_best_glide(
                values["glide_ratio"],
                values["glide_speed"],
                self.glide_mass_kg,
                float(a[v.SPAN]),
                float(a[v.WING_AREA]),
                float(a[v.CLEAN_SLOPE]),
                float(a[v.CL_REFERENCE]),
            )
        a[v.GEAR_BUMP] = max(a[v.GEAR_BUMP], -0.5)
        last = len(self.settings) - 1
        areas, gains = [values["flap_area"]], [values["cl_gain"]]
        for i in range(last - 1, 0, -1):
            areas.insert(0, areas[0] * values[f"flap_share.{i}"])
            gains.insert(0, gains[0] * values[f"cl_share.{i}"])
        clean = values["cl_max"]
        slopes = [0.0, *(values[f"flap_lift_slope.{i}"] for i in range(1, last + 1))]
        angles = [setting.angle_rad for setting in self.settings]
        bend = LEAST_BEND - float(a[v.CL_REFERENCE])
        highest = [max(area + slope * bend, 0.0) for area, slope in zip(areas, slopes[1:], strict=True)]
        floors = [areas[-1] * values[f"flap_floor.{i}"] * angles[i] / angles[-1] for i in range(1, last + 1)]
        floors = [0.0, *(min(pair) for pair in zip(floors, highest, strict=True))]
        return v.with_flap_tables(a, angles, [0.0, *areas], [clean, *(clean + gain for gain in gains)], slopes, floors)


SCALAR_COLUMNS: Mapping[str, int] = {
    "clean_area": v.F_CLEAN,
    "span_efficiency": v.OSWALD,
    "clean_slope": v.CLEAN_SLOPE,
    "gear_area": v.F_GEAR,
    "door_bump": v.GEAR_BUMP,
    "interaction": v.KAPPA,
    "disk_efficiency": v.DISK_EFFICIENCY,
    "efficiency_slope": v.EFFICIENCY_SLOPE,
    "thrust_bend": v.THRUST_BEND,
    "rated_power": v.RATED_POWER,
    "gear_down_time": v.GEAR_DOWN_TIME,
    "gear_up_time": v.GEAR_UP_TIME,
    "flap_down_time": v.FLAP_DOWN_TIME,
    "flap_up_time": v.FLAP_UP_TIME,
    "stall_rate_slope": v.STALL_RATE_SLOPE,
    "ias_bias": v.IAS_BIAS,
    "mass_factor": v.MASS_FACTOR,
}
