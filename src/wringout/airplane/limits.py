"""Limits from the airplane's own approved manual, and what a run did to them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wringout.units import KNOT


@dataclass(frozen=True, slots=True)
class Limits:
    """Limit speeds, m/s indicated, and limit masses, kg; None where the manual in hand states none.

    ``flaps_extended`` maps a flap setting's name to its limit speed.
    """

    never_exceed_mps: float | None
    maneuvering_mps: float | None
    gear_operate_mps: float | None
    gear_retract_mps: float | None
    gear_extended_mps: float | None
    flaps_extended_mps: Mapping[str, float]
    max_mass_kg: float

    def flap_limit(self, setting: str) -> float | None:
        """Return VFE for a setting, m/s indicated, or None."""
        return self.flaps_extended_mps.get(setting)


@dataclass(frozen=True, slots=True)
class Exceedance:
    """A limit that a reading went beyond: ``limit`` is its name, speeds m/s indicated, ``row`` the source line."""

    limit: str
    limit_mps: float
    seen_mps: float
    row: int

    def sentence(self) -> str:
        """Say it in one plain sentence, in knots."""
        return (
            f"{self.limit} is {self.limit_mps / KNOT:.0f} kt and {self.seen_mps / KNOT:.0f} kt was read"
            f"{f' on row {self.row}' if self.row else ''}: a limit exceedance; the run is still reduced."
        )
