"""Saw-tooth and check climbs: steady climbs at known power, for best-rate and best-angle speed."""

from wringout.methods.climb.method import METHOD

__all__ = ["METHOD"]
