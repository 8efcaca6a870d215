"""The cautions that stand on every card and every brief."""

from __future__ import annotations

from typing import Final

CAUTIONS: Final[tuple[str, ...]] = (
    "Flight test can kill. Fly these points only with a qualified instructor or test pilot on board.",
    "The airplane's own approved manual and placards come first; where this paper and they differ, they are right.",
    "Stay inside every limit of the manual: VFE, VLE, VLO, VA, VNE, weight, centre of gravity, engine limits.",
    "Altitude floor for slow flight and stalls as local regulation and the instructor set it, never less than 3,000 ft "
    "above ground (common practice, no source).",
    "The pilot flies and looks out; a second person reads and writes.",
    "Numbers here describe what was measured within stated bounds. They are no advice for use in flight.",
)
