"""What every flight-test method offers, and the small values methods share. SI units throughout."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.limits import Exceedance
from wringout.propagation import Measured
from wringout.recordings.types import Recording

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Nuisance:
    """A number of one run that must be fitted along with the airplane and is of no interest by itself.

    ``mean`` and ``sd`` are its normal prior in SI; ``share`` names the error source it stands for in a budget.
    Nuisances with the same ``group`` are repeats of one thing: how much they scatter is estimated by the fit, starting
    from ``sd``. An empty group means the width is known.
    """

    key: str
    mean: float
    sd: float
    share: str
    group: str = ""


@dataclass(frozen=True, slots=True)
class Source:
    """Where the numbers of a run came from: recording hash and name, and the time window used (s, its own clock)."""

    sha256: str
    recording: str
    from_s: float | None = None
    to_s: float | None = None


@dataclass(frozen=True, slots=True)
class Conditions:
    """Air and weight of one run. ``altitude_band_m`` is how closely the altitude was held (plus or minus)."""

    pressure_altitude_m: float
    isa_deviation_k: float
    mass_kg: float
    altitude_band_m: float = 15.0


@dataclass(frozen=True, slots=True)
class HandResult:
    """One closed-form answer that could be checked with a calculator.

    ``strength`` orders the evidence (1 strongest). ``is_drag`` is False for "knots lost", which is not a drag.
    ``speed_mps`` is the true airspeed it holds at (NaN where it has none). ``sentence`` explains it in plain words.
    """

    key: str
    title: str
    strength: int
    is_drag: bool
    value: Measured
    speed_mps: float
    sentence: str


@dataclass(frozen=True, slots=True)
class GuardNotice:
    """A planned point against a limit: ``blocking`` when the limit is violated, else a thin margin."""

    blocking: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Card:
    """A test card in words: what to set up, what to do, what to read, when to stop."""

    title: str
    purpose: str
    setup: tuple[str, ...]
    steps: tuple[str, ...]
    readings: tuple[str, ...]
    stop_conditions: tuple[str, ...]
    cautions: tuple[str, ...]


class Run(Protocol):
    """What the estimator may ask of any run; each method's file has its own run type."""

    @property
    def key(self) -> str:
        """Short name within the study, such as "G1"."""

    @property
    def title(self) -> str:
        """What was flown, in words."""

    @property
    def method(self) -> str:
        """Key of the method."""

    @property
    def source(self) -> Source:
        """Where its numbers came from."""

    @property
    def rows(self) -> IntArray:
        """Source row of each observed value, shape (n,)."""


class Method(Protocol):
    """A flight-test method: one file, one object with these members. ``run`` is that file's own run type."""

    key: str
    title: str
    observed_unit: str
    ignores: frozenset[int]
    """Places of the parameter row that never matter to this method's runs: a promise that its tests hold it to."""

    def from_recording(self, key: str, recording: Recording, setup: dict[str, str], beliefs: Beliefs) -> list[Any]:
        """Build runs from a recording and its set-up words; raises BadInputError with one sentence."""

    def exceedances(self, run: Any, beliefs: Beliefs) -> list[Exceedance]:
        """Return the limits that the run went beyond."""

    def nuisances(self, run: Any, beliefs: Beliefs) -> tuple[Nuisance, ...]:
        """Return the run's own uncertain numbers."""

    def observed(self, run: Any) -> FloatArray:
        """Return what was read, SI, shape (n,)."""

    def predict(self, run: Any, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return what the candidate airplane would have shown, same shape and unit as :meth:`observed`."""

    def reading_sd(self, run: Any, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return the standard deviation of each reading about the prediction, SI, shape (n,)."""

    def residuals(self, run: Any, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return ``(observed - predicted) / sd`` for a candidate airplane, shape (n,)."""

    def by_hand(self, run: Any, beliefs: Beliefs) -> list[HandResult]:
        """Return the closed-form reductions of the run, strongest first."""

    def simulate(self, run: Any, row: FloatArray, beliefs: Beliefs, rng: np.random.Generator) -> Any:
        """Return the run as the airplane ``row`` would produce it, with reading noise."""

    def card(self, beliefs: Beliefs, words: dict[str, str]) -> Card:
        """Return the test card for a point of this method."""

    def guard(self, beliefs: Beliefs, words: dict[str, str]) -> list[GuardNotice]:
        """Hold a planned point against the airplane's limits."""


@runtime_checkable
class BatchMethod(Protocol):
    """A method that predicts many candidates at once, faster than one after the other; the answers are the same."""

    def predict_many(self, run: Any, rows: FloatArray, nuisances: FloatArray, beliefs: Beliefs) -> FloatArray:
        """Return predictions of k candidates, SI, (k, n), from ``rows`` (k, SIZE) and ``nuisances`` (k, m)."""


@runtime_checkable
class TimedMethod(Protocol):
    """A method whose runs are a speed history, so that a fitted curve can be drawn through them."""

    def curve(
        self, run: Any, row: FloatArray, nuisance: FloatArray, beliefs: Beliefs, times_s: FloatArray
    ) -> FloatArray:
        """Return the observed quantity, SI, at any rising times of the run (s from its first reading)."""


@runtime_checkable
class FittedMethod(Protocol):
    """A method that reads more than its parameters off the fitted airplane, beside what it says by hand."""

    def from_fit(
        self, run: Any, rows: FloatArray, nuisances: FloatArray, by_hand: Sequence[HandResult]
    ) -> list[HandResult]:
        """Return answers from draws of the joint fit: ``rows`` (n, SIZE) and the run's own ``nuisances`` (n, m)."""
