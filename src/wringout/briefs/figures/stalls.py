"""Stall speed over flap setting, and where the flap travel buys lift and where drag."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from wringout.briefs.catalogue import marked, tr
from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.parts import THICK, THIN, unit_label
from wringout.briefs.house_style import FAINT, FLAPS, INK, PAPER, place, styled, svg_of
from wringout.estimate.findings import Finding
from wringout.units import DEGREE


def stall_figure(evidence: Evidence, stalls: Sequence[Finding], lift: Finding | None, drag: Finding | None) -> str:
    """Return stall speeds with intervals over flap angle and, where known, the shares of lift and drag beside them."""
    settings = evidence.content.reduction.beliefs.settings
    speed = evidence.scale("kt")
    two = lift is not None and drag is not None
    with styled(2.25) as figure:
        axes = place(figure, 0.42, 0.42, 2.5 if two else 0.9, 0.1)
        names = {f.key.removeprefix("stall."): f for f in stalls}
        for run in evidence.by_method("stall series"):
            at = run.run.flap_rad / DEGREE
            axes.plot(at, run.fit.observed / speed.size, "o", ms=3.0, mfc=PAPER, mec=FAINT, mew=0.8, zorder=2)
        for setting in settings:
            finding = names.get(setting.name)
            if finding is None:
                continue
            x = setting.angle_rad / DEGREE + 1.6
            most = [q / speed.size for q in finding.most]
            half = [q / speed.size for q in finding.half]
            axes.plot((x, x), most, color=INK, lw=THIN, zorder=3)
            axes.plot((x, x), half, color=INK, lw=THICK, zorder=3)
            axes.plot([x], [finding.value / speed.size], "D", ms=4.2, mfc=INK, mec=INK, mew=0.6, zorder=4)
            axes.annotate(
                f"{tr('up') if setting.name == 'up' else setting.name} {evidence.show(finding).value}",
                (x, most[1]),
                xytext=(0, 3),
                textcoords="offset points",
                ha="center",
                va="bottom",
            )
        full = settings[-1].angle_rad / DEGREE
        axes.set_xlim(-0.14 * full, 1.18 * full)
        low, high = axes.get_ylim()
        axes.set_ylim(low, high + 0.12 * (high - low))
        axes.yaxis.set_major_locator(MaxNLocator(5, integer=True))
        axes.set_xticks([s.angle_rad / DEGREE for s in settings])
        axes.set_xlabel(tr("flap angle, degrees"))
        axes.set_ylabel(unit_label(tr("stall speed, calibrated"), speed.symbol))
        if lift is not None and drag is not None:
            _shares(place(figure, 2.78, 0.42, 0.12, 0.1), [s.angle_rad / DEGREE for s in settings], lift, drag)
        return svg_of(figure, "stalls")


def _shares(axes: Axes, angles: Sequence[float], lift: Finding, drag: Finding) -> None:
    middle = len(angles) // 2
    x = [angles[0], angles[middle], angles[-1]]
    for finding, name, style, shift in (
        (lift, marked("lift"), "solid", -0.5),
        (drag, marked("drag"), (0, (4, 1.6)), 0.5),
    ):
        y = [0.0, 100.0 * finding.value, 100.0]
        axes.plot(x, y, color=FLAPS, lw=1.6, ls=style, zorder=2)
        at = angles[middle] + shift
        axes.plot((at, at), [100.0 * q for q in finding.most], color=INK, lw=THIN, zorder=3)
        axes.plot((at, at), [100.0 * q for q in finding.half], color=INK, lw=THICK, zorder=3)
        higher = (lift.value > drag.value) == (name == "lift")
        axes.annotate(
            tr(name),
            (0.5 * (x[0] + x[1]), 0.5 * y[1]),
            xytext=(-4, 4) if higher else (5, -4),
            textcoords="offset points",
            ha="right" if higher else "left",
            va="bottom" if higher else "top",
        )
    axes.set_xticks(list(angles))
    axes.set_ylim(0.0, 108.0)
    axes.set_yticks([0, 50, 100])
    axes.set_xlabel(tr("flap angle, degrees"))
    axes.set_ylabel(tr("share of what full flap gives, %"))
