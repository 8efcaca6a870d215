"""What the workbench is started with, and the numbers that bound what it takes in."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from wringout.services.opening import Clock
from wringout.web.pairing import Pairing

LONGEST_UPLOAD_BYTES = 256 << 20
"""The largest body of a form with files: an hour of a fast logger is a tenth of it."""
LONGEST_BODY_BYTES = 4 << 20
"""The largest body of anything else that is sent."""
PATIENCE_S = 30.0
"""How long the workbench waits for the next bytes of a request, seconds."""
LOOPBACK_NAMES = frozenset({"127.0.0.1", "localhost", "[::1]"})


@dataclass(frozen=True, slots=True)
class Settings:
    """What one running workbench knows of itself.

    Attributes:
        database: the database of studies; None means the one in the user's data folder.
        clock: returns the present moment with its time zone.
        hosts: the names it answers to, without port; a request for any other name is refused.
        pairing: the code that other devices must show; None where only this machine is served.
        briefs: the folder briefs are written into; None puts them beside the database.
        patience_s: how long to wait for the next bytes of a request [s].
    """

    database: Path | None
    clock: Clock
    hosts: frozenset[str] = field(default=LOOPBACK_NAMES)
    pairing: Pairing | None = None
    briefs: Path | None = None
    patience_s: float = PATIENCE_S
