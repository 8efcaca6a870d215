"""Gear and flaps in motion, as straight lines in time. Compiled. A device that is turned round starts where it is."""

from __future__ import annotations

import math

from numba import njit

from wringout.airplane.vector import ANGLES, FLAP_DOWN_TIME, FLAP_UP_TIME, GEAR_DOWN_TIME, GEAR_UP_TIME, SETTINGS
from wringout.techniques.layout import (
    D_ARRIVES,
    D_FROM,
    D_RATE,
    D_SINCE,
    D_TARGET,
    FLAPS,
    G_FLAP,
    G_GEAR,
    GEAR,
)
from wringout.techniques.types import FloatArray

_SHORTEST_TRAVEL_S = 1e-3  # stands for "at once"


@njit(cache=True, error_model="numpy", nogil=True)
def rest_devices(g: FloatArray, devices: FloatArray) -> None:
    """Put both devices at rest in the starting positions of a situation row."""
    devices[:, :] = 0.0
    for device, position in ((GEAR, g[G_GEAR]), (FLAPS, g[G_FLAP])):
        devices[device, D_FROM] = position
        devices[device, D_TARGET] = position


@njit(cache=True, error_model="numpy", nogil=True)
def position(devices: FloatArray, device: int, time: float) -> float:
    """Return where a device is at a time."""
    place: float = devices[device, D_TARGET]
    if time < devices[device, D_ARRIVES]:
        place = devices[device, D_FROM] + devices[device, D_RATE] * (time - devices[device, D_SINCE])
    return place


@njit(cache=True, error_model="numpy", nogil=True)
def move(a: FloatArray, devices: FloatArray, device: int, target: float, time: float) -> None:
    """Start a device towards a target: full travel takes the row's transit time, less travel less in proportion."""
    now = position(devices, device, time)
    if device == GEAR:
        full = 1.0
        full_time = a[GEAR_UP_TIME] if target < now else a[GEAR_DOWN_TIME]
    else:
        full = a[ANGLES + int(a[SETTINGS]) - 1]
        full_time = a[FLAP_UP_TIME] if target < now else a[FLAP_DOWN_TIME]
    travel = max(abs(target - now) / full * full_time, _SHORTEST_TRAVEL_S)
    devices[device, D_SINCE] = time
    devices[device, D_FROM] = now
    devices[device, D_RATE] = (target - now) / travel
    devices[device, D_ARRIVES] = time + travel
    devices[device, D_TARGET] = target


@njit(cache=True, error_model="numpy", nogil=True)
def next_corner(a: FloatArray, devices: FloatArray, time: float) -> float:
    """Return when a moving device next arrives or the flap next passes a detent, where its drag and lift bend."""
    corner = math.inf
    for device in (GEAR, FLAPS):
        if devices[device, D_ARRIVES] > time:
            corner = min(corner, devices[device, D_ARRIVES])
    if devices[FLAPS, D_ARRIVES] > time:
        for k in range(1, int(a[SETTINGS]) - 1):
            passing = devices[FLAPS, D_SINCE] + (a[ANGLES + k] - devices[FLAPS, D_FROM]) / devices[FLAPS, D_RATE]
            if time < passing < corner:
                corner = passing
    return corner
