"""A map as the JSON document that is kept, in the units of the trade, with its answer in sentences.

The shape is described in docs/json.md; its ``format`` is raised when the meaning of a field changes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from wringout.briefs.verdict_words import flown_words
from wringout.methods.cautions import CAUTIONS
from wringout.services.kept_numbers import number, numbers
from wringout.services.matchups.documents import SIZES, score_of, thresholds_document, unit_of
from wringout.services.matchups.map_axes import kind_of
from wringout.services.matchups.next_run import Input, Ranking, contenders
from wringout.services.matchups.plan_details import details_sentences
from wringout.services.matchups.plans import Plan, domain_document, situation_document
from wringout.techniques.judging.borders import Answer, Border, borders
from wringout.techniques.judging.cells import Cell
from wringout.techniques.judging.maps import Condition, MapStudy, TechniqueMap
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.judging.verdict import CAUTION
from wringout.techniques.judging.wording import in_a_row, per_cent, per_cent_beside, thresholds_in_words
from wringout.techniques.stated.types import Technique

FORMAT = "wringout technique map, version 1"
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
MOST_NAMED = 3
SHOWN_INPUTS = 10

Json = dict[str, Any]


def map_document(found: TechniqueMap, plan: Plan, ranking: Ranking, seed: int) -> Json:
    """Return a finished map as one document; the same map gives the same document."""
    study, made = found.study, borders(found)
    techniques = _techniques(found)
    score = score_of(study.thresholds.score)
    return {
        "format": FORMAT,
        "answer": _answer(found, techniques),
        "margins": _margins(found, techniques),
        "flips": _flips(found, made),
        "settles": settles_words(ranking),
        "support": [
            thresholds_in_words(study.thresholds),
            _conditions_words(study),
            *details_sentences(plan.document.details),
        ],
        "cautions": [CAUTION, *CAUTIONS],
        "law": str(study.law) if study.situation.by_law else "",
        "situation": situation_document(plan),
        "domain": domain_document(plan),
        "thresholds": thresholds_document(study.thresholds),
        "draws": len(study.rows),
        "seed": seed,
        "axes": [
            {
                "condition": str(axis.condition),
                "unit": kind_of(axis.condition, study.situation).unit,
                "values": numbers([_shown(study, axis.condition, value) for value in axis.values]),
            }
            for axis in study.axes
        ],
        "held": [_stated(study, condition, value) for condition, value in study.fixed.items()],
        "unit": unit_of(score),
        "techniques": techniques,
        "cells": [_cell(found, n) for n in range(len(found.cells))],
        "borders": [_border(study, one) for one in made],
        "sensitivity": _sensitivity(found, ranking),
    }


def _shown(study: MapStudy, condition: Condition, value: float) -> float:
    return value / kind_of(condition, study.situation).size


def _stated(study: MapStudy, condition: Condition, value: float) -> Json:
    kind = kind_of(condition, study.situation)
    return {"condition": str(condition), "value": number(value / kind.size), "unit": kind.unit}


def _key(study: MapStudy, place: int) -> str | None:
    return study.techniques[place].key if place >= 0 else None


def _techniques(found: TechniqueMap) -> list[Json]:
    """Return the techniques in the order flown; those that lead somewhere have a letter, most favoured first."""
    study, limits = found.study, found.study.thresholds
    wins = Counter(cell.best for cell in found.cells if cell.outcome is Outcome.FAVOURED)
    best = Counter(cell.best for cell in found.cells if cell.best >= 0)
    ordered = sorted(best, key=lambda j: (-wins[j], -best[j], j))
    letters = {j: LETTERS[place] if place < len(LETTERS) else f"Z{place}" for place, j in enumerate(ordered)}
    made = []
    for j, technique in enumerate(study.techniques):
        shares = [float(cell.broken[j]) for cell in found.cells]
        made.append(
            {
                "key": technique.key,
                "title": technique.title,
                "letter": letters.get(j, ""),
                "begins_with": _begins_with(technique),
                "favoured_in": wins[j],
                "best_in": best[j],
                "excluded_in": sum(share > limits.allowed_share for share in shares),
                "worst_share_broken": number(max(shares)),
            }
        )
    return made


def _cell(found: TechniqueMap, n: int) -> Json:
    study, cell = found.study, found.cells[n]
    size = SIZES[score_of(study.thresholds.score).shown_unit]
    allowed = study.thresholds.allowed_share
    return {
        "at": numbers([_shown(study, condition, value) for condition, value in _on_axes(study, n)]),
        "outcome": str(cell.outcome),
        "best": _key(study, cell.best),
        "begins_with": leading_begin(study, cell) or None,
        "leading": [study.techniques[j].key for j in cell.leading],
        "rival": _key(study, cell.rival),
        "probability": number(cell.probability),
        "difference": number(cell.difference / size),
        "interval_95": numbers([x / size for x in cell.interval_95]),
        "stall_ratio": number(cell.stall_ratio),
        "excluded": [t.key for t, share in zip(study.techniques, cell.broken, strict=True) if share > allowed],
        "medians": numbers([x / size for x in cell.median]),
    }


def leading_begin(study: MapStudy, cell: Cell) -> str:
    """Return the lever that every leading technique of a cell moves first; "" where they differ or there is none."""
    first = {_begins_with(study.techniques[j]) for j in cell.leading}
    return first.pop() if len(first) == 1 else ""


def _begins_with(technique: Technique) -> str:
    return str(technique.actions[0].device) if technique.actions else ""


def _on_axes(study: MapStudy, n: int) -> list[tuple[Condition, float]]:
    places = zip(study.axes, study.places(n), strict=True)
    return [(axis.condition, axis.values[place]) for axis, place in places]


def _border(study: MapStudy, one: Border) -> Json:
    def side(found: Answer) -> Json:
        return {"outcome": str(found[0]), "favoured": _key(study, found[1])}

    kind = kind_of(one.condition, study.situation)
    return {
        "condition": str(one.condition),
        "unit": kind.unit,
        "between": numbers([one.low / kind.size, one.high / kind.size]),
        "cells": list(one.cells),
        "before": side(one.before),
        "after": side(one.after),
        "crossing": number(one.crossing / kind.size),
        "level": str(one.level),
        "probabilities": numbers(one.probabilities),
    }


def _sensitivity(found: TechniqueMap, ranking: Ranking) -> Json:
    study = found.study
    return {
        "cells": list(ranking.cells),
        "problem": ranking.problem,
        "inputs": [input_document(one) for one in ranking.inputs[:SHOWN_INPUTS]],
        "run_to_fly_next": None if ranking.next_run is None else input_document(ranking.next_run),
        "pairs": [
            {"cell": n, "best": _key(study, best), "against": _key(study, other)}
            for n in ranking.cells
            for best, other in [contenders(found, n)]
        ],
    }


def input_document(one: Input) -> Json:
    """Return one uncertain input and the run that measures it."""
    return {
        "key": one.key,
        "label": one.label,
        "share_of_variance": number(one.variance),
        "standard_error": number(one.standard_error),
        "share_settled": number(one.settled),
        "method": one.method or None,
        "setup": dict(one.setup),
        "words": one.words,
    }


def _answer(found: TechniqueMap, techniques: Sequence[Json]) -> list[str]:
    """Return how many cells each technique is favoured in, and how many are not decided."""
    total = len(found.cells)
    counts = Counter(cell.outcome for cell in found.cells)
    close, none = counts[Outcome.TOO_CLOSE], counts[Outcome.NOT_ACCEPTABLE]
    winners = sorted((t for t in techniques if t["favoured_in"]), key=lambda t: t["letter"])
    law = f"{flown_words(found.study.law, found.study.situation)}: "
    said = [f"“{t['title']}” is favoured in {t['favoured_in']:,} of {total:,} cells" for t in winners[:MOST_NAMED]]
    if len(winners) > MOST_NAMED:
        said.append(f"{len(winners) - MOST_NAMED} others in {sum(t['favoured_in'] for t in winners[MOST_NAMED:]):,}")
    if close:
        said.append(f"it is too close to call in {close:,} of {total:,} cells{_alike(found)}")
    if none:
        said.append(f"no technique is acceptable in {none:,} of {total:,} cells")
    text = "; ".join(said)
    return [f"{law}{text}."]


def _alike(found: TechniqueMap) -> str:
    """Return in how many of the cells that are too close to call all that lead move the same lever first."""
    close = [cell for cell in found.cells if cell.outcome is Outcome.TOO_CLOSE]
    begins = Counter(leading_begin(found.study, cell) for cell in close)
    said = [f"in {n:,} of these all that lead begin with the {what}" for what, n in sorted(begins.items()) if what]
    return f" ({'; '.join(said)})" if said else ""


def _margins(found: TechniqueMap, techniques: Sequence[Json]) -> list[str]:
    """Return the techniques that a margin excludes, and where; they are named before anything is favoured."""
    total, limits = len(found.cells), found.study.thresholds
    out = sorted((t for t in techniques if t["excluded_in"]), key=lambda t: (-t["excluded_in"], t["key"]))
    if not out:
        return [f"Every technique keeps the stated margins in every cell, in all but {per_cent(limits.allowed_share)}."]
    return [
        f"“{t['title']}” breaks a margin too often to be favoured in {t['excluded_in']:,} of {total:,} cells; at worst "
        f"in {per_cent_beside(t['worst_share_broken'], limits.allowed_share)} of the draws "
        f"({per_cent(limits.allowed_share)} is allowed)."
        for t in out
    ]


def _flips(found: TechniqueMap, made: Sequence[Border]) -> list[str]:
    """Return, for each axis, between which values the answer flips."""
    said = []
    for axis in found.study.axes:
        own = [one for one in made if one.condition is axis.condition]
        kind = kind_of(axis.condition, found.study.situation)
        if not own:
            said.append(f"Along {kind.title} the answer does not flip.")
            continue
        low, high = min(one.low for one in own) / kind.size, max(one.high for one in own) / kind.size
        times = "once" if len(own) == 1 else f"in {len(own)} places"
        said.append(f"Along {kind.title} the answer flips {times}, between {low:,.4g} and {high:,.4g} {kind.unit}.")
    return said


def settles_words(ranking: Ranking) -> str:
    """Return in a sentence or two what would settle the map, and the run to fly next."""
    if not ranking.inputs:
        return f"What would settle it was not ranked: {ranking.problem or 'nothing varies'}."
    first, run = ranking.inputs[0], ranking.next_run
    count = "least decided cell" if len(ranking.cells) == 1 else f"{len(ranking.cells)} least decided cells"
    lead = (
        f"In the {count}, {per_cent(first.variance)} of the variance of the difference would go if the "
        f"{first.label.removeprefix('the ')} were known."
    )
    if run is None:
        return f"{lead} No flight would take more than a trifle of it away."
    setup = ", ".join(f"{what} {how}" for what, how in run.setup.items())
    share = "" if run is first else f" ({run.label}, {per_cent(run.variance)})"
    return f"{lead} The run to fly next: {_one(run.method)}{f' with {setup}' if setup else ''}{share}; {run.words}."


def _one(method: str) -> str:
    """Return a method's name as one thing that is flown."""
    return method if method.endswith("s") else f"{'an' if method[:1] in 'aeiou' else 'a'} {method}"


def _conditions_words(study: MapStudy) -> str:
    """Return what is varied, what is held, and what is sampled as the plan has it."""
    kinds = {condition: kind_of(condition, study.situation) for condition in Condition}
    varied = ", ".join(
        f"{kinds[a.condition].title} over {_shown(study, a.condition, a.values[0]):,.4g} to "
        f"{_shown(study, a.condition, a.values[-1]):,.4g} {kinds[a.condition].unit}"
        for a in study.axes
    )
    held = ", ".join(
        f"{kinds[c].title} held at {_shown(study, c, value):,.4g} {kinds[c].unit}" for c, value in study.fixed.items()
    )
    stated = {axis.condition for axis in study.axes} | set(study.fixed)
    left = [kinds[c].title for c in Condition if c not in stated]
    if Condition.DENSITY_ALTITUDE in stated:
        air = "the air is standard for that density"
    else:
        air = "the air is as the plan has it"
    rest = f"; {', '.join(left)} as the plan has it" if left else ""
    return (
        f"Varied: {varied}{f'; {held}' if held else ''}{rest}; {air}. Every cell is flown on the same "
        f"{len(study.rows):,} draws of the airplane, air and pilot."
    )


def names_of(document: Json, keys: Sequence[str]) -> str:
    """Return techniques of a document by their titles, in a row."""
    titles = {t["key"]: t["title"] for t in document["techniques"]}
    return in_a_row([titles[key] for key in keys])
