"""What was read from an instrument, frame by frame, and the table it is handed over as."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

CONFIDENT = 0.5
"""Readings below this confidence are left blank, unless another limit is asked for."""


@dataclass(frozen=True, slots=True)
class InstrumentReadings:
    """Speeds read from a clip.

    Attributes:
        unit: unit of the speeds.
        times_s: from the first frame of the clip [s], shape (n,).
        speeds: in ``unit``, NaN where nothing was made out, shape (n,).
        confidence: 0 to 1, shape (n,).
    """

    unit: str
    times_s: FloatArray
    speeds: FloatArray
    confidence: FloatArray

    def confident(self, least: float = CONFIDENT) -> NDArray[np.bool_]:
        """Return which readings are sure enough to be used."""
        sure: NDArray[np.bool_] = np.isfinite(self.speeds) & (self.confidence >= least)
        return sure

    def as_table(self, header: Mapping[str, str], least: float = CONFIDENT) -> str:
        """Return a logger's table: header lines, then a row for each frame, blank where the reading is not sure.

        What was made out of a frame that is not sure stands in a column of its own that no reader takes as a speed.
        """
        sure = self.confident(least)
        lines = [f"# {' '.join(key.split())}: {' '.join(value.split())}" for key, value in header.items()]
        lines += ["# kind: logger", f"# least confidence: {least:g}"]
        lines.append(f"time (s),IAS ({self.unit}),confidence,unsure reading")
        for time_s, speed, confidence, use in zip(self.times_s, self.speeds, self.confidence, sure, strict=True):
            shown = f"{speed:.2f}" if np.isfinite(speed) else ""
            cells = (shown, f"{confidence:.2f}", "") if use else ("", f"{confidence:.2f}", shown)
            lines.append(",".join([f"{time_s:.3f}", *cells]))
        return "\n".join([*lines, ""])
