"""Glides: steady descents without power at several speeds, for the polar of each configuration."""

from wringout.methods.glide.method import METHOD

__all__ = ["METHOD"]
