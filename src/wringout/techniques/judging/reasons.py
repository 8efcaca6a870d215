"""Why one technique is ahead of another: drag area by device, the budget of energy rate, and when the benefit came."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wringout.techniques.stated.types import FloatArray, Trace


@dataclass(frozen=True, slots=True, eq=False)
class Budget:
    """Where the energy goes along one trajectory: rates of energy height, m/s, at the trace's times.

    ``total = thrust - clean - induced - gear - flaps``, each force times true airspeed over weight; ``clean`` is the
    clean parasite drag, and ``rest`` what none of these is (a dead engine, wheels on the runway).
    """

    t_s: FloatArray
    total: FloatArray
    thrust: FloatArray
    clean: FloatArray
    induced: FloatArray
    gear: FloatArray
    flaps: FloatArray
    rest: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Benefit:
    """By how much one technique is ahead of another in energy height over time, and where that came from.

    Attributes:
        t_s: times, s. ahead_m: energy height of the first less that of the second, m.
        gear_m, flaps_m, rest_m: the parts of it, m: less gear drag, less flap drag, and everything else.
    """

    t_s: FloatArray
    ahead_m: FloatArray
    gear_m: FloatArray
    flaps_m: FloatArray
    rest_m: FloatArray

    def share_by(self, seconds: float) -> float:
        """Return the share of the final benefit that was gained in the first seconds; NaN where there is none."""
        final = float(self.ahead_m[-1])
        if abs(final) < 1e-6:
            return float("nan")
        return float(np.interp(seconds, self.t_s, self.ahead_m)) / final

    def sentence(self, seconds: float = 4.0) -> str:
        """Say when the benefit came, e.g. ``"The first 4 s gain 61 % of the benefit."``."""
        share = self.share_by(seconds)
        if not np.isfinite(share):
            return "Neither gains on the other."
        return f"The first {seconds:.0f} s gain {100.0 * share:.0f} % of the benefit."


def budget(trace: Trace, induced_per_lift: FloatArray | None = None) -> Budget:
    """Return the budget of energy rate of a trace.

    ``dE/dt = (T - D) V / W`` with ``E = h + V^2 / 2g`` (any performance textbook). Areas are turned into drag with the
    dynamic pressure of the calibrated airspeed, which is that of the air to a few parts in a thousand at such speeds;
    what is left of the drag flown is induced.

    Args:
        trace: of a flight. induced_per_lift: induced drag, N, if known apart; else the remainder is called induced.
    """
    pressure = 0.5 * 1.225 * trace.cas_mps**2
    scale = trace.tas_mps / trace.weight_n
    clean, gear, flaps = (
        pressure * area * scale for area in (trace.clean_area_m2, trace.gear_area_m2, trace.flap_area_m2)
    )
    thrust, drag = trace.thrust_n * scale, trace.drag_n * scale
    left = drag - clean - gear - flaps
    induced = left if induced_per_lift is None else induced_per_lift * scale
    return Budget(trace.t_s, thrust - drag, thrust, clean, induced, gear, flaps, left - induced)


def benefit(first: Trace, second: Trace, step_s: float = 0.1) -> Benefit:
    """Return by how much the first trace is ahead of the second in energy height, and what of it is gear and flaps.

    Args:
        first, second: of the same airplane and conditions. step_s: of the times compared.
    """
    end = min(float(first.t_s[-1]), float(second.t_s[-1]))
    times = np.linspace(0.0, end, max(int(end / step_s), 1) + 1)
    energies = [np.interp(times, trace.t_s, trace.energy_height_m) for trace in (first, second)]
    ahead = energies[0] - energies[1]
    parts = []
    for name in ("gear", "flaps"):
        rates = [np.interp(times, trace.t_s, getattr(budget(trace), name)) for trace in (first, second)]
        saved = rates[1] - rates[0]
        parts.append(np.concatenate(([0.0], np.cumsum(0.5 * (saved[1:] + saved[:-1]) * np.diff(times)))))
    return Benefit(times, ahead, parts[0], parts[1], ahead - parts[0] - parts[1])
