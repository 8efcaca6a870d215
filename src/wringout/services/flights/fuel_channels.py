"""Fuel burned up to a run by what a recording shows: fuel used, fuel remaining, or the flow summed up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wringout.recordings.types import Recording

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FuelChannels:
    """A run's stretch of a recording, the whole recording it was cut from, and the fuel's density."""

    run: Recording
    whole: Recording
    density_kgm3: float


def at_start_kg(channels: FuelChannels) -> float | None:
    """Return the fuel on board at the first row of the whole recording that says so, kg; None without a channel."""
    values = _mass(channels.whole, "fuel_remaining", "fuel_mass_remaining", channels.density_kgm3)
    return None if values is None else float(values[np.isfinite(values)][0])


def burned_by_channels(
    channels: FuelChannels, at_start_fuel_kg: float | None, elapsed_s: float | None
) -> tuple[float, str] | None:
    """Return the fuel burned up to the run, kg, and by what it is known; None where no channel says.

    Fuel used is taken at its median over the run; fuel remaining likewise, from ``at_start_fuel_kg`` or, without it,
    from the recording's first reading; a flow is summed from the recording's first row to the middle of the run, or its
    mean over the run taken for ``elapsed_s`` where that is known.
    """
    density = channels.density_kgm3
    used = _mass(channels.run, "fuel_used", "fuel_mass_used", density)
    if used is not None:
        return max(float(np.nanmedian(used)), 0.0), "the recording"
    left, first = _mass(channels.run, "fuel_remaining", "fuel_mass_remaining", density), at_start_kg(channels)
    if left is not None and first is not None:
        start = first if at_start_fuel_kg is None else at_start_fuel_kg
        return max(start - float(np.nanmedian(left)), 0.0), "the fuel remaining in the recording"
    return _by_flow(channels, elapsed_s)


def _mass(recording: Recording, volume: str, mass: str, density_kgm3: float) -> FloatArray | None:
    """Return a quantity of fuel as mass from whichever of its two channels there is, None without either."""
    for quantity, factor in ((mass, 1.0), (volume, density_kgm3)):
        channel = recording.channels.get(quantity)
        if channel is not None and np.isfinite(channel.values).any():
            return np.asarray(channel.values * factor)
    return None


def _by_flow(channels: FuelChannels, elapsed_s: float | None) -> tuple[float, str] | None:
    """Return the fuel burned by the flow of a recording with a clock; gaps are bridged by straight lines."""
    if elapsed_s is not None:
        flow = _mass(channels.run, "fuel_flow", "fuel_mass_flow", channels.density_kgm3)
        if flow is None:
            return None
        return float(np.nanmean(flow)) * elapsed_s, f"the mean fuel flow of the run in {elapsed_s / 60.0:.0f} min"
    flow, times = _mass(channels.whole, "fuel_flow", "fuel_mass_flow", channels.density_kgm3), channels.whole.time_s
    if flow is None or times is None:
        return None
    inside = np.isin(channels.whole.rows, channels.run.rows)
    middle, known = float(np.median(times[inside])), np.isfinite(flow)
    until = np.append(times[times < middle], middle)
    burned = float(np.trapezoid(np.interp(until, times[known], flow[known]), until))
    return burned, f"the fuel flow since the recording began, {(middle - float(times[0])) / 60.0:.0f} min before"
