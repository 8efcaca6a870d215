"""What would change the answer: the thresholds it turns on, the inputs its doubt hangs on, the runs it rests on."""

from __future__ import annotations

import math

from wringout.briefs.catalogue import marked, said, tr
from wringout.briefs.change_words import input_words, turning_sentence
from wringout.briefs.document import Block, Column, Heading, Paragraph, Row, Section, Table, Words, line
from wringout.briefs.evidence import Evidence
from wringout.briefs.numbers import NO_BREAK
from wringout.briefs.standings import Judged
from wringout.briefs.verdict_words import flown_words, quoted, share_words
from wringout.techniques.flying import layout as k
from wringout.techniques.flying.scores import SCORE_INDEX
from wringout.techniques.judging.map_inputs import named_inputs
from wringout.techniques.judging.rule import lead, signed
from wringout.techniques.judging.sensitivity import FEWEST_DRAWS, Share, ranking
from wringout.techniques.judging.turning import turning
from wringout.techniques.stated.types import FloatArray

_MOST_INPUTS = 5
_LEAST_SHARE = 0.02


def changes(evidence: Evidence, judgements: tuple[Judged, ...]) -> Section | None:
    """Return what would change the answer; None where nothing was compared."""
    if not judgements:
        return None
    blocks: list[Block] = [Paragraph(said(_STATED))]
    blocks += [Paragraph(turning_sentence(evidence, one, turning(one.matchup))) for one in judgements]
    tables = [table for one in judgements for table in _hangs_on(evidence, one)]
    if tables:
        blocks += [Heading(said("What the doubt hangs on")), Paragraph(said(_SHARES), "small"), *tables]
    blocks.append(
        Paragraph(
            said(
                "Which run an answer rests on stands under {walk}",
                walk=Words(tr("Does it hang together."), "plain", "together"),
            ),
            "small",
        )
    )
    return Section("changes", tr("What would change the answer"), tuple(blocks))


_STATED = marked(
    "What was stated before flying stays as it was stated: moving a threshold afterwards is "
    "no finding. How far each could be moved, by itself, before the answer is another says "
    "how firmly the answer stands."
)
_SHARES = marked(
    "For the leader and the nearest order that begins otherwise: the share of the variance "
    "of their difference that would be expected to go if the input were known exactly, with "
    "its standard error, and the share of its values at which the verdict between the two "
    "would then be decided. Inputs that go together do not add up to one."
)


def _hangs_on(evidence: Evidence, judgement: Judged) -> list[Block]:
    """Return the inputs that the difference between the leader and another order hangs on, as a table."""
    pair = _pair(judgement)
    shares = _ranked(evidence, judgement, pair) if pair else ()
    if not pair or not shares:
        return []
    one, other = (quoted(judgement.matchup.techniques[j].title) for j in pair)
    columns = (
        Column(
            tr(
                "{flown_words}: {one} less {other}",
                flown_words=flown_words(judgement.matchup.law, judgement.matchup.situation),
                one=one,
                other=other,
            )
        ),
        Column(tr("Share of variance"), number=True),
        Column(tr("Settled at"), number=True),
    )
    names = tuple(setting.name for setting in evidence.content.reduction.beliefs.settings)
    rows = tuple(
        Row(
            (
                line(input_words(share.key, names)),
                line(f"{100.0 * share.variance:.0f} ± {_error(share)}{NO_BREAK}%"),
                line(share_words(share.settled)),
            )
        )
        for share in shares
    )
    return [Table(columns, rows)]


def _error(share: Share) -> str:
    return f"{max(100.0 * share.standard_error, 1.0):.0f}"


def _pair(judgement: Judged) -> tuple[int, int] | None:
    """Return the leader and the best other order that begins with another lever, else the next that differs."""
    leader, *rest = judgement.orders
    others = [place for place in rest if not place.same_as_leader]
    first = leader.technique.actions[0].device if leader.technique.actions else None
    other = next((p for p in others if p.technique.actions and p.technique.actions[0].device != first), None)
    other = other or next(iter(others), None)
    return None if other is None else (leader.index, other.index)


def _ranked(evidence: Evidence, judgement: Judged, pair: tuple[int, int]) -> tuple[Share, ...]:
    """Return the few inputs that would remove most of the difference's variance; none where it has none to share."""
    matchup, rows = judgement.matchup, evidence.content.reduction.posterior.rows[: judgement.matchup.draws]
    limits = matchup.thresholds
    gain = _gain(matchup.scores[:, :, SCORE_INDEX[limits.score]], pair)
    if not _has_draws(rows, matchup.conditions, gain):
        return ()
    actions = max(len(matchup.techniques[j].actions) for j in pair)
    inputs = named_inputs(rows, matchup.conditions, actions)
    found = ranking(inputs, signed(gain, limits), limits.difference, limits.probability)
    telling = [share for share in found if share.variance >= max(_LEAST_SHARE, 2.0 * share.standard_error)]
    return tuple(telling[:_MOST_INPUTS])


def _gain(values: FloatArray, pair: tuple[int, int]) -> FloatArray:
    return lead(values[:, pair[0]], values[:, pair[1]])


def _has_draws(rows: FloatArray, conditions: FloatArray, gain: FloatArray) -> bool:
    whole = len(rows) == len(gain) >= FEWEST_DRAWS and conditions.shape == (len(gain), k.C_SIZE)
    return whole and all(math.isfinite(x) for x in (float(gain.min()), float(gain.max()))) and float(gain.std()) > 0.0
