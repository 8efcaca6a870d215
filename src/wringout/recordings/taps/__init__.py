"""Taps made in flight on the page of taps."""
