"""What is believed of the flaps: drag area, how it changes with lift, and maximum lift of every setting."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wringout.airplane import vector as v
from wringout.airplane.beliefs import FlapSetting, Parameter
from wringout.airplane.distribution import Prior
from wringout.airplane.document import AirplaneDocument, FlapSection
from wringout.airplane.field_reader import FILE_SAYS, FieldReader
from wringout.airplane.textbook import SPAN_EFFICIENCY, STALL_RATE_SLOPE, lift_coefficient_at
from wringout.errors import BadInputError
from wringout.units import DEGREE

FLAP_CHORD, FLAPPED_SHARE = 0.2, 0.5
"""A typical flap, invented by us: its chord over the wing's, and the share of the wing's area that it stands behind."""
ATTACHED_RAD = 15.0 * DEGREE
"""Up to which angle the flow stays on a plain flap, about (from memory, no source)."""
SHARE_WIDTH = (0.3, 1.0)
"""Least and greatest spread of the logit of a share, a middle setting of the next one (judged)."""
FLOOR = Prior(0.4, 0.25, "share", "what a flap costs by itself, however much lift there is; width judged, no source")
"""Least area of a setting over that of full flap times its share of the angle; see also `beliefs.LEAST_BEND`."""


def flap_parameters(
    document: AirplaneDocument,
    read: FieldReader,
    base: v.FloatArray,
    settings: Sequence[FlapSetting],
    max_mass_kg: float,
) -> list[Parameter]:
    """Return the parameters of the flaps' drag and lift.

    What is fitted is area and lift gain of full flap, and for each setting before it the share of the next one:
    runs mostly fly full flap, and this way they speak of one number instead of a sum of steps.
    """
    wing = float(base[v.WING_AREA])
    areas = [_flap_area(flap, read, i, settings[i].angle_rad, wing) for i, flap in enumerate(document.flaps, start=1)]
    for i in range(1, len(areas)):
        if areas[i].value <= areas[i - 1].value:
            raise BadInputError(
                "the drag area is not more than that of the setting before it",
                read.where(f"flaps / number {i + 1} / area"),
                "give areas that grow with travel",
            )
    full = settings[-1].name
    out = [Parameter("flap_area", f"flap drag area, {full}", areas[-1], "ft2")]
    for i, area in enumerate(areas[:-1], start=1):
        width = 1.5 * max(area.sd / area.value, areas[i].sd / areas[i].value)
        share = _share(area.value / areas[i].value, width, area.source)
        label = f"share of the drag area of flaps {settings[i + 1].name} had at {settings[i].name}"
        out.append(Parameter(f"flap_share.{i}", label, share))
    lifts = _lift_maxima(document, read, wing, max_mass_kg)
    for i, (flap, area) in enumerate(zip(document.flaps, areas, strict=True), start=1):
        gain = max(lifts[i].value - lifts[0].value, _lift_at_equal_angle(settings[i].angle_rad, base))
        shift = _polar_shift(gain, base)
        slope = _area_slope(flap, read, i, area, shift)
        out.append(Parameter(f"flap_lift_slope.{i}", f"flap area change per unit CL, {settings[i].name}", slope, "ft2"))
        label = f"least flap drag area at high lift, {settings[i].name}, over full by angle"
        out.append(Parameter(f"flap_floor.{i}", label, _floor(flap, read, i)))
    out += _lift_parameters(lifts, settings)
    out.append(Parameter("stall_rate_slope", "stall speed change with entry rate", STALL_RATE_SLOPE))
    return out


def _share(value: float, logit_sd: float, source: str) -> Prior:
    """Return the belief in a share between 0 and 1, its median kept off the ends and its spread within SHARE_WIDTH."""
    median = min(max(value, 0.03), 0.97)
    width = min(max(logit_sd, SHARE_WIDTH[0]), SHARE_WIDTH[1])
    return Prior(median, width * median * (1.0 - median), "share", source)


def _lift_parameters(lifts: Sequence[Prior], settings: Sequence[FlapSetting]) -> list[Parameter]:
    """Return clean CLmax, the gain of full flap and the middle settings' shares of the next one's gain."""
    clean, last = lifts[0], lifts[-1]
    gains = [max(lift.value - clean.value, 0.04 * i) for i, lift in enumerate(lifts)]
    out = [Parameter("cl_max", "CLmax clean", clean)]
    gain = Prior(gains[-1], math.hypot(clean.sd, last.sd), "gain", last.source)
    out.append(Parameter("cl_gain", f"CLmax gain, flaps {settings[-1].name}", gain))
    for i in range(1, len(lifts) - 1):
        value = gains[i] / gains[i + 1]
        spread = lifts[i].sd / gains[i + 1] / max(value * (1.0 - value), 0.05)
        label = f"share of the CLmax gain of flaps {settings[i + 1].name} had at {settings[i].name}"
        out.append(Parameter(f"cl_share.{i}", label, _share(value, spread, lifts[i].source)))
    return out


def _lift_at_equal_angle(angle_rad: float, base: v.FloatArray) -> float:
    """Return by how much a flap raises CL at one angle of attack, by thin-aerofoil theory.

    ``a tau (Sf/S) delta``, with the wing's lift slope ``a`` and the flap's effectiveness
    ``tau = 1 - (theta - sin theta) / pi``, ``cos theta = 2 cf/c - 1`` (Glauert's theory of hinged flaps, in every
    textbook of thin aerofoils); cf/c and Sf/S are those of the textbook flap of :func:`_flap_area`. Counted up to
    ATTACHED_RAD, beyond which the flow leaves the flap. Stalls do not tell this lift: a flapped wing stalls at a
    smaller angle.
    """
    hinge = math.acos(2.0 * FLAP_CHORD - 1.0)
    effectiveness = 1.0 - (hinge - math.sin(hinge)) / math.pi
    return float(base[v.LIFT_SLOPE]) * effectiveness * FLAPPED_SHARE * min(angle_rad, ATTACHED_RAD)


def _polar_shift(gain: float, base: v.FloatArray) -> float:
    """Return by how much a setting's area falls per unit CL, m2, if the flap moves the polar by ``gain`` in CL.

    Written about its own vertex, the polar is ``CD0 + k (CL - CL0)^2`` with ``k = S / (pi e b^2)``: moving it by CL0
    changes the area at equal lift by ``-2 k CL0 S`` per unit CL. That is the picture of a lift curve moved to the left
    as a whole; a small setting that gains much lift for little drag has a slope large against its area.
    """
    wing, span = float(base[v.WING_AREA]), float(base[v.SPAN])
    return 2.0 * wing**2 / (math.pi * SPAN_EFFICIENCY.value * span**2) * max(gain, 0.0)


def _area_slope(flap: FlapSection, read: FieldReader, i: int, area: Prior, shift: float) -> Prior:
    """Return the belief in how a setting's area changes per unit CL, when not given: wide in area and polar shift.

    Unknown within twice the area or once the shift of the polar (see :func:`_polar_shift`), whichever is more: a polar
    moved as a whole says minus the shift, a part-span flap that twists the lift distribution adds drag with lift
    instead. The lift gained is that in CLmax or that at equal angle, whichever is more. Held against JSBSim's model L17
    (40 seeds): its half flaps lose 12 ft2 per unit CL, more than twice the shift by their gain in CLmax. With that gain
    alone they came out 9 % low at entry from pairs, and half of the 95 % intervals held the truth; with the lift at
    equal angle beside it 4 %, and 85 % of them or more.
    """
    if flap.area_slope is None:
        sd = max(2.0 * area.value, shift)
        return Prior(-0.5 * area.value, sd, "normal", "a flap moves the polar by its gain in lift; width judged")
    return read.prior(flap.area_slope, "area", f"flaps / number {i} / area_slope", "-3 ± 4 ft2", "normal", 0.5)


def _floor(flap: FlapSection, read: FieldReader, i: int) -> Prior:
    """Return the belief in the least area of a setting, see FLOOR, or what the file says of it."""
    if flap.least_share is None:
        return FLOOR
    field, example = f"flaps / number {i} / least_share", "0.4 ± 0.2"
    said = read.efficiency(flap.least_share, field, example, 0.5)
    if said.value >= 1.0:
        raise BadInputError(f"{flap.least_share!r} is not below 1", read.where(field), f'write "{example}"')
    return Prior(said.value, said.sd, "share", FILE_SAYS)


def _flap_area(flap: FlapSection, read: FieldReader, i: int, angle_rad: float, wing_m2: float) -> Prior:
    """Return the belief for one setting; without a stated area, the textbook form with half its value as spread.

    ``lambda (cf/c)^1.38 (Sf/S) sin^2(delta)`` with lambda 1.3 (between slotted 0.9 and plain 1.7), cf/c FLAP_CHORD and
    Sf/S FLAPPED_SHARE: textbook flap-drag formula for profile drag.
    """
    if flap.area is not None:
        return read.prior(flap.area, "area", f"flaps / number {i} / area", "2.5 ± 1.5 ft2", "lognormal", 0.5)
    value = 1.3 * FLAP_CHORD**1.38 * FLAPPED_SHARE * math.sin(angle_rad) ** 2 * wing_m2
    return Prior(value, 0.6 * value, "lognormal", "textbook flap-drag formula with invented-by-us typical flap, wide")


def _lift_maxima(document: AirplaneDocument, read: FieldReader, wing_m2: float, max_mass_kg: float) -> list[Prior]:
    """Return CLmax beliefs, up first, from printed stall speeds at maximum weight; else typical values, wide."""
    texts = [("stall_speed_clean", document.stall_speed_clean)]
    texts += [(f"flaps / number {i} / stall_speed", flap.stall_speed) for i, flap in enumerate(document.flaps, start=1)]
    out: list[Prior] = []
    for i, (field, text) in enumerate(texts):
        if text is None:
            value = 1.4 if i == 0 else out[0].value + 0.55 * (i / (len(texts) - 1)) ** 0.5
            out.append(Prior(value, 0.2, "lognormal", "typical of light airplanes; from memory, no source"))
            continue
        speed, sd = read.measured(text, "speed", field, "55 ± 2 kt")
        if speed <= 0.0:
            raise BadInputError(f"{text!r} is not above zero", read.where(field), 'write "55 ± 2 kt"')
        lift = lift_coefficient_at(max_mass_kg, speed, wing_m2)
        out.append(Prior(lift, 2.0 * lift * (sd if sd is not None else 0.03 * speed) / speed, "lognormal", FILE_SAYS))
    return out
