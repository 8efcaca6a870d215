"""Level speed-power points: steady level flight at stated power, for the propeller and the polar."""

from wringout.methods.level_power.method import METHOD

__all__ = ["METHOD"]
