"""What may stand beside a stall: the speed at its warning, the centre of gravity, power, and stalls after stalls."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.beliefs import Beliefs
from wringout.errors import BadInputError
from wringout.methods.setup_words import quantity
from wringout.methods.types import FloatArray, HandResult, IntArray
from wringout.propagation import Measured
from wringout.recordings.types import Recording
from wringout.units import DEGREE, INCH, KNOT

SECONDARY_WORDS = ("secondary", "second stall", "stalled again")
LEAST_WARNING_MPS = 5.0 * KNOT
"""Margin of warning that 14 CFR 23.207, legacy, asks for (from memory) [m/s]."""
MOST_CG_CHANGE = 0.2


@dataclass(frozen=True, slots=True)
class StallExtras:
    """Beside n stalls: ``warning_mps`` (n,) indicated, NaN where not called, or empty; ``cg_factor`` (n,) or empty.

    ``cg_factor`` is stall speed at the centre of gravity flown over that at the reference one. ``power_words`` say how
    much power was on, empty for power off; ``rows`` are then those of the stalls, kept out of the joint fit.
    """

    warning_mps: FloatArray
    cg_factor: FloatArray
    power_words: str
    rows: IntArray


NO_EXTRAS = StallExtras(np.zeros(0), np.zeros(0), "", np.zeros(0, dtype=np.int64))


def secondary_stalls(recording: Recording) -> NDArray[np.bool_]:
    """Return which rows are said to be secondary stalls, (rows,): pulled into during a recovery, not at 1 g."""
    notes = recording.texts.get("note", ())
    said = [any(word in note.lower() for word in SECONDARY_WORDS) for note in notes]
    return np.array(said, dtype=bool) if said else np.zeros(len(recording), dtype=bool)


def extras_of(recording: Recording, good: IntArray, words: Mapping[str, str], power_words: str) -> StallExtras:
    """Return what stands beside the stalls of rows ``good``; raises BadInputError for a warning below its stall."""
    warning = np.zeros(0)
    if "warning" in recording.channels:
        warning = recording.channels["warning"].values[good]
        late = np.flatnonzero(warning < recording.channels["ias"].values[good])
        if late.size:
            row = int(recording.rows[good[late[0]]])
            raise BadInputError(
                f"the warning at {warning[late[0]] / KNOT:.0f} kt comes below the stall",
                f"{recording.name}, row {row}, warning",
                "write the airspeed at which horn or buffet began; leave it blank where there was none",
            )
    return StallExtras(warning, _cg_factors(recording, good, words), power_words, recording.rows[good])


def _cg_factors(recording: Recording, good: IntArray, words: Mapping[str, str]) -> FloatArray:
    """Return stall speed at the centre of gravity flown over that at the reference one, or empty where not told.

    Trimmed lift is wing lift less the load on the tail: ``CL = CL_flown (1 + (x_reference - x_flown) / l_tail)``, arms
    aft positive (the form of FAA Advisory Circular 23-8, from memory), and speed goes with one over its root.
    """
    if not {"reference cg", "tail arm"} <= set(words):
        return np.zeros(0)
    name = recording.name
    reference = quantity(words, "reference cg", "length", name, "84 in")
    tail = quantity(words, "tail arm", "length", name, "14.5 ft")
    flown = np.full(good.size, np.nan)
    if "cg" in recording.channels:
        flown = recording.channels["cg"].values[good]
    if not np.isfinite(flown).all():
        usual = quantity(words, "cg", "length", name, "88 in")
        flown = np.where(np.isfinite(flown), flown, usual)
    change = (reference - flown) / tail if tail > 0.0 else np.full(good.size, np.inf)
    if np.any(np.abs(change) > MOST_CG_CHANGE):
        raise BadInputError(
            f"the centre of gravity lies {np.max(np.abs(reference - flown)) / INCH:.0f} in from the reference, "
            "too much for this tail arm",
            f"{name}, cg",
            "give cg, reference cg and tail arm in in or m, the first two from one datum",
        )
    return np.asarray(np.sqrt(1.0 + change))


def warning_results(
    extras: StallExtras, flap_rad: FloatArray, ias_mps: FloatArray, beliefs: Beliefs
) -> list[HandResult]:
    """Return by how much the warning came before the stall, for each setting in which it was called."""
    out = []
    for setting in beliefs.settings if extras.warning_mps.size else ():
        here = (np.abs(flap_rad - setting.angle_rad) < 0.01 * DEGREE) & np.isfinite(extras.warning_mps)
        if here.any():
            margins = (extras.warning_mps - ias_mps)[here] / KNOT
            out.append(_margin(setting.name, margins, beliefs.instrument.reading_sd_mps / KNOT))
    return out


def _margin(name: str, margins: FloatArray, reading_kt: float) -> HandResult:
    """Return the mean margin; from one stall its doubt is two dial readings, from more their own scatter (Student)."""
    n = margins.size
    each = math.sqrt(2.0) * reading_kt
    if n > 1:
        each = max(float(np.std(margins, ddof=1)), 0.5)
    dof = float(n - 1) if n > 1 else math.inf
    value = Measured(float(np.mean(margins)), each / math.sqrt(n), "kt", {"readings": each / math.sqrt(n)}, dof)
    low, high = value.interval()
    least = LEAST_WARNING_MPS / KNOT
    said = (
        f"less than {least:.0f} kt" if high < least else f"at least {least:.0f} kt" if low > least else
        f"too close to call against {least:.0f} kt"
    )  # fmt: skip
    return HandResult(
        f"warning margin, {name}",
        f"Warning before the stall, flaps {name}",
        1,
        False,
        value,
        float("nan"),
        f"Airspeed at horn or buffet less that at the stall, over {n} stall{'s' if n != 1 else ''}: {said}, the margin "
        "that 14 CFR 23.207 (legacy, from memory) asked for.",
    )


def with_power(results: Sequence[HandResult], power_words: str) -> list[HandResult]:
    """Return the results as they are with power off, and those with power on under their own names, speeds alone."""
    if not power_words:
        return list(results)
    return [
        replace(
            result,
            key=f"{result.key}, power on",
            title=f"{result.title}, power {power_words}",
            sentence=f"{result.sentence} Thrust carries a part of the weight and the slipstream adds lift, so "
            "this is no measure of CLmax, and the fitted airplane does not take it.",
        )
        for result in results
        if result.key.startswith("stall speed")
    ]
