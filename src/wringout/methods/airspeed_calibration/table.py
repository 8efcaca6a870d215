"""From calibrated points to the position-error table of the airplane file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airspeed import PositionErrorRow, PositionErrorTable
from wringout.errors import BadInputError
from wringout.methods.airspeed_calibration.by_hand import calibrate
from wringout.methods.airspeed_calibration.run import CalibrationRun
from wringout.units import DEGREE, KNOT

SAME_SPEED_MPS = 2.0 * KNOT
"""Points of one configuration closer together than this are repeats and become one."""


@dataclass(frozen=True, slots=True)
class TablePoint:
    """One point of the table: speeds in m/s, ``sd_mps`` the standard uncertainty of the correction."""

    flap_deg: float
    gear: float
    indicated_mps: float
    correction_mps: float
    sd_mps: float
    runs: tuple[str, ...]


def table_points(runs: Sequence[CalibrationRun]) -> list[TablePoint]:
    """Return the points of all runs, repeats combined by their weights, in order of configuration and speed.

    Repeats that disagree are widened by their disagreement (the larger of the two estimates of the uncertainty).
    """
    single = []
    for run in runs:
        found = calibrate(run)
        single.append(
            TablePoint(
                round(run.flap_rad / DEGREE, 6),
                run.gear,
                found.indicated_mps,
                found.correction.value,
                found.correction.standard_uncertainty,
                (run.key,),
            )
        )
    single.sort(key=lambda p: (p.flap_deg, p.gear, p.indicated_mps))
    out: list[TablePoint] = []
    group: list[TablePoint] = []
    for point in single:
        if group and not _repeats(group[0], point):
            out.append(_combined(group))
            group = []
        group.append(point)
    return [*out, _combined(group)] if group else out


def _repeats(first: TablePoint, other: TablePoint) -> bool:
    same = (first.flap_deg, first.gear) == (other.flap_deg, other.gear)
    return same and other.indicated_mps - first.indicated_mps < SAME_SPEED_MPS


def _combined(points: Sequence[TablePoint]) -> TablePoint:
    weight = np.array([1.0 / p.sd_mps**2 for p in points])
    share = weight / weight.sum()
    correction = float(share @ [p.correction_mps for p in points])
    chi_square = float(sum(w * (p.correction_mps - correction) ** 2 for w, p in zip(weight, points, strict=True)))
    widen = max(1.0, chi_square / max(len(points) - 1, 1)) ** 0.5
    return TablePoint(
        points[0].flap_deg,
        points[0].gear,
        float(share @ [p.indicated_mps for p in points]),
        correction,
        widen / float(weight.sum()) ** 0.5,
        tuple(name for p in points for name in p.runs),
    )


def position_error_table(runs: Sequence[CalibrationRun]) -> PositionErrorTable:
    """Return the calibration of the airspeed system that the runs give, a row for each configuration.

    Raises:
        BadInputError: there are no runs, none is clean (flaps and gear up, or the gear fixed), or calibrated airspeed
            would not rise with indicated airspeed.
    """
    points = table_points(runs)
    if not points:
        raise BadInputError("there is no calibration run", "airspeed calibration", "add one at three or more headings")
    rows = []
    for flap, gear in dict.fromkeys((p.flap_deg, p.gear) for p in points):
        chosen = [p for p in points if (p.flap_deg, p.gear) == (flap, gear)]
        try:
            rows.append(
                PositionErrorRow(
                    flap, gear, tuple(p.indicated_mps for p in chosen), tuple(p.correction_mps for p in chosen)
                )
            )
        except BadInputError as error:
            names = ", ".join(name for p in chosen for name in p.runs)
            raise BadInputError(error.what, f"airspeed calibration, {names}", error.expected) from None
    if not any(row.flap_deg == 0.0 and row.gear == 0.0 for row in rows):
        raise BadInputError(
            "no run was flown clean", "airspeed calibration", "add one with flaps and gear up; other rows lean on it"
        )
    return PositionErrorTable(tuple(rows))


def position_error_toml(runs: Sequence[CalibrationRun], beliefs: Beliefs) -> str:
    """Return the table as text for the airplane file, each configuration with its runs and uncertainties.

    Raises:
        BadInputError: as `position_error_table`.
    """
    table = position_error_table(runs)
    points = table_points(runs)
    parts = []
    for row in table.rows:
        chosen = [p for p in points if (p.flap_deg, p.gear) == (row.flap_deg, row.gear)]
        setting = min(beliefs.settings, key=lambda s: abs(s.angle_rad / DEGREE - row.flap_deg))
        names = ", ".join(dict.fromkeys(name for p in chosen for name in p.runs))
        spread = ", ".join(f"{p.sd_mps / KNOT:.1f}" for p in chosen)
        indicated = ", ".join(f'"{p.indicated_mps / KNOT:.1f} kt"' for p in chosen)
        calibrated = ", ".join(f'"{(p.indicated_mps + p.correction_mps) / KNOT:.1f} kt"' for p in chosen)
        parts.append(
            f"# Measured by ground speed, runs {names}; standard uncertainties {spread} kt.\n"
            "# A dial was read, so its own error is in here too.\n"
            "[[instrument.position_error]]\n"
            f'flaps = "{setting.name}"\n'
            f'gear = "{"down" if row.gear > 0.5 else "up"}"\n'
            f"indicated = [{indicated}]\n"
            f"calibrated = [{calibrated}]\n"
        )
    return "\n".join(parts)
