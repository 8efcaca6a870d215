"""Sparks: a run as a mark the size of a word, its readings and its fit."""

from __future__ import annotations

import numpy as np

from wringout.briefs.evidence import RunEvidence
from wringout.briefs.figures.parts import device_colour
from wringout.briefs.house_style import INK

WIDTH, HEIGHT, EDGE = 46.0, 18.0, 2.0
_MOST_DOTS = 24


def spark_of(run: RunEvidence) -> str:
    """Return a run's spark as SVG: dots are readings, the line is the fit; flagged readings are crosses."""
    seen, fitted = run.fit.observed, run.fit.predicted
    if not seen.size:
        return _svg("")
    times = run.times_s
    x = np.asarray(times if times is not None else np.arange(seen.size), dtype=np.float64)
    low, high = float(min(seen.min(), fitted.min())), float(max(seen.max(), fitted.max()))
    span, length = max(high - low, 1e-9), max(float(x.max() - x.min()), 1e-9)
    px = EDGE + (WIDTH - 2.0 * EDGE) * (x - x.min()) / length
    flagged = set(run.fit.flagged)

    def py(values: np.ndarray) -> np.ndarray:
        return np.asarray(HEIGHT - EDGE - (HEIGHT - 2.0 * EDGE) * (values - low) / span)

    parts = [_line(run, px, py(fitted), times is not None)]
    kept = sorted({*flagged, *(int(i) for i in np.linspace(0, seen.size - 1, min(seen.size, _MOST_DOTS)))})
    y = py(seen)
    for i in kept:
        if i in flagged:
            parts.append(
                f'<path d="M{px[i] - 1.6:.1f} {y[i] - 1.6:.1f}l3.2 3.2m0 -3.2l-3.2 3.2" stroke="{INK}" '
                'stroke-width="0.9" fill="none"/>'
            )
        else:
            parts.append(f'<circle cx="{px[i]:.1f}" cy="{y[i]:.1f}" r="0.8" fill="{INK}"/>')
    return _svg("".join(parts))


def _svg(drawn: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:.0f}" height="{HEIGHT:.0f}" '
        f'viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}">{drawn}</svg>'
    )


def _line(run: RunEvidence, x: np.ndarray, y: np.ndarray, connected: bool) -> str:
    colour = device_colour(run.device)
    if connected:
        points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
        return f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="1.5"/>'
    return "".join(
        f'<path d="M{a - 1.8:.1f} {b:.1f}h3.6" stroke="{colour}" stroke-width="1.3"/>'
        for a, b in zip(x, y, strict=True)
    )
