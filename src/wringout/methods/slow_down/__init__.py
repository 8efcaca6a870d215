"""Slow-downs and descents: time, distance and height to lose speed or height with power, gear and flaps."""

from wringout.methods.slow_down.method import METHOD

__all__ = ["METHOD"]
