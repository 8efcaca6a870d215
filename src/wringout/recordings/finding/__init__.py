"""Runs proposed from an unlabelled log."""
