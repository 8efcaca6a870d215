"""What is drawn over a picture of a clip: the marks, and where the needle was read; and the readings over time."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from markupsafe import Markup

from wringout.errors import BadInputError
from wringout.instruments.marks import DialMarks, marks_of
from wringout.services.flights.clip_documents import Clip, Reading
from wringout.services.flights.frames import Shape
from wringout.web.clip_forms import Typed, number
from wringout.web.drawn.series import Counts, Spot, Trace, series

ARM = 0.012
"""Half the length of a cross, as a share of the picture's width."""
MOST_SPOTS = 300
"""Of more, every second is drawn, or third; the list has them all."""


def over_picture(typed: Typed, shape: Shape, clip: Clip, shown: Reading | None) -> Markup:
    """Return the marks of a form as a drawing over its picture; what is not a number yet is not drawn."""
    arm = ARM * shape.width
    drawn = [*_dial(typed, arm), *_needle(clip, shown)] if typed["kind"] == "dial" else _box(typed)
    parts = Markup("").join(drawn)
    return Markup('<svg id="marks" viewBox="0 0 {} {}" preserveAspectRatio="none" aria-hidden="true">{}</svg>').format(
        shape.width, shape.height, parts
    )


def _dial(typed: Typed, arm: float) -> Iterable[Markup]:
    centre = _point(typed["centre_x"], typed["centre_y"])
    if centre is not None:
        yield _cross(*centre, 2.0 * arm)
    for value, *place in typed.speeds:
        point = _point(*place)
        if point is not None:
            yield _cross(*point, arm)
            yield Markup('<text x="{:.1f}" y="{:.1f}" font-size="{:.1f}">{}</text>').format(
                point[0] + 1.2 * arm, point[1] - 0.6 * arm, 3.0 * arm, value[:12]
            )


def _box(typed: Typed) -> Iterable[Markup]:
    start, size = _point(typed["left"], typed["top"]), _point(typed["width"], typed["height"])
    if start is not None and size is not None and min(size) > 0.0:
        yield _both('<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}" class="{}"/>', *start, *size)


def _needle(clip: Clip, shown: Reading | None) -> Iterable[Markup]:
    if clip.wish is None or shown is None or not math.isfinite(shown.made_out):
        return
    marks = marks_of(clip.wish.marks, "marks")
    if isinstance(marks, DialMarks):
        angle, reach = math.radians(marks.angle_at(shown.made_out)), 1.35 * marks.outer
        x, y = marks.centre
        line = '<line x1="{:.1f}" y1="{:.1f}" x2="{:.1f}" y2="{:.1f}" class="{}"/>'
        yield _both(line, x, y, x + reach * math.sin(angle), y - reach * math.cos(angle))


def _point(x: str, y: str) -> tuple[float, float] | None:
    try:
        return number(x, ""), number(y, "")
    except BadInputError:
        return None


def _cross(x: float, y: float, arm: float) -> Markup:
    path = '<path d="M{:.1f},{:.1f} h{:.1f} M{:.1f},{:.1f} v{:.1f}" class="{}"/>'
    return _both(path, x - arm, y, 2.0 * arm, x, y - arm, 2.0 * arm)


def _both(shape: str, *numbers: float) -> Markup:
    """Return a shape drawn twice, dark under light, to be seen on any picture."""
    twice = [shape.format(*numbers, name) for name in ("under", "above")]
    return Markup("").join(map(Markup, twice))  # numbers, and names of ours


def readings_drawing(clip: Clip, here: str) -> Markup:
    """Return the readings over time: what counts as a line, what waits as open spots that lead to their picture."""
    times = np.array([one.time_s for one in clip.readings])
    speeds = np.array([one.speed for one in clip.readings])
    spots = [
        Spot(
            one.time_s,
            one.made_out if one.waits or one.answer == "no" else one.speed,
            Counts.WAITING if one.waits else Counts.NO if one.answer == "no" else Counts.YES,
            f"{here}?at={one.time_s:.3f}#picture",
            f"{one.time_s:.2f} s, {one.made_out:.1f} {clip.unit}, confidence {one.confidence:.2f}",
        )
        for one in clip.readings
        if one.waits or (one.answer and math.isfinite(one.made_out if one.answer == "no" else one.speed))
    ]
    spoken = (
        f"Speed read from the clip, {clip.unit} over seconds; open spots wait for a yes or no and stand in the list."
    )
    return series(spots, clip.unit, spoken, traces=[Trace(times, speeds, "c-clean")])
