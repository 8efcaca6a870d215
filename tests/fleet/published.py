"""Published data sets of meta-analysis, as values; the sources stand beside them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

BCG_TRIALS = np.array(
    [
        (4, 119, 11, 128),
        (6, 300, 29, 274),
        (3, 228, 11, 209),
        (62, 13536, 248, 12619),
        (33, 5036, 47, 5761),
        (180, 1361, 372, 1079),
        (8, 2537, 10, 619),
        (505, 87886, 499, 87892),
        (29, 7470, 45, 7232),
        (17, 1699, 65, 1600),
        (186, 50448, 141, 27197),
        (5, 2493, 3, 2338),
        (27, 16886, 29, 17825),
    ],
    dtype=np.float64,
)
"""Vaccinated with and without the disease, not vaccinated with and without: Colditz and others (1994), Efficacy of BCG
vaccine in the prevention of tuberculosis, JAMA 271, 698-702; as reprinted in the metadat collection."""


def bcg() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return log risk ratios and their standard errors."""
    a, b, c, d = BCG_TRIALS.T
    values = np.log(a / (a + b)) - np.log(c / (c + d))
    return values, np.sqrt(1.0 / a - 1.0 / (a + b) + 1.0 / c - 1.0 / (c + d))


_SCHOOLS = """
11 -0.18 0.118, 11 -0.22 0.118, 11 0.23 0.144, 11 -0.30 0.144, 12 0.13 0.014, 12 -0.26 0.014, 12 0.19 0.015,
12 0.32 0.024, 18 0.45 0.023, 18 0.38 0.043, 18 0.29 0.012, 27 0.16 0.020, 27 0.65 0.004, 27 0.36 0.004, 27 0.60 0.007,
56 0.08 0.019, 56 0.04 0.007, 56 0.19 0.005, 56 -0.06 0.004, 58 -0.18 0.020, 58 0.00 0.018, 58 0.00 0.019,
58 -0.28 0.022, 58 -0.04 0.020, 58 -0.30 0.021, 58 0.07 0.006, 58 0.00 0.007, 58 0.05 0.007, 58 -0.08 0.007,
58 -0.09 0.007, 71 0.30 0.015, 71 0.98 0.011, 71 1.19 0.010, 86 -0.07 0.001, 86 -0.05 0.001, 86 -0.01 0.001,
86 0.02 0.001, 86 -0.03 0.001, 86 0.00 0.001, 86 0.01 0.001, 86 -0.10 0.001, 91 0.50 0.010, 91 0.66 0.011,
91 0.20 0.010, 91 0.00 0.009, 91 0.05 0.013, 91 0.07 0.013, 108 -0.52 0.031, 108 0.70 0.031, 108 -0.03 0.030,
108 0.27 0.030, 108 -0.34 0.030, 644 0.12 0.087, 644 0.61 0.082, 644 0.04 0.067, 644 -0.05 0.067
"""
"""District, standardised mean difference and its variance: Konstantopoulos (2011), Research Synthesis Methods 2, 61-76,
as reprinted in the metadat collection."""


def schools() -> tuple[list[str], NDArray[np.float64], NDArray[np.float64]]:
    """Return districts, effects and their variances."""
    rows = [item.split() for item in _SCHOOLS.replace("\n", " ").split(",")]
    return [row[0] for row in rows], np.array([float(r[1]) for r in rows]), np.array([float(r[2]) for r in rows])
