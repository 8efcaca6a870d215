"""Studies, the difference that matters, airplanes and cards."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.services.texts import AIRPLANE, MOMENT
from wringout.errors import BadInputError, LimitError, NotFoundError
from wringout.services.airplane.airplanes import put_airplane_file, show_airplane
from wringout.services.opening import open_studies
from wringout.services.planning.single_cards import plan_point
from wringout.services.study.studies import make_study, summaries, summary
from wringout.services.study.thresholds import difference_words, thresholds_of
from wringout.store import Store


def test_the_only_study_needs_no_name_and_one_of_several_does(store: Store) -> None:
    assert summary(store, None).study.slug == "gear-or-flaps"
    make_study(store, "Another", "", {})
    with pytest.raises(NotFoundError, match=r"more than one study.*gear-or-flaps, another"):
        summary(store, None)
    assert summary(store, "another").airplane_version is None
    assert [item.study.slug for item in summaries(store)] == ["gear-or-flaps", "another"]


def test_no_study_is_said_plainly(tmp_path: Path) -> None:
    with open_studies(tmp_path / "s.db", lambda: MOMENT) as store, pytest.raises(NotFoundError, match="no study yet"):
        summary(store, None)
    with pytest.raises(NotFoundError):
        open_studies(tmp_path / "other.db", lambda: MOMENT, create=False)


def test_the_usual_difference_is_25_ft_of_energy_height() -> None:
    usual = thresholds_of({})
    assert usual.difference == pytest.approx(7.62)  # 25 ft; 1 ft = 0.3048 m, exact (NIST SP 811)
    assert difference_words(usual) == "25 ft of energy height at 30 s"


@pytest.mark.parametrize(
    ("table", "difference", "words"),
    [
        ({"smallest": "10 m"}, 10.0, "32.8 ft of energy height at 30 s"),
        ({"score": "climb_time", "smallest": "1.5 s"}, 1.5, "1.5 s of time to a sustained climb"),
        ({"score": "stall_ratio", "smallest": 0.05}, 0.05, "0.05 of lowest V/Vs"),
        ({"score": "obstacle_distance", "smallest": "100 ft"}, 30.48, "100 ft of distance to clear 50 ft above"),
    ],
)
def test_a_difference_is_read_in_its_unit(table: dict[str, str | float], difference: float, words: str) -> None:
    found = thresholds_of(table)
    assert found.difference == pytest.approx(difference)
    assert difference_words(found).startswith(words)


@pytest.mark.parametrize(
    ("table", "complaint"),
    [
        ({"smalest": "25 ft"}, "'smalest' is not known"),
        ({"score": "prettiness"}, "'prettiness' is no score"),
        ({"score": "climb_time"}, "is not stated"),
        ({"smallest": "25 kt"}, "difference, smallest: 'kt' is not a unit of length"),
        ({"smallest": "-3 ft"}, "not above zero"),
        ({"smallest": True}, "difference, smallest"),
        ({"probability": 1.5}, "difference, probability: 1.5 is out of range"),
        ({"stall_ratio": 0.9}, "difference, stall_ratio"),
    ],
)
def test_a_difference_that_cannot_be_read_is_named(store: Store, table: dict[str, object], complaint: str) -> None:
    with pytest.raises(BadInputError) as caught:
        make_study(store, "Odd", "", table)  # type: ignore[arg-type]
    assert complaint in str(caught.value)
    assert len(summaries(store)) == 1


def test_every_version_of_the_airplane_stays(store: Store) -> None:
    again = put_airplane_file(store, None, AIRPLANE.encode(), "airplane.toml")
    assert (again.version.version, again.is_new) == (1, False)
    changed = put_airplane_file(store, None, AIRPLANE.replace("187 kt", "180 kt").encode(), "airplane.toml")
    assert (changed.version.version, changed.is_new) == (2, True)
    assert show_airplane(store, None, 1).version.toml == AIRPLANE
    assert show_airplane(store, None).versions == 2
    with pytest.raises(NotFoundError, match="no version 3"):
        show_airplane(store, None, 3)


@pytest.mark.parametrize(
    ("data", "complaint"),
    [
        (b"", "the file is empty"),
        (b"\xff\xfe\x00w", "not UTF-8"),
        (b"x" * (1 << 20 | 1), "larger than 1 MB"),
        (b"wing = [", "this is not TOML"),
        (AIRPLANE.replace('"174 ft2"', '"174 ft"').encode(), "geometry.wing_area"),
        (AIRPLANE.replace('"174 ft2"', '"-174 ft2"').encode(), "geometry.wing_area"),
        (AIRPLANE.replace('never_exceed = "187 kt"', 'never_exceed = "100 kt"').encode(), "limits.never_exceed"),
    ],
)
def test_an_airplane_file_that_cannot_be_used_is_named_and_not_kept(store: Store, data: bytes, complaint: str) -> None:
    with pytest.raises(BadInputError) as caught:
        put_airplane_file(store, None, data, "mine.toml")
    assert str(caught.value).startswith("mine.toml")
    assert complaint in str(caught.value)
    assert show_airplane(store, None).versions == 1


def test_a_card_beyond_a_limit_is_not_made(store: Store) -> None:
    with pytest.raises(LimitError, match="entry at 135 kt against VLO 130 kt"):
        plan_point(store, None, "level deceleration", {"device": "gear", "entry speed": "135 kt"})
    thin = plan_point(store, None, "level deceleration", {"device": "gear", "entry speed": "127 kt"})
    assert [notice.sentence for notice in thin.notices] == ["entry at 127 kt against VLO 130 kt: only 3 kt of margin."]
    with pytest.raises(BadInputError, match="'loop' is not a method"):
        plan_point(store, None, "loop", {})
