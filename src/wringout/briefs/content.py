"""What a brief is made from: a study and its results, as values. Services fill it; nothing here reads or computes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wringout.estimate.reduction import Reduction
from wringout.techniques.stated.types import Matchup

Units = Literal["aviation", "metric"]
"""``aviation``: knots, feet, pounds, square feet. ``metric``: km/h, metres, kilograms, square metres."""


@dataclass(frozen=True, slots=True)
class KeyFigure:
    """One line of a table of facts: what it is, its value in the user's words with unit, and where it comes from."""

    label: str
    value: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class RecordingUsed:
    """A recording of the study: name as taken in, hash of its bytes, size, and number of rows read."""

    name: str
    sha256: str
    size_bytes: int
    rows: int


@dataclass(frozen=True, slots=True)
class RunAside:
    """A run that was set aside by hand, with the reason that was given."""

    key: str
    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class PrintedOrder:
    """What a handbook of the airplane prints for the manoeuvre, as somebody entered it in the register.

    Attributes:
        document, part_number, revision, date, section: where it is printed; "" for what it does not have.
        serials: the serial numbers it holds for.
        order: the printed order, step by step; "" where it prints none.
        paraphrase, note: the words of whoever entered it. invented: whether it is made up.
        superseded_by: the later revision of the same document, or "".
    """

    document: str
    part_number: str
    revision: str
    date: str
    section: str
    serials: str
    order: str
    paraphrase: str = ""
    note: str = ""
    invented: bool = False
    superseded_by: str = ""


@dataclass(frozen=True, slots=True)
class BriefContent:
    """Everything a brief prints. All text is plain text and is printed as such, whatever it holds.

    Attributes:
        title: name of the study.
        question: the question as it was posed.
        difference: the smallest difference that matters in the cockpit, in words, such as "25 ft of energy height at
            30 s"; empty when none was stated.
        invented: whether airplane, recordings and numbers are made up.
        airplane: name of the airplane.
        key_figures: facts of the airplane; see :func:`wringout.briefs.airplane_figures.airplane_figures`.
        conditions: further facts of the flights (place, crew, air), if any.
        recordings: every recording the runs were cut from.
        reduction: what the runs say.
        matchups: techniques flown, one per pilot law; empty when none were.
        asides: runs set aside by hand.
        printed: what the airplane's handbooks print for the manoeuvre, those that hold first; empty when the register
            has none.
        version: version of the package that computed it.
        bundle_sha256: hash of the study's bundle; empty when there is none.
        date: date of the brief, as it shall be printed.
        reproduce: commands that recompute it, one a line.
        units: the units it prints.
    """

    title: str
    question: str
    difference: str
    invented: bool
    airplane: str
    reduction: Reduction
    key_figures: tuple[KeyFigure, ...] = ()
    conditions: tuple[KeyFigure, ...] = ()
    recordings: tuple[RecordingUsed, ...] = ()
    matchups: tuple[Matchup, ...] = ()
    asides: tuple[RunAside, ...] = ()
    printed: tuple[PrintedOrder, ...] = ()
    version: str = ""
    bundle_sha256: str = ""
    date: str = ""
    reproduce: tuple[str, ...] = ()
    units: Units = "aviation"
