"""From a list of go-arounds and its set-up words to a run of pairs."""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np

from wringout.airplane.beliefs import Beliefs
from wringout.airplane.quantity import parse_measured
from wringout.airspeed import calibrated_from_indicated, true_from_calibrated
from wringout.errors import BadInputError
from wringout.methods.go_around_pairs.pair_tests import MOST_PAIRS
from wringout.methods.go_around_pairs.run import SCORES, GoAroundRun, Score
from wringout.methods.setup_words import conditions_of, flap_setting, gear_position, words_of
from wringout.methods.types import FloatArray, Source
from wringout.recordings.types import Recording
from wringout.units import DEGREE, FOOT

MOST_HEIGHT_M = 3000.0 * FOOT
MOST_TIME_S = 120.0
_SPEED_NAMES = ("entry speed", "entry airspeed", "speed at entry")
_DESCENT_NAMES = ("entry descent", "entry descent rate", "entry sink", "descent at entry", "entry rate of descent")


def runs_from_recording(
    key: str, recording: Recording, setup: Mapping[str, str], beliefs: Beliefs
) -> list[GoAroundRun]:
    """Return the run of all pairs in a list; raises BadInputError with one sentence."""
    words, name = words_of(recording, setup), recording.name
    pair_words, technique_words = recording.texts.get("pair", ()), recording.texts.get("technique", ())
    if not pair_words or not technique_words:
        raise BadInputError(
            "go-around pairs need the columns pair, technique and at least one score",
            name,
            'write rows such as "1, gear first, 75, 90" below "pair, technique, entry speed (kt), height lost (ft)"',
        )
    columns = {score: _score(recording, score) for score in SCORES}
    score_list = tuple(score for score, values in columns.items() if np.isfinite(values).any())
    if not score_list:
        raise BadInputError(
            "no row has a score",
            name,
            f"give at least one of the columns {', '.join(score.key for score in SCORES)}, with units",
        )
    pairs, pair = _labels(recording, pair_words, "pair")
    techniques, technique = _labels(recording, technique_words, "technique")
    _refuse(recording, pairs, pair, techniques, technique)
    conditions = conditions_of(_with_weight(words, recording), name, beliefs.limits.max_mass_kg)
    gear = gear_position(words.get("entry gear", "down"), f"{name}, entry gear") if beliefs.retractable else 0.0
    flap = flap_setting(words.get("entry flaps", "full"), beliefs, f"{name}, entry flaps").angle_rad
    ias = _entry_speed(recording, words)
    table = beliefs.instrument.position_error
    known = np.isfinite(ias)
    true = np.full(ias.size, np.nan)
    if known.any():
        calibrated = calibrated_from_indicated(ias[known], table, flap / DEGREE, gear)
        true[known] = true_from_calibrated(calibrated, conditions.pressure_altitude_m, conditions.isa_deviation_k)
    mass = recording.channels["mass"].values if "mass" in recording.channels else np.full(ias.size, np.nan)
    return [
        GoAroundRun(
            key=key,
            title=f"{len(pairs)} pairs of go-arounds, {techniques[0]} against {techniques[1]}",
            source=Source(recording.sha256, name),
            conditions=conditions,
            pair=pair,
            pairs=pairs,
            technique=technique,
            techniques=(techniques[0], techniques[1]),
            score_list=score_list,
            scores=np.column_stack([columns[score] for score in score_list]),
            entry_speed_mps=true,
            entry_ias_mps=ias,
            entry_descent_mps=_entry_descent(recording, words),
            mass_kg=np.where(np.isfinite(mass), mass, conditions.mass_kg),
            flown_rows=recording.rows,
            entry_gear=gear,
            entry_flap_rad=flap,
            matters=_matters(words, name),
            chosen=_chosen(words, score_list, name),
        )
    ]


def _labels(recording: Recording, cells: tuple[str, ...], column: str) -> tuple[tuple[str, ...], np.ndarray]:
    """Return the names in order of appearance (spelling of the first) and each row's place among them."""
    seen: dict[str, str] = {}
    for i, cell in enumerate(cells):
        if not cell.strip():
            raise BadInputError(
                f"the {column} is missing",
                f"{recording.name}, row {int(recording.rows[i])}, {column}",
                f"say which {column} this go-around was",
            )
        seen.setdefault(_plain(cell), cell.strip())
    order = list(seen)
    return tuple(seen.values()), np.array([order.index(_plain(cell)) for cell in cells], dtype=np.int64)


def _plain(cell: str) -> str:
    return " ".join(re.sub(r"[\W_]+", " ", cell).split()).casefold()


def _refuse(
    recording: Recording, pairs: tuple[str, ...], pair: np.ndarray, techniques: tuple[str, ...], technique: np.ndarray
) -> None:
    name = recording.name
    if len(techniques) != 2:
        listed = ", ".join(repr(t) for t in techniques[:6])
        raise BadInputError(
            f"there {'is' if len(techniques) == 1 else 'are'} {len(techniques)} techniques ({listed})",
            f"{name}, technique",
            "pairs hold two techniques against each other; write a list for each two",
        )
    if len(pairs) > MOST_PAIRS:
        raise BadInputError(
            f"{len(pairs)} pairs are more than can be counted exactly", f"{name}, pair", "split the list"
        )
    for k, label in enumerate(pairs):
        members = np.flatnonzero(pair == k)
        for which in (0, 1):
            twice = members[technique[members] == which]
            if twice.size > 1:
                raise BadInputError(
                    f"pair {label} has {techniques[which]!r} {twice.size} times",
                    f"{name}, row {int(recording.rows[twice[1]])}",
                    "give each two go-arounds that belong together a pair of their own",
                )


def _score(recording: Recording, score: Score) -> FloatArray:
    values = _words_column(recording, score.names, score.dimension, "110 ft" if score.unit == "ft" else "5 s")
    limit = MOST_HEIGHT_M if score.dimension == "length" else MOST_TIME_S
    low = -limit if score.more_is_better else 0.0
    for i in np.flatnonzero(np.isfinite(values) & ~((values >= low) & (values <= limit))):
        cell = next(recording.texts[n][i] for n in score.names if n in recording.texts)
        raise BadInputError(
            f"{cell!r} is not a likely {score.key}",
            f"{recording.name}, row {int(recording.rows[i])}, {score.key}",
            "count it from the height and the moment of the call, a height lost and a time as positive",
        )
    return values


def _words_column(recording: Recording, names: tuple[str, ...], dimension: str, example: str) -> FloatArray:
    """Return a column kept as words as SI values, NaN where blank; raises BadInputError naming row and column."""
    out = np.full(len(recording), np.nan)
    for column in names:
        for i, cell in enumerate(recording.texts.get(column, ())):
            if cell.strip():
                where = f"{recording.name}, row {int(recording.rows[i])}, {column}"
                out[i] = parse_measured(cell, dimension, where, example)[0]
    return out


def _entry_speed(recording: Recording, words: Mapping[str, str]) -> FloatArray:
    values = _words_column(recording, _SPEED_NAMES, "speed", "75 kt")
    if not np.isfinite(values).any() and "ias" in recording.channels:
        values = recording.channels["ias"].values
    if not np.isfinite(values).any() and "entry speed" in words:
        values = np.full(
            len(recording), parse_measured(words["entry speed"], "speed", f"{recording.name}, entry speed", "75 kt")[0]
        )
    return values


def _entry_descent(recording: Recording, words: Mapping[str, str]) -> FloatArray:
    values = _words_column(recording, _DESCENT_NAMES, "speed", "600 ft/min")
    if not np.isfinite(values).any() and "vertical_speed" in recording.channels:
        values = recording.channels["vertical_speed"].values
    if not np.isfinite(values).any() and "entry descent" in words:
        where = f"{recording.name}, entry descent"
        values = np.full(len(recording), parse_measured(words["entry descent"], "speed", where, "600 ft/min")[0])
    return np.abs(values)


def _with_weight(words: Mapping[str, str], recording: Recording) -> dict[str, str]:
    out = dict(words)
    if "weight" not in out and "mass" in recording.channels:
        out["weight"] = f"{float(np.nanmean(recording.channels['mass'].values)):.6f} kg"
    return out


def _matters(words: Mapping[str, str], name: str) -> dict[str, float]:
    """Read ``matters: 30 ft, 2 s`` as the smallest differences that matter, by dimension."""
    out: dict[str, float] = {}
    for part in words.get("matters", "").split(","):
        if not part.strip():
            continue
        for dimension in ("length", "time"):
            try:
                value, _ = parse_measured(part, dimension, f"{name}, matters", "30 ft")
            except BadInputError:
                continue
            if value > 0.0:
                out[dimension] = value
                break
        else:
            raise BadInputError(
                f"{part.strip()!r} is not a difference that could matter", f"{name}, matters", 'write "30 ft, 2 s"'
            )
    return out


def _chosen(words: Mapping[str, str], score_list: tuple[Score, ...], name: str) -> str:
    """Return the key of the score chosen before flying; the first that was read when none is named."""
    wanted = words.get("score", "")
    if not wanted:
        return score_list[0].key
    for score in score_list:
        if _plain(wanted) in {_plain(n) for n in score.names}:
            return score.key
    raise BadInputError(
        f"{wanted!r} is not a score of this list",
        f"{name}, score",
        f"use one of: {', '.join(s.key for s in score_list)}",
    )
