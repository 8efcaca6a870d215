"""What a second person writes down of a flight-test programme on an airplane nobody here wrote, as text."""

from __future__ import annotations

import numpy as np

from tests.accuracy.outside_programme import (
    BEFORE_S,
    CHART_SHARE,
    GLIDE_ALTITUDE_FT,
    STALL_ALTITUDE_FT,
    STALL_RATES,
    Crew,
    Programme,
    deceleration,
    dial,
    flown,
    last_reading_s,
    new_crew,
    read,
    stated_weight_lb,
)
from tests.outside.airplanes import Outside
from tests.outside.flights import (
    Flight,
    StallBreak,
    fly_climb,
    fly_glide,
    fly_leg,
    fly_level_acceleration,
    fly_stall,
)

THRUST_WITHIN = " ± 3 lbf"
LEG_HEADINGS = (10.0, 130.0, 250.0)
GROUND_SD_KT, TRACK_SD_DEG = 0.7, 1.0


def deceleration_text(programme: Programme, device: str, entry_kias: float, crew: Crew, *, pair: bool = False) -> str:
    """Return a deceleration, or a pair, as called: whole knots every 6 s, and the moves."""
    flight = deceleration(programme, device, entry_kias, crew, pair=pair)
    until = float(flight.time_s[-1]) if pair else last_reading_s(flight)
    times, knots, _ = read(flight, until, BEFORE_S, crew)
    said = ("gear down", "gear up") if device == "gear" else (f"flaps {device}", "flaps up")
    marks = [(0.0, said[0]), *([(flight.back_s, said[1])] if flight.back_s is not None else [])]
    rows = [(float(t), f"{v:g}", "") for t, v in zip(times, knots, strict=True)]
    rows += [(round(t + float(crew.normal(crew.hand.clock_s)), 1), "", words) for t, words in marks]
    lines = [f"{t + BEFORE_S:g}, {v}, {words}" if words else f"{t + BEFORE_S:g}, {v}" for t, v, words in sorted(rows)]
    return "\n".join(
        [
            f"# method: {'out and back' if pair else 'level deceleration'}",
            f"# device: {'gear' if device == 'gear' else 'flaps'}",
            f"# altitude: {programme.altitude_ft:g} ft",
            f"# weight: {stated_weight_lb(programme, crew):.0f} lb",
            "# altitude held: 20 ft",
            "time, speed, mark",
            *lines,
            "",
        ]
    )


def timings_text(programme: Programme, crew: Crew) -> str:
    """Return three timings of each device down, and up where pairs are flown, by a stop-watch."""
    still = new_crew(0)
    rows = []
    for device, entries in programme.entries.items():
        flight = deceleration(programme, device, entries[0], still)
        assert flight.fully_out_s is not None
        name, out, home = ("gear", "down", "up") if device == "gear" else ("flaps", device, "up")
        for way in ((home, out), (out, home)):
            rows += [
                f"{name}, {way[0]}, {way[1]}, {max(flight.fully_out_s + crew.normal(0.3), 0.5):.1f}" for _ in range(3)
            ]
    return "# method: transit timing\ndevice, from, to, seconds\n" + "\n".join(rows) + "\n"


def _steady_text(
    head: list[str], altitude_ft: float, flights: list[Flight], programme: Programme, crew: Crew, *, rpm: bool = False
) -> str:
    """Return steady flights, one after the other on one clock, with rpm read beside them if wanted."""
    lines, clock = [], 0.0
    for flight in flights:
        times, knots, height = read(flight, float(flight.time_s[-1]), 0.0, crew)
        turns = f", {10.0 * round(float(flight.rpm.mean()) / 10.0):.0f}" if rpm else ""
        last = len(times) - 1
        for i, (t, v, h) in enumerate(zip(times, knots, height, strict=True)):
            mark = "start" if i == 0 else "end" if i == last else ""
            lines.append(f"{clock + t:g}, {v:g}, {h:g}{turns}, {mark}")
        clock += 300.0
    return "\n".join(
        [
            *head,
            f"# altitude: {altitude_ft:g} ft",
            f"# weight: {stated_weight_lb(programme, crew):.0f} lb",
            f"time, speed, altitude, {'rpm, ' if rpm else ''}mark",
            *lines,
            "",
        ]
    )


def glides_text(programme: Programme, crew: Crew, *, thrust_known: bool = False) -> str:
    """Return five clean glides at zero thrust, speed and altitude every 6 s.

    The throttle is worked to no thrust and keeps it within 4 lbf or so, by JSBSim's own figures; a crew that knows it
    says so.
    """
    flights = [flown(fly_glide, crew, programme.airplane, v, GLIDE_ALTITUDE_FT) for v in programme.glides]
    power = f"# power: zero thrust{THRUST_WITHIN if thrust_known else ''}"
    return _steady_text(["# method: glide", power], GLIDE_ALTITUDE_FT, flights, programme, crew)


def climbs_text(programme: Programme, crew: Crew) -> str:
    """Return five clean climbs of a minute at one throttle, their power off a chart: by rpm for a fixed pitch."""
    flights = [
        flown(
            fly_climb,
            crew,
            programme.airplane,
            v,
            programme.climb_altitude_ft,
            throttle=programme.climb_throttle,
            run_s=60.0,
        )
        for v in programme.climbs
    ]
    powers = [float(f.power_hp.mean()) * (1.0 + CHART_SHARE * crew.chart) for f in flights]
    fixed = programme.airplane.rpm_lever is None
    if fixed:
        turns = (f"{10.0 * round(float(f.rpm.mean()) / 10.0):.0f} rpm" for f in flights)
        said = "power chart: " + "; ".join(f"{t} = {p:.0f} hp" for t, p in zip(turns, powers, strict=True))
    else:
        said = f"power: {np.mean(powers):.0f} hp"
    return _steady_text(
        ["# method: climb", f"# {said}"], programme.climb_altitude_ft, flights, programme, crew, rpm=fixed
    )


def stalls_text(programme: Programme, crew: Crew) -> str:
    """Return three stalls of each flap setting, power off, at entry rates between 0.5 and 1.5 kt/s."""
    rows = []
    for name, flap in (("up", 0.0), *zip(programme.settings, programme.airplane.flap_settings_deg, strict=True)):
        for _ in range(3):
            stall = _stall(programme.airplane, flap, float(crew.rng.choice(STALL_RATES)), crew)
            shown = dial(np.array([stall.kias]), np.array([flap / programme.airplane.full_flap_deg]), crew)[0]
            knots = float(crew.written(np.asarray(shown + crew.normal(crew.hand.reading_kt)), 1.0))
            rate = max(round(stall.entry_rate_kt_s + float(crew.normal(0.2)), 1), 0.2)
            rows.append(f"{name}, {knots:g}, {rate:g}")
    head = [
        "# method: stall series",
        f"# altitude: {STALL_ALTITUDE_FT:g} ft",
        f"# weight: {stated_weight_lb(programme, crew):.0f} lb",
        "flap, speed, entry rate",
    ]
    return "\n".join([*head, *rows, ""])


def _stall(airplane: Outside, flap_deg: float, rate_kt_s: float, crew: Crew) -> StallBreak:
    gusts = crew.gusts()
    if gusts is None:
        return fly_stall(airplane, STALL_ALTITUDE_FT, flap_deg=flap_deg, entry_rate_kt_s=rate_kt_s)
    return fly_stall.__wrapped__(airplane, STALL_ALTITUDE_FT, flap_deg=flap_deg, entry_rate_kt_s=rate_kt_s, gusts=gusts)


def accelerations_text(programme: Programme, crew: Crew) -> str:
    """Return a level acceleration, clean, out of a slow climb at the throttle of the climbs."""
    flight = flown(
        fly_level_acceleration,
        crew,
        programme.airplane,
        programme.climbs[0],
        programme.climb_altitude_ft,
        throttle=programme.climb_throttle,
        run_s=120.0,
    )
    power = float(flight.power_hp.mean()) * (1.0 + CHART_SHARE * crew.chart)
    times, knots, height = read(flight, float(flight.time_s[-1]), 0.0, crew)
    rows = [f"{t:g}, {v:g}, {h:g}" for t, v, h in zip(times, knots, height, strict=True) if t >= 6.0]
    return "\n".join(
        [
            "# method: level acceleration",
            f"# power: {power:.0f} hp",
            f"# altitude: {programme.climb_altitude_ft:g} ft",
            f"# weight: {stated_weight_lb(programme, crew):.0f} lb",
            "time, speed, altitude",
            *rows,
            "",
        ]
    )


def legs_text(programme: Programme, kias: float, crew: Crew) -> str:
    """Return three legs at one speed in a wind of the day: whole knots on the dial, ground speed and track by GPS."""
    wind = (round(crew.rng.normal(0.0, 10.0)), round(crew.rng.normal(0.0, 10.0)))
    rows = []
    for heading in LEG_HEADINGS:
        leg = fly_leg(programme.airplane, kias, GLIDE_ALTITUDE_FT, heading, wind)
        shown = round(float(dial(np.array([leg.kias]), np.zeros(1), crew)[0]))
        ground = round(leg.ground_kt + GROUND_SD_KT * crew.rng.standard_normal())
        track = round(leg.track_deg + TRACK_SD_DEG * crew.rng.standard_normal()) % 360
        rows.append(f"{shown}, {ground}, {track}")
    return "\n".join(
        [
            "# method: airspeed calibration",
            f"# altitude: {GLIDE_ALTITUDE_FT:g} ft",
            f"# temperature: {15.0 - 0.0019812 * GLIDE_ALTITUDE_FT:.1f} C",
            f"# weight: {stated_weight_lb(programme, crew):.0f} lb",
            "speed, ground speed, track",
            *rows,
            "",
        ]
    )
