"""Figures of the brief, each drawn once as one SVG for screen and paper."""
