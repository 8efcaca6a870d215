"""A pooled finding drawn: forest and funnel as SVG, with what they show in words."""

from __future__ import annotations

from wringout.briefs.figures.fleet import FleetFigure, FleetRow, forest_figure, funnel_figure
from wringout.briefs.house_style import themed
from wringout.services.fleet.pooling import PooledFinding


def fleet_figures(item: PooledFinding) -> tuple[str, str]:
    """Return the forest and the funnel plot of a pooled finding, colours as variables of the page."""
    whole = item.pooled
    flagged = [o.flagged for o in whole.outliers] or [False] * len(item.airplanes)
    rows = [
        FleetRow(name, value, doubt, off)
        for name, value, doubt, off in zip(item.airplanes, item.values, item.uncertainties, flagged, strict=True)
    ]
    device = item.quantity.partition(".")[2]
    unit = {"ft2": "ft²", "1": ""}.get(item.unit, item.unit)
    shown = FleetFigure(item.label, unit, device, rows, whole.mean, whole.interval_95, whole.prediction_95)
    return themed(forest_figure(shown)), themed(funnel_figure(shown))
