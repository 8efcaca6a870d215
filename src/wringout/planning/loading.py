"""Loading of a planned flight: margins to the c.g. envelope, and the path of the balance as fuel burns."""

from __future__ import annotations

from collections.abc import Mapping

from wringout.airplane.loading import Balance, Loading, balance


def cg_margin_m(loading: Loading, found: Balance) -> float:
    """Return how far the arm may move forward or aft at this mass before it leaves the envelope, m; the smaller one.

    Raises ValueError where the airplane has no envelope. Zero for a balance outside it.
    """
    if not loading.envelope:
        raise ValueError("the airplane has no envelope")
    if not found.inside:
        return 0.0
    crossings = _crossings(loading, found.mass_kg)
    return min((abs(x - found.arm_m) for x in crossings), default=0.0)


def _crossings(loading: Loading, mass_kg: float) -> list[float]:
    """Return the arms, m, at which a line of constant mass meets the border of the envelope."""
    corners = loading.envelope
    out = []
    for (x0, y0), (x1, y1) in zip(corners, (*corners[1:], corners[0]), strict=True):
        low, high = min(y0, y1), max(y0, y1)
        if high - low <= 1e-9 * max(high, 1.0):
            if abs(mass_kg - low) <= 1e-6 * max(high, 1.0):
                out += [x0, x1]
        elif low <= mass_kg <= high:
            out.append(x0 + (mass_kg - y0) / (y1 - y0) * (x1 - x0))
    return out


def zero_fuel(loading: Loading, load_kg: Mapping[str, float]) -> Balance:
    """Return the balance with empty tanks."""
    return balance(loading, load_kg, 0.0)


def burn_path(
    loading: Loading, load_kg: Mapping[str, float], start_m3: float, end_m3: float, steps: int = 12
) -> tuple[Balance, ...]:
    """Return the balance from the first to the last fuel on board, ``steps + 1`` values."""
    return tuple(balance(loading, load_kg, start_m3 + (end_m3 - start_m3) * i / steps) for i in range(steps + 1))
