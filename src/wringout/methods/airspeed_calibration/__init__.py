"""Airspeed calibration by ground speed: true airspeed and wind from legs or a turn, to a position-error table."""

from wringout.methods.airspeed_calibration.method import METHOD

__all__ = ["METHOD"]
