"""A belief about one number: a median, a standard deviation and where it comes from.

Every uncertain parameter is handled through a standard normal latent ``z``: the fit moves in ``z`` (prior residual =
``z`` itself), and a posterior draw is turned back into the physical number by :meth:`Prior.from_latent`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Kind = Literal["normal", "lognormal", "share", "gain"]

GAIN_POWER = 0.75
"""Power of a gain that is taken as normal; 1 would be the normal distribution, towards 0 the lognormal one."""
LEAST_OF_GAIN = 1.0e-3


@dataclass(frozen=True, slots=True)
class Prior:
    """A belief in SI units.

    ``value`` is the median, ``sd`` the standard deviation in the same unit. ``lognormal`` is for numbers that cannot
    be negative; its width is set so that the coefficient of variation is ``sd / value``. ``share`` is for numbers
    between 0 and 1: their logit is normal, with spread ``sd / (value (1 - value))``. ``gain`` is for differences that
    are positive but measured as differences, such as the lift a flap adds: their power GAIN_POWER is normal (Box and
    Cox), which keeps them above nought and a fit of them close to Gaussian, where a logarithm would be lopsided.
    ``source`` says in words where the belief comes from.
    """

    value: float
    sd: float
    kind: Kind = "normal"
    source: str = ""

    @property
    def log_sd(self) -> float:
        """Width of the logarithm for a lognormal belief."""
        return math.sqrt(math.log1p((self.sd / self.value) ** 2))

    @property
    def _logit_sd(self) -> float:
        return self.sd / (self.value * (1.0 - self.value))

    def from_latent(self, z: float) -> float:
        """Return the physical value at standard normal latent ``z``."""
        if self.kind == "lognormal":
            return self.value * math.exp(self.log_sd * z)
        if self.kind == "share":
            return 1.0 / (1.0 + (1.0 / self.value - 1.0) * math.exp(-self._logit_sd * z))
        if self.kind == "gain":
            base = max(1.0 + GAIN_POWER * self.sd / self.value * z, LEAST_OF_GAIN)
            return float(self.value * base ** (1.0 / GAIN_POWER))
        return self.value + self.sd * z

    def to_latent(self, value: float) -> float:
        """Return the latent at a physical value; raises ValueError for a lognormal value <= 0."""
        if self.kind == "lognormal":
            return math.log(value / self.value) / self.log_sd
        if self.kind == "share":
            return math.log(value / (1.0 - value) * (1.0 / self.value - 1.0)) / self._logit_sd
        if self.kind == "gain":
            return float((value / self.value) ** GAIN_POWER - 1.0) / (GAIN_POWER * self.sd / self.value)
        return (value - self.value) / self.sd

    def interval(self, z: float = 1.959963985) -> tuple[float, float]:
        """Return the central interval at +/- ``z`` (95 % by default)."""
        return self.from_latent(-z), self.from_latent(z)
