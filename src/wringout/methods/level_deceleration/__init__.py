"""Level deceleration: a device goes out at fixed power and the airspeed is read as it falls."""

from wringout.methods.level_deceleration.method import METHOD

__all__ = ["METHOD"]
