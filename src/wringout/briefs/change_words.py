"""Sentences on what would change a verdict: how far a stated threshold could be moved, and what the doubt hangs on."""

from __future__ import annotations

import math

from wringout.briefs.catalogue import marked, tr
from wringout.briefs.document import Line, line
from wringout.briefs.evidence import Evidence
from wringout.briefs.numbers import NO_BREAK, number
from wringout.briefs.standings import Judged
from wringout.briefs.verdict_words import flown_words, quoted, score_scale, share_beside, share_words
from wringout.techniques.judging.rule import Outcome
from wringout.techniques.judging.turning import Turning

_NAMES = {
    "clean_area": marked("drag of the clean airplane"),
    "span_efficiency": marked("span efficiency"),
    "clean_slope": marked("lean of the clean polar"),
    "gear_area": marked("drag of the gear"),
    "door_bump": marked("drag of the gear doors in transit"),
    "interaction": marked("what gear and flaps do to each other"),
    "disk_efficiency": marked("propeller efficiency"),
    "efficiency_slope": marked("how the propeller's efficiency falls with speed"),
    "thrust_bend": marked("how thrust bends with speed"),
    "rated_power": marked("engine power"),
    "gear_up_time": marked("travel time of the gear"),
    "flap_up_time": marked("travel time of the flaps"),
    "mass_factor": marked("true over stated weight"),
    "cl_max": marked("lift at the stall, clean"),
    "weight": marked("weight"),
    "isa_deviation": marked("temperature"),
    "entry_speed": marked("entry speed"),
    "density_altitude": marked("altitude"),
}


def input_words(key: str, settings: tuple[str, ...]) -> str:
    """Return an uncertain input in words; ``settings``: the names of the flap settings from up."""
    name, _, place = key.partition(".")
    if name == "flap_area":
        return tr("drag of flaps {setting}", setting=_setting(settings, int(place)))
    if name == "flap_lift_slope":
        return tr("change with lift of the drag of flaps {setting}", setting=_setting(settings, int(place)))
    if name == "flap_floor":
        return tr("least drag at high lift of flaps {setting}", setting=_setting(settings, int(place)))
    if name == "cl_gain":
        return tr("lift gained by flaps {setting}", setting=_setting(settings, int(place)))
    if name == "reaction":
        return tr("pilot's delay before movement {place}", place=place)
    return tr(_NAMES[name]) if name in _NAMES else name.replace("_", " ")


def _setting(settings: tuple[str, ...], place: int) -> str:
    return settings[place] if place < len(settings) else str(place)


def turning_sentence(evidence: Evidence, judgement: Judged, found: Turning) -> Line:
    """Say how far the stated thresholds could be moved, each by itself, before the answer is another."""
    law, outcome = flown_words(judgement.matchup.law, judgement.matchup.situation), judgement.verdict.outcome
    titles = [technique.title for technique in judgement.matchup.techniques]
    if outcome is Outcome.NOT_ACCEPTABLE or found.leader is None:
        return line(f"{law}: ", _no_order(judgement, found, titles))
    leader = quoted(titles[found.leader])
    parts = [_difference(evidence, judgement, found, leader, titles)]
    least = judgement.matchup.thresholds.min_stall_ratio
    if found.ratio_holder is not None and math.isfinite(found.ratio) and found.ratio >= least:
        parts.append(
            tr(
                "{leader} keeps the stall margin up to a least V/Vs of {down} ({least} was asked).",
                leader=leader,
                down=_down(found.ratio),
                least=f"{least:.2f}",
            )
        )
    return line(f"{law}: ", " ".join(parts))


def _difference(evidence: Evidence, judgement: Judged, found: Turning, leader: str, titles: list[str]) -> str:
    scale, bounds = score_scale(evidence, judgement), judgement.matchup.thresholds
    if found.nearest is None:
        return tr(
            "{leader} is the only order that keeps the stated margins, whatever difference matters.", leader=leader
        )
    nearest, asked = quoted(titles[found.nearest]), share_words(bounds.probability)
    value = found.difference / scale.size
    if judgement.verdict.outcome is Outcome.FAVOURED:
        if not math.isfinite(value):
            return tr("{leader} stays favoured whatever difference matters.", leader=leader)
        return tr(
            "{leader} stays favoured until the difference that matters is more than {value}.",
            leader=leader,
            value=_amount(value, scale.symbol),
        )
    stated = _amount(bounds.difference / scale.size, scale.symbol)
    if found.difference > 0.0 and _amount(value, scale.symbol).strip("0.") and value >= 0.1:
        return tr(
            "{leader} would be favoured over every other order if {value} mattered, in place of {stated}.",
            leader=leader,
            value=_amount(value, scale.symbol),
            stated=stated,
        )
    return tr(
        "no smaller difference would settle it: {leader} is ahead of {nearest} at all in "
        "{told_apart} of the draws, and {asked} was asked.",
        leader=leader,
        nearest=nearest,
        told_apart=share_beside(found.ahead, bounds.probability),
        asked=asked,
    )


def _amount(value: float, symbol: str) -> str:
    text = number(math.floor(10.0 * value) / 10.0, 0 if value >= 10.0 else 1)
    return f"{text}{NO_BREAK}{symbol}" if symbol else text


def _down(ratio: float) -> str:
    return f"{math.floor(100.0 * ratio + 1e-9) / 100.0:.2f}"


def _no_order(judgement: Judged, found: Turning, titles: list[str]) -> str:
    least = judgement.matchup.thresholds.min_stall_ratio
    if found.ratio_holder is None or not math.isfinite(found.ratio) or found.ratio >= least:
        return tr("no smaller stall margin would make an order acceptable; other stated margins are broken too often.")
    return tr(
        "{titles} would be the first order to be acceptable, if the least V/Vs were {down} or "
        "less in place of {least}.",
        titles=quoted(titles[found.ratio_holder]),
        down=_down(found.ratio),
        least=f"{least:.2f}",
    )
