"""Level accelerations: power goes on in level flight and the airspeed is read as it rises, for excess power."""

from wringout.methods.level_acceleration.method import METHOD

__all__ = ["METHOD"]
