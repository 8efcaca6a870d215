"""Studies, their standing and their history as JSON documents (docs/json.md)."""

from __future__ import annotations

from typing import Any

from wringout.services.study.studies import Standing, StudySummary
from wringout.store import HistoryEntry

Json = dict[str, Any]


def study_document(found: StudySummary) -> Json:
    """Return a study and how far it has come."""
    study = found.study
    return {
        "name": study.slug,
        "title": study.title,
        "question": study.question,
        "difference": dict(study.difference_that_matters),
        "difference_words": found.difference_words,
        "invented": study.invented,
        "made_at": study.created_at,
        "airplane_version": found.airplane_version,
        "recordings": found.recordings,
        "runs_in_use": found.runs_in_use,
        "runs_set_aside": found.runs_set_aside,
        "reduction": standing_document(found.reduction),
        "matchup": standing_document(found.matchup),
        "brief": found.brief_path or None,
    }


def standing_document(standing: Standing) -> Json | None:
    """Return when a result was computed and whether it is current; None without one."""
    return {"computed_at": standing.computed_at, "current": standing.current} if standing.computed_at else None


def history_document(entry: HistoryEntry) -> Json:
    """Return one edit."""
    return {"at": entry.at, "what": entry.what, "before": entry.before, "after": entry.after}
