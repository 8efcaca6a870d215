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

    def as_table(
        self, header: Mapping[str, str], least: float = CONFIDENT, answers: Mapping[int, float | None] | None = None
    ) -> str:
        """Return a logger's table: header lines, then a row for each frame, blank where the reading is not sure.

        What was made out of a frame that is not sure stands in a column of its own that no reader takes as a speed.
        ``answers`` are a person's, by place: the speed it was, None where there is none to be had; they go before what
        was made out, and a last column says whose a speed is.
        """
        sure = self.confident(least)
        told = answers or {}
        lines = [f"# {' '.join(key.split())}: {' '.join(value.split())}" for key, value in header.items()]
        lines += ["# kind: logger", f"# least confidence: {least:g}"]
        lines.append(f"time (s),IAS ({self.unit}),confidence,unsure reading{',answered' if told else ''}")
        rows = zip(self.times_s, self.speeds, self.confidence, sure, strict=True)
        for i, (time_s, speed, confidence, use) in enumerate(rows):
            made_out = f"{speed:.2f}" if np.isfinite(speed) else ""
            said = told.get(i)
            taken = f"{said:.2f}" if said is not None else "" if i in told or not use else made_out
            cells = [f"{time_s:.3f}", taken, f"{confidence:.2f}", "" if taken == made_out else made_out]
            if told:
                cells.append("" if i not in told else "no" if said is None else "yes")
            lines.append(",".join(cells))
        return "\n".join([*lines, ""])
