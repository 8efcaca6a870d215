"""The starter list of hazards, as data; assessments are judged, and the instructor or test pilot corrects them."""

from __future__ import annotations

from typing import Final

from wringout.planning.document import HazardSection

JUDGED: Final = "common practice, no source; assessment judged"
_NEAR_STALL: Final = ["stall series", "go around pairs", "level deceleration", "out and back", "slow down"]
_DEVICES: Final = ["level deceleration", "out and back", "transit timing", "slow down", "go around pairs"]


def _hazard(
    key: str,
    methods: list[str],
    hazard: str,
    cause: str,
    effect: str,
    mitigation: list[str],
    stop: str,
    risk: tuple[str, str],
    residual: tuple[str, str],
) -> HazardSection:
    return HazardSection.model_validate(
        {
            "key": key,
            "methods": methods,
            "hazard": hazard,
            "cause": cause,
            "effect": effect,
            "mitigation": mitigation,
            "stop": stop,
            "likelihood": risk[0],
            "severity": risk[1],
            "residual_likelihood": residual[0],
            "residual_severity": residual[1],
            "source": JUDGED,
        }
    )


STARTERS: Final[tuple[HazardSection, ...]] = (
    _hazard(
        "collision",
        [],
        "Collision with other traffic",
        "Heads down over readings and cards",
        "Loss of the airplane",
        [
            "The pilot looks out and does not read; the second person reads and writes",
            "Clearing turns before every point; radio and traffic service as available",
        ],
        "Traffic seen or reported near, or nobody looking out",
        ("remote", "catastrophic"),
        ("improbable", "catastrophic"),
    ),
    _hazard(
        "engine",
        [],
        "Engine failure or rough running",
        "Long slow flight at low or high power, mixture, cooling",
        "Forced landing",
        [
            "Fields in reach from every point; height kept",
            "Temperatures watched; mixture and cowl flaps as the manual asks",
        ],
        "Any engine reading out of its normal range",
        ("remote", "critical"),
        ("improbable", "critical"),
    ),
    _hazard(
        "exceedance",
        _DEVICES,
        "Limit speed exceeded with gear or flaps moving",
        "Speed not watched while selecting",
        "Damage to gear, doors or flaps",
        ["Entry speed planned below the limit with margin", "The second person calls the speed before every selection"],
        "Speed above the card's limit, or a noise or shake when the device moves",
        ("occasional", "critical"),
        ("remote", "marginal"),
    ),
    _hazard(
        "stall",
        _NEAR_STALL,
        "Unintended stall or wing drop",
        "Speed decays at fixed power or through distraction",
        "Loss of control, loss of height",
        [
            "Floor and recovery briefed; the instructor is current in stalls of this airplane",
            "Least speed called by the second person; ball centred",
        ],
        "Stall warning, buffet, or within 10 kt of the stall speed (in stall points: the stall itself)",
        ("occasional", "critical"),
        ("remote", "critical"),
    ),
    _hazard(
        "spin",
        ["stall series", "go around pairs"],
        "Spin entry",
        "Stall with yaw, power or asymmetric flap",
        "Loss of control below the floor",
        [
            "Wings level, ball centred, recovery at the first sign; loading inside the envelope for the manoeuvre",
            "Height for recovery as the manual and the instructor ask",
        ],
        "A wing drops more than 15 degrees, or yaw starts",
        ("remote", "catastrophic"),
        ("improbable", "catastrophic"),
    ),
    _hazard(
        "device",
        _DEVICES,
        "Gear or flap does not move, or moves unevenly",
        "Wear, many selections, low voltage",
        "Asymmetric flaps, or landing with the gear not locked",
        [
            "Selections no more often than the manual allows; current and lights watched",
            "Manual extension procedure on board and briefed",
        ],
        "Uneven travel, no light in the usual time, odd noise",
        ("remote", "critical"),
        ("remote", "marginal"),
    ),
    _hazard(
        "gear-up",
        _DEVICES,
        "Landing with the gear up",
        "Routine broken by many gear selections",
        "Damage on landing",
        ["Normal landing checklist, read aloud, after the last card", "Gear state written on every card at its end"],
        "Any doubt about the gear",
        ("remote", "critical"),
        ("improbable", "critical"),
    ),
    _hazard(
        "cooling",
        ["glide", "slow down", "stall series"],
        "Engine cooled too fast or slow to answer",
        "Throttle closed for long",
        "Cracks; no power when needed",
        [
            "Power brought back in steps as the manual asks",
            "Engine cleared between glides; carburettor heat as the manual asks",
        ],
        "Head temperature falls faster than allowed, or the engine does not answer",
        ("occasional", "marginal"),
        ("remote", "marginal"),
    ),
    _hazard(
        "overheat",
        ["climb", "level acceleration"],
        "Engine too hot",
        "Full power at low speed, several times",
        "Damage, loss of power",
        ["Temperatures read in every climb, cooling legs between", "Mixture and cowl flaps as the manual asks"],
        "Head or oil temperature at its limit",
        ("occasional", "marginal"),
        ("remote", "marginal"),
    ),
    _hazard(
        "low-go-around",
        ["go around pairs"],
        "Go-around tried near the ground",
        "The points taken down to a runway",
        "Ground contact",
        ["A hard deck at altitude stands for the runway, never below the floor", "Height called aloud"],
        "At or below the hard deck",
        ("remote", "catastrophic"),
        ("improbable", "catastrophic"),
    ),
    _hazard(
        "upset",
        ["airspeed calibration", "level power", "level acceleration"],
        "Speed near a limit in rough air",
        "Points near cruise or above VA",
        "Overstress",
        ["Smooth air only; below VA in any turbulence"],
        "Turbulence, or speed within 5 kt of a limit",
        ("remote", "critical"),
        ("improbable", "critical"),
    ),
    _hazard(
        "recovery",
        [],
        "Height lost below the floor",
        "Points flown on after the stop height",
        "No height left to recover",
        ["Floor on every card; the second person calls 500 ft above it"],
        "The planned floor reached",
        ("remote", "catastrophic"),
        ("improbable", "catastrophic"),
    ),
)
