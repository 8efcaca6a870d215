"""What a proposal of a run is: what it was probably flown for, from when to when, in which configuration, and why."""

from __future__ import annotations

from dataclasses import dataclass, field

CONFIGURATION_CHANGE = "configuration change"
GO_AROUND = "go-around"

METHOD_OF_KIND = {
    "level deceleration": "level deceleration",
    "out and back": "out and back",
    "retraction": "level deceleration",
    "level acceleration": "level acceleration",
    "slow-down": "slow down",
    "stall": "stall series",
    "glide": "glide",
    "climb": "climb",
    GO_AROUND: "",
    CONFIGURATION_CHANGE: "",
}
"""The flight-test method a kind of stretch is evidence for; "" where it is none by itself."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A stretch of a log that looks like something flown on purpose.

    Attributes:
        kind: a key of `METHOD_OF_KIND`.
        from_s, to_s: on the recording's own clock [s].
        device: "gear" or "flaps", or "".
        configuration: gear and flaps when it began, in words, "" where the log does not show them.
        why: what was seen, in a sentence.
        score: 0 to 1; judged, not a probability.
        setup: set-up words a run made of it needs besides those of the recording.
        from_row, to_row: 1-based lines of its first and last row.
    """

    kind: str
    from_s: float
    to_s: float
    device: str
    configuration: str
    why: str
    score: float
    setup: dict[str, str] = field(default_factory=dict)
    from_row: int = 0
    to_row: int = 0

    @property
    def method(self) -> str:
        """The flight-test method it is evidence for, or ""."""
        return METHOD_OF_KIND[self.kind]
