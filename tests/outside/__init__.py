"""Checks against things nobody here wrote."""
