"""Out-and-back pair: a device goes out at fixed power and in again with the power untouched."""

from wringout.methods.out_and_back.method import METHOD

__all__ = ["METHOD"]
