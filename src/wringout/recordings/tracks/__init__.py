"""Satellite tracks in open formats, each fix with its line."""
