"""Weight, centre of gravity and the envelope against arithmetic done by hand."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wringout.airplane.loading import Loading, Station, balance, inside_polygon, mass_after_burn

LB, INCH, GALLON = 0.45359237, 0.0254, 231 * 0.0254**3
ENVELOPE = tuple((x * INCH, m * LB) for x, m in ((84, 1800), (84, 2600), (89, 3200), (95, 3200), (95, 1800)))
LOADING = Loading(
    empty_mass_kg=2000 * LB,
    empty_arm_m=86 * INCH,
    fuel_arm_m=95 * INCH,
    fuel_density_kgm3=6.0 * LB / GALLON,
    stations=(Station("front seats", 85.5 * INCH, 0.0), Station("rear seats", 118 * INCH, 0.0)),
    envelope=ENVELOPE,
)


def test_moments_add_up() -> None:
    # By hand: 2000 lb at 86 in, 340 lb at 85.5 in, 100 lb at 118 in, 50 gal at 6 lb/gal at 95 in:
    # 2740 lb, 241370 lb in, c.g. at 88.091 in.
    loaded = balance(LOADING, {"front seats": 340 * LB, "rear seats": 100 * LB}, 50 * GALLON)
    assert loaded.mass_kg / LB == pytest.approx(2740.0)
    assert loaded.arm_m / INCH == pytest.approx(241370 / 2740)
    assert loaded.inside is True


def test_outside_and_without_an_envelope() -> None:
    aft = balance(LOADING, {"rear seats": 700 * LB}, 50 * GALLON)
    assert aft.arm_m / INCH == pytest.approx((172000 + 82600 + 28500) / 3000)
    assert aft.inside is True
    assert balance(LOADING, {"rear seats": 900 * LB}, 60 * GALLON).inside is False
    bare = Loading(1000.0, 2.0, 2.0, 720.0)
    assert balance(bare, {}, 0.1).inside is None


def test_a_station_that_is_not_there_and_a_negative_load() -> None:
    with pytest.raises(KeyError, match="nose"):
        balance(LOADING, {"nose": 10.0}, 0.0)
    with pytest.raises(ValueError, match="negative"):
        balance(LOADING, {"front seats": -1.0}, 0.0)


@pytest.mark.parametrize(
    ("arm_in", "mass_lb", "inside"),
    [
        (90, 2500, True),
        (84, 2000, True),  # on the forward limit
        (95, 3000, True),  # on the aft limit
        (92, 3200, True),  # at maximum weight
        (86.5, 2900, True),  # on the sloping forward limit: halfway from 84 in, 2600 lb to 89 in, 3200 lb
        (84, 2600, True),  # at a corner
        (95, 1800, True),  # at a corner
        (86, 2900, False),
        (83.9, 2000, False),
        (95.1, 2000, False),
        (90, 3201, False),
        (90, 1799, False),
    ],
)
def test_the_border_belongs_to_the_envelope(arm_in: float, mass_lb: float, inside: bool) -> None:
    assert inside_polygon(arm_in * INCH, mass_lb * LB, ENVELOPE) is inside
    assert inside_polygon(arm_in * INCH, mass_lb * LB, ENVELOPE[::-1]) is inside


@given(empty=st.integers(1800, 2400), load=st.integers(50, 600))
def test_a_loading_at_maximum_weight_is_inside(empty: int, load: int) -> None:
    """Pounds that add up to the limit do so in kilograms only to the last digit."""
    loading = Loading(
        empty * LB, 89 * INCH, 90 * INCH, 6.0 * LB / GALLON, (Station("seats", 91 * INCH, 0.0),), ENVELOPE
    )  # fmt: skip
    fuel_lb = 3200 - empty - load
    loaded = balance(loading, {"seats": load * LB}, fuel_lb / 6.0 * GALLON)
    assert loaded.mass_kg / LB == pytest.approx(3200.0)
    assert loaded.inside is True
    assert balance(loading, {"seats": load * LB}, (fuel_lb + 0.01) / 6.0 * GALLON).inside is False


@given(
    corners=st.integers(3, 9),
    turn=st.floats(0.0, 6.0),
    angle=st.floats(0.0, 2 * math.pi),
    part=st.floats(0.0, 2.0),
)
def test_regular_polygons(corners: int, turn: float, angle: float, part: float) -> None:
    polygon = [
        (2.0 + math.cos(turn + 2 * math.pi * k / corners), 1000.0 + math.sin(turn + 2 * math.pi * k / corners))
        for k in range(corners)
    ]
    nearest = math.cos(math.pi / corners)  # radius of the inscribed circle
    inside = inside_polygon(2.0 + part * math.cos(angle), 1000.0 + part * math.sin(angle), polygon)
    if part < nearest - 1e-6:
        assert inside
    if part > 1.0 + 1e-6:
        assert not inside


def test_burning_fuel() -> None:
    # By hand: 12 gal/h for 20 minutes is 4 gal, 24 lb at 6 lb/gal.
    after = mass_after_burn(3000 * LB, 12 * GALLON / 3600, 1200.0, 6.0 * LB / GALLON)
    assert after / LB == pytest.approx(2976.0)
    with pytest.raises(ValueError, match="negative"):
        mass_after_burn(1000.0, 1e-6, -1.0, 720.0)
