"""A pooled finding drawn: forest and funnel as SVG, with what they show in words."""

from __future__ import annotations

from wringout.briefs.content import Units
from wringout.briefs.figures.fleet import FleetFigure, FleetRow, forest_figure, funnel_figure
from wringout.briefs.house_style import themed
from wringout.numerals import metric, symbol
from wringout.services.fleet.pooling import PooledFinding
from wringout.units import from_si, to_si


def fleet_figures(item: PooledFinding, units: Units = "aviation") -> tuple[str, str]:
    """Return the forest and the funnel plot of a pooled finding, colours as variables of the page."""
    whole, unit = item.pooled, metric(item.unit) if units == "metric" else item.unit

    def told(value: float) -> float:
        return value if unit == item.unit else float(from_si(to_si(value, item.unit), unit))

    flagged = [o.flagged for o in whole.outliers] or [False] * len(item.airplanes)
    rows = [
        FleetRow(name, told(value), told(doubt), off)
        for name, value, doubt, off in zip(item.airplanes, item.values, item.uncertainties, flagged, strict=True)
    ]
    device = item.quantity.partition(".")[2]
    near, far = whole.prediction_95 or (0.0, 0.0)
    shown = FleetFigure(
        item.label,
        symbol(unit),
        device,
        rows,
        told(whole.mean),
        (told(whole.interval_95[0]), told(whole.interval_95[1])),
        None if whole.prediction_95 is None else (told(near), told(far)),
    )
    return themed(forest_figure(shown)), themed(funnel_figure(shown))
