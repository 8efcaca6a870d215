"""Wringout."""
