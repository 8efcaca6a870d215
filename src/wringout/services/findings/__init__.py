"""Runs reduced to findings, kept as documents with what they were computed from."""
