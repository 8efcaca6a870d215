"""A flight-test programme on an airplane nobody here wrote, written down by a second person, as text.

Each repeat is flown with its own errors, all drawn from what the airplane file states: the handbook's figures are off,
the dial has a bias and a position error (which the airplane file knows), the weight is misjudged, every call comes a
little early or late and is read to whole knots. How well is a `Hand`: a steady one reads the knot that the needle
stands at, a hasty one is a knot off besides. In rough air each flight has its own gusts.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, field

import numpy as np

from tests.outside.airplanes import C310, L17, PC7, Device, Outside
from tests.outside.flight_dynamics_model import handbook_figures, weight_lb
from tests.outside.flights import Flight, fly_deceleration
from tests.outside.pilot import Gusts
from tests.outside.polars import clean_parabola, stall_kias
from tests.outside.truth import stall_kcas
from wringout.airplane.vector import FloatArray

EVERY_S, BEFORE_S = 6.0, 18.0
STALL_ALTITUDE_FT, GLIDE_ALTITUDE_FT = 6000.0, 5000.0
STOP_FACTOR = 1.2
"""A run ends where the speed comes down to this times the clean stall speed, as a card would have it."""
BIAS_KT, WEIGHT_SHARE, CHART_SHARE = 0.5, 0.01, 0.02
ALTITUDE_READING_FT = 8.0
NAMES = {1: ("full",), 2: ("half", "full"), 3: ("first", "second", "full")}
STALL_RATES = (0.4, 0.6, 0.8, 1.0, 1.3)
POSITION = {  # indicated less calibrated, knots, at calibrated speeds in knots; invented, of the usual size
    "up": ((55.0, 70.0, 90.0, 120.0, 160.0), (-3.5, -2.0, -0.5, 0.5, 2.0)),
    "full": ((45.0, 60.0, 80.0, 120.0, 160.0), (-4.5, -3.0, -1.0, 0.5, 1.5)),
}


@dataclass(frozen=True, slots=True)
class Hand:
    """How readings are taken: errors of the dial's reading besides the rounding to whole knots, and of every time.

    ``stated_kt`` is what the airplane file says of the first, standard deviations all.
    """

    reading_kt: float
    stated_kt: float
    clock_s: float


STEADY = Hand(0.0, 0.5, 0.3)
HASTY = Hand(1.0, 1.0, 0.5)


@dataclass(frozen=True, slots=True)
class Programme:
    """What is flown: entry speeds, knots, of each device; speeds of glides and climbs.

    ``back_s`` says which devices are flown as pairs and when each turns back, ``pair_s`` when the record ends. Pairs of
    flaps begin at ``pair_entries``: power that holds a slower speed brings the airplane back through the slow end.
    """

    airplane: Outside
    altitude_ft: float
    entries: dict[str, tuple[float, ...]]
    back_s: dict[str, float]
    pair_s: float
    glides: tuple[float, ...]
    climbs: tuple[float, ...]
    pair_entries: dict[str, tuple[float, ...]] = field(default_factory=dict)
    climb_altitude_ft: float = 6000.0
    climb_throttle: float = 1.0

    @property
    def devices(self) -> tuple[str, ...]:
        """What is moved: "gear", and flaps by the name of the setting."""
        return tuple(self.entries)

    def entry_kias(self, device: str, i: int, *, pair: bool = False) -> float:
        """Entry speed of a device's run or pair number ``i``, from 0."""
        speeds = self.pair_entries.get(device, self.entries[device]) if pair else self.entries[device]
        return speeds[i % len(speeds)]

    def flap_deg(self, device: str) -> float:
        """Flap angle of a device, 0 for the gear."""
        return 0.0 if device == "gear" else self.airplane.flap_settings_deg[self.settings.index(device)]

    @property
    def settings(self) -> tuple[str, ...]:
        """Names of the flap settings beyond up."""
        return NAMES[len(self.airplane.flap_settings_deg)]


THE_L17 = Programme(
    L17,
    3000.0,
    {"gear": (135.0, 130.0, 125.0), "half": (120.0, 118.0, 115.0), "full": (120.0, 118.0, 115.0)},
    {"gear": 90.0, "half": 90.0, "full": 90.0},
    200.0,
    (80.0, 88.0, 97.0, 106.0, 116.0),
    (76.0, 82.0, 89.0, 97.0, 106.0),
    pair_entries={"half": (120.0, 116.0, 112.0), "full": (120.0, 110.0, 98.0)},
    climb_altitude_ft=4000.0,
    climb_throttle=0.78,  # full throttle turns this engine 300 rpm over its rated 2,625
)
THE_PC7 = Programme(
    PC7,
    3000.0,
    {"gear": (130.0, 127.0, 124.0), "half": (104.0, 102.0, 100.0), "full": (104.0, 102.0, 100.0)},
    {"gear": 36.0},  # with flaps out it comes back too slowly: at these speeds it is behind the power curve
    150.0,
    (82.0, 92.0, 103.0, 115.0, 128.0),
    (100.0, 110.0, 120.0, 130.0, 140.0),
)
THE_C310 = Programme(
    C310,
    3000.0,
    {"gear": (128.0, 125.0, 122.0), "full": (128.0, 125.0, 122.0)},
    {"gear": 22.0},
    160.0,
    (94.0, 104.0, 115.0, 127.0, 140.0),
    (92.0, 100.0, 108.0, 116.0, 126.0),
)
PROGRAMMES = {p.airplane.model: p for p in (THE_L17, THE_PC7, THE_C310)}


@dataclass(frozen=True, slots=True)
class Crew:
    """The errors of one repeat: ``severity`` of the gusts (0 for still air), dial bias, true over stated weight.

    ``chart`` is the error of the engine's power chart in its own standard deviations. A crew that is ``exact`` reads
    everything without any error and does not round: what is left is the error of the reduction's own model.
    """

    rng: np.random.Generator
    severity: int
    position_error: bool
    bias_kt: float
    weight_factor: float
    chart: float = 0.0
    exact: bool = False
    hand: Hand = STEADY

    def normal(self, sd: float, size: int | None = None) -> FloatArray:
        """Return errors of a standard deviation, one or so many; none of an exact crew."""
        return np.asarray((0.0 if self.exact else sd) * self.rng.standard_normal(size))

    def written(self, values: FloatArray, step: float) -> FloatArray:
        """Return values rounded to a step, as they are written down."""
        return values if self.exact else np.asarray(step * np.round(values / step))

    def gusts(self) -> Gusts | None:
        """Return gusts for one flight, of its own seed."""
        return Gusts(self.severity, int(self.rng.integers(1, 2**30))) if self.severity else None


def new_crew(seed: int, severity: int = 0, *, position_error: bool = True, hand: Hand = STEADY) -> Crew:
    """Return the crew of one repeat."""
    rng = np.random.default_rng(seed)
    bias, weight, chart = rng.standard_normal(3)
    return Crew(rng, severity, position_error, BIAS_KT * bias, 1.0 + WEIGHT_SHARE * weight, chart, hand=hand)


def exact_crew(hand: Hand = STEADY) -> Crew:
    """Return the crew without errors, in still air, whose file states those of a hand."""
    return Crew(np.random.default_rng(0), 0, True, 0.0, 1.0, exact=True, hand=hand)


# --- flights -----------------------------------------------------------------------------------------------------


def flown(fly: functools._lru_cache_wrapper[Flight], crew: Crew, *args: object, **how: object) -> Flight:
    gusts = crew.gusts()
    return fly(*args, **how) if gusts is None else fly.__wrapped__(*args, **how, gusts=gusts)


def deceleration(programme: Programme, device: str, entry_kias: float, crew: Crew, *, pair: bool = False) -> Flight:
    """Return one run, flown to its end; `last_reading_s` says how far it is read."""
    moved: Device = "gear" if device == "gear" else "flaps"
    back = programme.back_s[device] if pair else None
    return flown(
        fly_deceleration,
        crew,
        programme.airplane,
        moved,
        entry_kias,
        programme.altitude_ft,
        flap_deg=programme.flap_deg(device),
        run_s=programme.pair_s if pair else 150.0,
        back_s=back,
    )


def last_reading_s(flight: Flight) -> float:
    """When a run is broken off, s: near the stall, or at its end."""
    slow = flight.kias < STOP_FACTOR * stall_kcas(flight.airplane, 0.0)
    return float(flight.time_s[np.argmax(slow)]) if slow.any() else float(flight.time_s[-1])


# --- what is written down ------------------------------------------------------------------------------------------


def dial(kcas: FloatArray, flap_share: FloatArray, crew: Crew) -> FloatArray:
    """Return what the dial shows at calibrated speeds, knots; ``flap_share`` is flap angle over full."""
    shown = kcas + crew.bias_kt
    if not crew.position_error:
        return shown
    up, full = (np.interp(kcas, *POSITION[name]) for name in ("up", "full"))
    return np.asarray(shown + up + (flap_share >= 0.999) * (full - up))


def read(flight: Flight, until_s: float, before_s: float, crew: Crew) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return planned times, whole knots read, and altitudes read to 10 ft."""
    planned = np.arange(-before_s, until_s + 0.1, EVERY_S)
    looked = np.clip(planned + crew.normal(crew.hand.clock_s, planned.size), flight.time_s[0], flight.time_s[-1])
    kcas, flap, height = (
        np.interp(looked, flight.time_s, x) for x in (flight.kias, flight.flap_pos_deg, flight.altitude_read_ft)
    )
    seen = dial(kcas, flap / flight.airplane.full_flap_deg, crew) + crew.normal(crew.hand.reading_kt, planned.size)
    high = height + crew.normal(ALTITUDE_READING_FT, planned.size)
    return planned, crew.written(seen, 1.0), crew.written(high, 10.0)


def stated_weight_lb(programme: Programme, crew: Crew) -> float:
    """Return the weight the crew writes down."""
    return weight_lb(programme.airplane) / crew.weight_factor


# --- the airplane file -----------------------------------------------------------------------------------------


def _position_blocks() -> str:
    out = ""
    for name, (kcas, more) in POSITION.items():
        indicated = ", ".join(f'"{c + m:g} kt"' for c, m in zip(kcas, more, strict=True))
        calibrated = ", ".join(f'"{c:g} kt"' for c in kcas)
        out += (
            f'\n[[instrument.position_error]]\nflaps = "{name}"\ngear = "up"\n'
            f"indicated = [{indicated}]\ncalibrated = [{calibrated}]\n"
        )
    return out


@functools.cache
def _best_glide(airplane: Outside) -> tuple[float, float]:
    """Best glide ratio and speed of JSBSim's polar, near the middle of the speeds flown."""
    programme = PROGRAMMES[airplane.model]
    cd0, k = clean_parabola(airplane, programme.glides, GLIDE_ALTITUDE_FT)
    figures = handbook_figures(airplane)
    lift = float(np.sqrt(cd0 / k))
    speed_fps = np.sqrt(2.0 * figures.weight_lb / (0.0023769 * figures.wing_area_ft2 * lift))
    return 0.5 / float(np.sqrt(cd0 * k)), float(speed_fps * 3600.0 * 0.3048 / 1852.0)


def airplane_text(programme: Programme, crew: Crew) -> str:
    """Return the airplane file of one repeat: the handbook's figures, each off by its stated spread."""
    airplane = programme.airplane
    figures = handbook_figures(airplane)
    ratio, speed = _best_glide(airplane)
    stalls = [stall_kias(airplane, STALL_ALTITUDE_FT, f) for f in (0.0, *airplane.flap_settings_deg)]
    stalls = [v + float(crew.normal(2.0)) for v in stalls]
    best = (
        f'ratio = "{ratio * np.exp(crew.normal(0.04)):.2f} ± {0.04 * ratio:.2f}", '
        f'speed = "{speed + crew.normal(3.0):.1f} ± 3 kt", weight = "{figures.weight_lb:.0f} lb"'
    )
    flaps = "".join(
        f'\n[[flaps]]\nname = "{name}"\nangle = "{angle:g} deg"\nstall_speed = "{stall:.1f} ± 2 kt"\n'
        for name, angle, stall in zip(programme.settings, airplane.flap_settings_deg, stalls[1:], strict=True)
    )
    return f"""\
format = "wringout airplane, version 1"
name = "{airplane.model}, a model in the wheel of JSBSim"
source = "figures its handbook would print"
stall_speed_clean = "{stalls[0]:.1f} ± 2 kt"

[geometry]
wing_area = "{figures.wing_area_ft2:g} ft2"
span = "{figures.span_ft:g} ft"

[propulsion]
propeller = "{"fixed pitch" if figures.propeller_is_fixed_pitch else "constant speed"}"
diameter = "{figures.propeller_diameter_in:.1f} in"
rated_power = "{figures.rated_power_hp:.0f} hp"

[drag]
best_glide = {{ {best} }}
gear_area = "5 ± 4 ft2"
{flaps}
[flap_travel]
down_time = "6 ± 4 s"

[gear]
down_time = "8 ± 4 s"

[limits]
max_weight = "{figures.weight_lb:.0f} lb"

[instrument]
reading = "{crew.hand.stated_kt:g} kt"
clock = "{crew.hand.clock_s:g} s"
bias = "0 ± {BIAS_KT:g} kt"
weight_error = "{WEIGHT_SHARE:g}"
{_position_blocks() if crew.position_error else ""}"""
