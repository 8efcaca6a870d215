"""What is said on the error stream while a plan is flown in several ways: how long it may take, what each decides."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from wringout.cli import page
from wringout.cli.figures import counted

FIRST_ESTIMATE_S = 5.0
"""How long work goes on before it is said how long all of it may take."""


@dataclass(slots=True)
class Told:
    """Says how long the work may take, and what each way of flying a plan decides as soon as it is known.

    Attributes:
        report: the bar of a terminal. ways: how many there are. trials: flights of each.
        clock: seconds that only ever run on. say: prints a sentence.
    """

    report: page.Report
    ways: int
    trials: int
    clock: Callable[[], float] = time.monotonic
    say: Callable[[str], None] = page.complain
    _begun_s: float = field(init=False)
    _estimated: bool = False
    _done: int = 0

    def __post_init__(self) -> None:
        """Start the clock."""
        self._begun_s = self.clock()

    def progress(self, share: float, words: str) -> None:
        """Pass the share done on to the bar; say once, early, how long all of it may take."""
        self.report(share, words)
        gone = self.clock() - self._begun_s
        if not self._estimated and gone >= FIRST_ESTIMATE_S and 0.0 < share < 1.0:
            self._estimated = True
            flights = f"{counted(self.trials, 'flight')} in each of {counted(self.ways, 'way')}"
            self.say(f"{flights}: {_left(gone, share)} to go.")

    def each(self, title: str, share_decided: float, low: float, high: float) -> None:
        """Say what one way of several decides, and how long the others may still take."""
        self._done += 1
        if self.ways == 1:  # the answer follows at once
            return
        gone, share = self.clock() - self._begun_s, self._done / self.ways
        more = f"; {_left(gone, share)} to go" if self._done < self.ways else ""
        found = f"decides {100 * share_decided:.0f} % ({100 * low:.0f} to {100 * high:.0f} %)"
        self.say(f"{self._done} of {self.ways}, {title}: {found}{more}.")

    def variant(self, _kept: Any, _contest: Any, found: Any) -> None:
        """Say what a variant of a plan decides."""
        decided = found.chance.decided
        self.each(found.title, decided.value, decided.low, decided.high)


def _left(gone_s: float, share: float) -> str:
    left = gone_s * (1.0 - share) / share
    return f"about {left / 60.0:.0f} min" if left >= 90.0 else f"about {left:.0f} s"
