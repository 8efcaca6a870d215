"""Techniques compared and tried on the airplane as it is known."""
