"""Limits from the manual, and the sentence about a reading beyond one."""

from tests.airplane.own_words import KT
from tests.airplane.quillback import quillback
from wringout.airplane.limits import Exceedance


def test_limits_come_through_in_metres_per_second() -> None:
    limits = quillback().limits
    assert limits.gear_operate_mps == 125 * KT
    assert limits.gear_retract_mps == 110 * KT
    assert limits.gear_extended_mps == 140 * KT
    assert limits.never_exceed_mps == 190 * KT
    assert limits.maneuvering_mps is None
    assert limits.flap_limit("half") == 115 * KT
    assert limits.flap_limit("up") is None


def test_an_exceedance_says_limit_reading_and_row() -> None:
    found = Exceedance("VFE (half)", 115 * KT, 119 * KT, 7)
    assert found.sentence() == (
        "VFE (half) is 115 kt and 119 kt was read on row 7: a limit exceedance; the run is still reduced."
    )
    assert "row" not in Exceedance("VNE", 190 * KT, 195 * KT, 0).sentence()
