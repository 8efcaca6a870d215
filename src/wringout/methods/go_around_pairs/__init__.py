"""Go-arounds flown in pairs at altitude against a hard deck: two techniques held against each other."""

from wringout.methods.go_around_pairs.method import METHOD

__all__ = ["METHOD"]
