"""Techniques and verdict: the answer, the picture of it under each pilot law, and the moves in time."""

from __future__ import annotations

from wringout.briefs.belief_words import beliefs_sentence
from wringout.briefs.catalogue import marked, said, tr
from wringout.briefs.document import (
    Abreast,
    Block,
    Column,
    Drawing,
    Heading,
    Note,
    Paragraph,
    Row,
    Section,
    Table,
    Words,
    line,
)
from wringout.briefs.evidence import Evidence
from wringout.briefs.figures.timeline import LETTERS, decides_by_energy, timeline_figure
from wringout.briefs.figures.verdict import verdict_figure
from wringout.briefs.house_style import HALF_IN
from wringout.briefs.numbers import NO_BREAK, count, number
from wringout.briefs.standings import Judged, Place, judged
from wringout.briefs.verdict_words import (
    domain_sentence,
    quoted,
    score_places,
    score_scale,
    share_words,
    threshold_sentence,
    verdict_anchor,
    verdict_sentence,
)
from wringout.briefs.words import capital
from wringout.techniques.flying.scores import Score
from wringout.techniques.stated.types import Device, Matchup

_MOST_ROWS = 14


def judge_all(evidence: Evidence) -> tuple[Judged, ...]:
    """Return every matchup of a brief, judged."""
    return tuple(judged(matchup) for matchup in evidence.content.matchups)


def answer_of_matchups(evidence: Evidence, judgements: tuple[Judged, ...]) -> list[Block]:
    """Return the verdict under each pilot law, the first one large, then the domain and what was stated before."""
    if not judgements:
        return []
    blocks: list[Block] = [
        Paragraph(verdict_sentence(evidence, one), "body" if i else "answer", None if i else _note(one.matchup))
        for i, one in enumerate(judgements)
    ]
    bounds = f"{domain_sentence(evidence, judgements[0].matchup)} {threshold_sentence(evidence, judgements[0])}"
    believed = believed_of(evidence, judgements)
    return [*blocks, *([Paragraph(line(believed))] if believed else []), Paragraph(line(bounds), "small")]


def believed_of(evidence: Evidence, judgements: tuple[Judged, ...]) -> str:
    """Return what the verdicts rest on that was never flown, or nothing."""
    learned = {item.key: item.verdict for item in evidence.content.reduction.learned}
    return beliefs_sentence(learned, judgements[0].matchup.situation)


def _note(matchup: Matchup) -> Note:
    flown = tr(
        "{count} on the same {draws} draws of the fitted airplane.",
        count=count(len(matchup.techniques), "technique"),
        draws=f"{matchup.draws:,}",
    )
    how = tr(
        "{part}: {flown}; seed {seed}.",
        part=tr("Pilot law") if matchup.situation.by_law else tr("Procedure"),
        flown=tr(matchup.flown),
        seed=matchup.seed,
    )
    return Note(lines=(line(capital(flown)), line(Words(how, "quiet"))))


def techniques(evidence: Evidence, judgements: tuple[Judged, ...]) -> Section | None:
    """Return the section on techniques: verdict chart, time histories and table for every pilot law."""
    if not judgements:
        return None
    blocks: list[Block] = [
        Paragraph(said(_HOW)),
        Paragraph(line(domain_sentence(evidence, judgements[0].matchup))),
        Paragraph(line(threshold_sentence(evidence, judgements[0]))),
    ]
    for one in judgements:
        blocks += _one_law(evidence, one)
    return Section("techniques", tr("Techniques and verdict"), tuple(blocks))


_HOW = marked(
    "Every sensible order of the hands is flown on the same draws of the fitted airplane, in "
    "the same air, with the same pilot delays. Energy height is height plus speed squared "
    "over twice gravity, so no way of pitching can flatter it."
)


def _one_law(evidence: Evidence, one: Judged) -> list[Block]:
    name = verdict_anchor(one.matchup)
    shown = one.orders[:_MOST_ROWS]
    caption = said(
        "{flown}: difference in {title} from the leader. Thick line: central 50\N{NO-BREAK SPACE}%; thin line: "
        "central 95\N{NO-BREAK SPACE}%. Inside the pale band nothing is won. Right: the share of draws behind by "
        "more than the band.",
        flown=capital(tr(one.matchup.flown)),
        title=tr(one.score.title),
    )
    chosen = _chosen(one)
    named = " ".join(
        f"{letter}: {quoted(one.matchup.techniques[j].title)}." for letter, j in zip(LETTERS, chosen, strict=False)
    )
    chart = Drawing(
        f"chart-{name}",
        verdict_figure(evidence, one, shown, f"chart-{name}", HALF_IN),
        tr(
            "Difference of {count} from the leader, with intervals; numbers in the table below.",
            count=count(len(shown), "order"),
        ),
        caption,
    )
    in_time = Drawing(
        f"time-{name}",
        timeline_figure(evidence, one.matchup, chosen, f"time-{name}", HALF_IN),
        tr("Height, energy height, airspeed, stall margin, gear and flaps in time. {named}", named=named),
        line(f"{capital(tr(one.matchup.flown))}: {_in_time(one.matchup)}"),
    )
    return [
        Heading(line(capital(tr(one.matchup.flown)))),
        Paragraph(verdict_sentence(evidence, one), note=_note(one.matchup), anchor=name),
        Abreast(((chart,), (in_time,)), floats=True),
        _table(evidence, one),
    ]


_IN_TIME = marked("techniques in time, on the draw nearest the middle. Second strip: energy height less that of A.")
_IN_TIME_DECIDED = marked(
    "techniques in time, on the draw nearest the middle. Second strip: energy height less "
    "that of A, with the band in which nothing is won; the dashed line is when the score is "
    "read."
)


def _in_time(matchup: Matchup) -> str:
    return tr(_IN_TIME_DECIDED if decides_by_energy(matchup) else _IN_TIME)


def _chosen(one: Judged) -> list[int]:
    """Return the techniques drawn in time: the leader, the next that begins with the other lever, the last of all."""
    leader, *rest = one.orders
    others = [place for place in rest if not place.same_as_leader]
    out = [leader.index]
    for place in (next((p for p in others if _first_lever(p) != _first_lever(leader)), None), *others[::-1][:1]):
        if place is not None and place.index not in out:
            out.append(place.index)
    return out


def _first_lever(place: Place) -> Device | None:
    return place.technique.actions[0].device if place.technique.actions else None


def _table(evidence: Evidence, one: Judged) -> Table:
    """Return every technique with its own score and its difference from the leader."""
    symbol = score_scale(evidence, one).symbol
    columns = (
        Column(tr("Technique")),
        Column(capital(tr(one.score.title)), symbol, number=True),
        Column(tr(_less(one.score)), symbol, number=True),
        Column(f"95{NO_BREAK}%", symbol, number=True),
        Column(tr("Behind in"), number=True),
        Column(tr("Margin broken in"), number=True),
    )
    return Table(columns, tuple(_table_row(evidence, one, place) for place in one.places), wide=True)


def _less(score: Score) -> str:
    return marked("Less the leader") if score.larger_is_better else marked("Better than the leader by")


def _table_row(evidence: Evidence, one: Judged, place: Place) -> Row:
    size = score_scale(evidence, one).size
    places = score_places((place.most[1] - place.most[0]) / size)
    low, high = (number(q / size, places) for q in place.most)
    less, between = (number(place.ahead / size, places), tr("{low} to {high}", low=low, high=high))
    if place.same_as_leader:
        less, between = ("", tr("leader")) if place.leads else ("0", tr("flies as the leader"))
    title = place.technique.title
    return Row(
        (
            line(title) if place.technique.complete else line(Words(title, "quiet")),
            line(number(place.standing.median / size, 0 if size < 0.5 else 1)),
            line(less),
            line(between),
            line("" if place.leads else share_words(place.behind_share)),
            line(share_words(place.broken_share)),
        ),
        stands_out=not place.standing.acceptable,
    )
