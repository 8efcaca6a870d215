"""Invented flights as loggers' tables: one approach broken off, one landed, one flown through."""

from __future__ import annotations

import numpy as np

HEAD = "Time (s),Pressure Altitude (ft),IAS (kt),MAP (inHg),Flaps (deg),Gear (1)"


def table(knots: list[tuple[float, float]], speeds: list[tuple[float, float]], moves: str, step_s: float = 1.0) -> str:
    """Return a table from corners of altitude (s, ft) and speed (s, kt); ``moves`` names what is done with devices.

    Moves: "down@t" both out at t; "flaps20@t", "up@t" (gear), "clean@t" (flaps up), "power@t" and "idle@t".
    """
    time = np.arange(0.0, knots[-1][0] + step_s / 2.0, step_s)
    altitude = np.interp(time, *zip(*knots, strict=True))
    speed = np.interp(time, *zip(*speeds, strict=True))
    flap, gear, power = np.zeros(time.size), np.zeros(time.size), np.full(time.size, 22.0)
    for move in moves.split():
        what, at = move.split("@")
        start = float(at)
        run = np.clip((time - start) / 6.0, 0.0, 1.0)
        if what in ("down", "flaps20", "clean"):
            flap = flap + run * ({"down": 40.0, "flaps20": 20.0, "clean": 0.0}[what] - flap)
        if what in ("down", "up"):
            gear = gear + run * ({"down": 1.0, "up": 0.0}[what] - gear)
        if what in ("power", "idle"):
            power = np.where(time >= start, 28.0 if what == "power" else 14.0, power)
    rows = [
        f"{t:g},{h:.0f},{v:.1f},{p:.1f},{f:.1f},{g:.2f}"
        for t, h, v, p, f, g in zip(time, altitude, speed, power, flap, gear, strict=True)
    ]
    return "\n".join([HEAD, *rows, ""])


GO_AROUND = table(
    [(0, 2000), (120, 2000), (308, 610), (312, 590), (400, 1400), (600, 2000)],
    [(0, 100), (150, 75), (310, 68), (400, 85), (600, 100)],
    "down@150 idle@160 power@306 flaps20@314 up@324 clean@340",
)
LANDING = table(
    [(0, 2000), (60, 2000), (300, 400), (400, 400)],
    [(0, 100), (100, 75), (300, 55), (330, 0), (400, 0)],
    "down@100 idle@110",
)
CRUISE = table([(0, 3000), (200, 3060), (400, 2950), (600, 3010)], [(0, 120), (600, 120)], "")
TOUCH_AND_GO = table(
    [(0, 2000), (200, 402), (205, 400), (220, 400), (225, 402), (330, 1400)],
    [(0, 90), (200, 65), (215, 50), (222, 58), (330, 80)],
    "down@20 idle@30 power@214 clean@235",
)
