"""Stall series: stall speeds read for several flap settings, power off, wings level."""

from wringout.methods.stall_series.method import METHOD

__all__ = ["METHOD"]
