"""Go-arounds that were flown in pairs, as documents: they check techniques and stay out of the joint fit."""

from __future__ import annotations

import math
from typing import Any

from wringout.estimate.problem import StudyRun
from wringout.methods.go_around_pairs.run import GoAroundRun
from wringout.services.kept_numbers import shown

Json = dict[str, Any]


def go_around_documents(item: StudyRun) -> list[Json]:
    """Return every go-around of a run as flown: its row, pair, technique, entry and scores; empty for other runs.

    The entry's airspeed is as indicated; null where it was not written.
    """
    run = item.run
    if not isinstance(run, GoAroundRun):
        return []
    return [
        {
            "row": int(run.flown_rows[i]),
            "pair": run.pairs[int(run.pair[i])],
            "technique": run.techniques[int(run.technique[i])],
            "entry_speed": _quantity(float(run.entry_ias_mps[i]), "kt"),
            "entry_descent": _quantity(float(run.entry_descent_mps[i]), "ft/min"),
            "scores": {
                score.key: _quantity(float(run.scores[i, j]), score.unit) for j, score in enumerate(run.score_list)
            },
        }
        for i in range(run.pair.size)
    ]


def _quantity(value_si: float, unit: str) -> Json | None:
    return None if math.isnan(value_si) else {"value": shown(value_si, unit), "unit": unit}
