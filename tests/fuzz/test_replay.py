"""What the fuzzer found, every sound file, and a short while of damage to them: `make fuzz` does the long one."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.fuzz.judging import judge
from tests.fuzz.targets import CORPUS, TARGETS, Target
from tools.fuzz import changed
from wringout.errors import BadInputError

KEPT = sorted(path for path in CORPUS.rglob("*") if path.is_file())
MOST_BYTES = 200_000
TRIES = {False: 40, True: 5}
"""Damaged files tried for each reader, and for each that writes to a disk."""


@pytest.mark.parametrize("name", TARGETS)
def test_sound_files_are_read_and_damaged_ones_told(name: str) -> None:
    target, dice = TARGETS[name], random.Random(7)  # noqa: S311  no secret
    seeds = target.seeds()
    for seed in seeds:
        target.read(seed)
    for i in range(TRIES[target.heavy]):
        damage = changed if target.bend is None or i == 0 else target.bend
        data = damage(dice.choice(seeds), seeds, dice)
        assert judge(target, data) is None


@pytest.mark.parametrize("path", KEPT, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_what_was_found_once_stays_mended(path: Path) -> None:
    assert judge(TARGETS[path.parent.name], path.read_bytes()) is None


def test_the_corpus_is_small() -> None:
    assert sum(path.stat().st_size for path in KEPT) < MOST_BYTES
    assert {path.parent.name for path in KEPT} <= set(TARGETS)


def test_the_judge_sees_a_crash_a_steering_sentence_and_a_slow_reader() -> None:
    def crash(data: bytes) -> None:
        raise KeyError(data)

    def steer(data: bytes) -> None:
        error = BadInputError("wrong")
        error.what = "a\x1b[31m"
        raise error

    def slow(data: bytes) -> None:
        sum(range(10**6))

    for read, kind in ((crash, "crash"), (steer, "sentence"), (slow, "slow")):
        fault = judge(Target("planted", read, list), b"x", longest_s=0.001)
        assert fault is not None
        assert fault.kind == kind
