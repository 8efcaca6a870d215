"""The power a run was flown with, from its set-up words: idle, zero thrust, full, held, or so many horsepower.

Stated shaft power comes from the words (``power: 160 hp``, ``power: 65 %``), from a ``power`` column, or from the
columns of manifold pressure and rpm through a line the user copies from the engine's chart:
``power chart: 23 in 2300 rpm = 161 hp; 21 in 2300 rpm = 140 hp`` (fixed pitch: ``2450 rpm = 118 hp``).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from wringout.advice import set_up_word
from wringout.airplane import forces
from wringout.airplane import vector as v
from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.atmosphere import SEA_LEVEL_DENSITY_KGM3
from wringout.errors import BadInputError
from wringout.methods.types import FloatArray, Nuisance
from wringout.recordings.types import Recording
from wringout.units import HORSEPOWER, INCH_OF_MERCURY, RPM

CHART_SHARE = 0.03
"""Standard deviation of shaft power taken from an engine chart, as a share of it (judged, no source)."""
FULL_SHARE = 0.01
"""Standard deviation of full-throttle power from day to day, as a share of it (judged, no source)."""
WINDMILLING_SHARE = {"idle": (0.03, 0.03), "zero thrust": (0.0, 0.012)}
"""Drag area of the propeller over its disk area, mean and standard deviation (judged, no source). Zero thrust is
approached to within the second, unless the run says how closely it was held: "zero thrust ± 3 lbf"."""
PRESSURE_STEP_PA, RPM_STEP = 0.3 * INCH_OF_MERCURY, 30.0 * RPM

_IDLE = {"idle", "off", "power off", "throttle closed", "throttle idle", "closed", "windmilling", "engine off"}
_ZERO = {"zero thrust", "zero-thrust"}
_ZERO_WITHIN = re.compile(r"zero[ -]thrust\s*(?:±|\+/-|\+-)\s*(?P<within>.+)")
_FULL = {"full", "full throttle", "full power", "max", "maximum", "maximum continuous", "takeoff", "take-off", "climb"}
_HELD = {"held", "unchanged", "as at entry", "for level flight"}
_SETTING = re.compile(
    r"\s*(?:(?P<mp>\d+(?:\.\d+)?)\s*(?:in(?:\s*hg)?|\")\s*[,/]?\s*)?(?P<rpm>\d[\d,]*)\s*rpm\s*=\s*(?P<power>.+?)\s*",
    re.IGNORECASE,
)


class PowerKind(StrEnum):
    """How the power of a run is known."""

    IDLE = "idle"  # throttle closed: the propeller windmills and drags
    ZERO_THRUST = "zero thrust"  # power set so that the propeller neither pulls nor drags
    FULL = "full"  # full throttle, power by the altitude law of the engine
    STATED = "stated"  # shaft power in watts
    HELD = "held"  # whatever held speed at the first reading


@dataclass(frozen=True, slots=True)
class Power:
    """Power of one run: ``shaft_w`` has shape (n,), NaN where it is not stated; ``words`` are the user's own.

    ``left_n`` is the standard deviation of what thrust is left at zero thrust, N, where the run states it.
    """

    kind: PowerKind
    shaft_w: FloatArray
    words: str
    left_n: float | None = None

    @property
    def pulls(self) -> bool:
        """Whether the propeller gives thrust."""
        return self.kind not in (PowerKind.IDLE, PowerKind.ZERO_THRUST)


def power_of(recording: Recording, words: Mapping[str, str], beliefs: Beliefs, default: str = "") -> Power:
    """Return the power of a run, one shaft power for each row of the recording.

    Raises BadInputError naming the recording (and row) for power that is not said, not understood, not in the chart or
    beyond what the engine is rated at.
    """
    name, n = recording.name, len(recording)
    text = " ".join(words.get("power", default).lower().split())
    nothing = np.full(n, np.nan)
    for kind, spelled in (
        (PowerKind.IDLE, _IDLE),
        (PowerKind.ZERO_THRUST, _ZERO),
        (PowerKind.FULL, _FULL),
        (PowerKind.HELD, _HELD),
    ):
        if text in spelled:
            return Power(kind, nothing, text)
    if within := _ZERO_WITHIN.fullmatch(text):
        left, _ = parse_measured(within["within"], "force", f"{name}, power", "3 lbf")
        if left < 0.0:
            raise BadInputError(f"{text!r} has a minus", f"{name}, power", 'write "zero thrust ± 3 lbf"')
        return Power(PowerKind.ZERO_THRUST, nothing, text, left)
    if "power" in recording.channels:
        shaft = recording.channels["power"].values
    elif "power chart" in words:
        shaft = _from_chart(recording, words["power chart"], text)
    else:
        shaft = np.full(n, _stated(text, name, beliefs))
    _refuse_unlikely(shaft, recording, beliefs)
    return Power(PowerKind.STATED, shaft, text or "stated shaft power")


def _stated(text: str, name: str, beliefs: Beliefs) -> float:
    where, right = f"{name}, power", 'write "idle", "zero thrust", "full", "160 hp" or "65 %"'
    if not text:
        known = f"{set_up_word('power: full')}, or as it was: idle, zero thrust, 160 hp or 65 %"
        raise BadInputError("the run does not say its power", where, known)
    if share := re.fullmatch(r"(\d+(?:\.\d+)?)\s*%", text):
        return float(share.group(1)) / 100.0 * _rated_w(beliefs)
    try:
        return parse_measured(text, "power", where, "160 hp")[0]
    except BadInputError:
        raise BadInputError(f"{text!r} does not say how much power was set", where, right) from None


def _rated_w(beliefs: Beliefs) -> float:
    return float(beliefs.prior_row()[v.RATED_POWER])


def _refuse_unlikely(shaft: FloatArray, recording: Recording, beliefs: Beliefs) -> None:
    rated = _rated_w(beliefs)
    wrong = np.flatnonzero((shaft <= 0.0) | (shaft > 1.15 * rated))
    if wrong.size:
        i = int(wrong[0])
        raise BadInputError(
            f"{shaft[i] / HORSEPOWER:.0f} hp is not a likely power for an engine rated at {rated / HORSEPOWER:.0f} hp",
            f"{recording.name}, row {int(recording.rows[i])}, power",
            "give shaft power between zero and rated power",
        )


def _from_chart(recording: Recording, text: str, setting: str) -> FloatArray:
    """Return shaft power by the chart of each row's manifold pressure and rpm, NaN where the row has none.

    Without these columns the ``setting`` of the whole run ("22 in 2400 rpm") counts.
    """
    chart = [_chart_entry(entry, recording.name) for entry in text.split(";") if entry.strip()]
    pressure, turns = (
        recording.channels[key].values if key in recording.channels else np.full(len(recording), np.nan)
        for key in ("manifold_pressure", "rpm")
    )
    if "rpm" not in recording.channels and (found := _SETTING.fullmatch(f"{setting} = 1 hp")):
        turns = np.full(len(recording), float(found["rpm"].replace(",", "")) * RPM)
        pressure = np.full(len(recording), np.nan if found["mp"] is None else float(found["mp"]) * INCH_OF_MERCURY)
    out = np.full(len(recording), np.nan)
    for i in np.flatnonzero(np.isfinite(turns)):
        fits = [
            power
            for mp, rpm, power in chart
            if abs(turns[i] - rpm) <= RPM_STEP and (mp is None or abs(pressure[i] - mp) <= PRESSURE_STEP_PA)
        ]
        if not fits:
            manifold = f"{pressure[i] / INCH_OF_MERCURY:.1f} in " if np.isfinite(pressure[i]) else ""
            raise BadInputError(
                f"{manifold}{turns[i] / RPM:.0f} rpm is not in the power chart",
                f"{recording.name}, row {int(recording.rows[i])}, rpm",
                'add it to the line "# power chart: 23 in 2300 rpm = 161 hp; ..."',
            )
        out[i] = fits[0]
    return out


def _chart_entry(entry: str, name: str) -> tuple[float | None, float, float]:
    """Return manifold pressure (Pa, None where the entry has none), rotation rate (rev/s) and shaft power (W)."""
    where = f"{name}, power chart"
    found = _SETTING.fullmatch(entry)
    if found is None:
        raise BadInputError(f"{entry.strip()!r} is no entry of a power chart", where, 'write "23 in 2300 rpm = 161 hp"')
    power, _ = parse_measured(found["power"], "power", where, "161 hp")
    pressure = None if found["mp"] is None else float(found["mp"]) * INCH_OF_MERCURY
    return pressure, float(found["rpm"].replace(",", "")) * RPM, power


def power_nuisance(power: Power, row: FloatArray, indicated_mps: float) -> Nuisance:
    """Return the run's own uncertain number about its power.

    ``windmilling drag`` (m2, of disk area ``row[DISK_AREA]``) where the propeller does not pull; else ``power factor``,
    true over stated power. A thrust that is left counts as drag area at ``indicated_mps``, a speed of the run.
    """
    if not power.pulls:
        mean, sd = (share * float(row[v.DISK_AREA]) for share in WINDMILLING_SHARE[power.kind.value])
        if power.left_n is not None:
            sd = power.left_n / (0.5 * SEA_LEVEL_DENSITY_KGM3 * indicated_mps**2)
        named = "windmilling drag" if power.kind is PowerKind.IDLE else "thrust left at zero thrust"
        return Nuisance("windmilling drag", mean, sd, named)
    if power.kind is PowerKind.FULL:
        return Nuisance("power factor", 1.0, FULL_SHARE, "full-throttle power")
    return Nuisance("power factor", 1.0, CHART_SHARE, "power setting")


def disk_power_w(row: FloatArray, kind: PowerKind, shaft_w: float, density_kgm3: float, factor: float) -> float:
    """Return the power reaching the disk at EFFICIENCY_SPEED, W, of candidate ``row``; 0 where it does not pull."""
    if kind is PowerKind.FULL:
        return factor * float(forces.full_throttle_disk_power(row, density_kgm3 / SEA_LEVEL_DENSITY_KGM3))
    if kind is PowerKind.STATED:
        return factor * float(row[v.DISK_EFFICIENCY]) * shaft_w
    return 0.0
