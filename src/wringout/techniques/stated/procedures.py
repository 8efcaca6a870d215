"""Procedures of the trade, filled in. Each returns data; every number can be changed with `dataclasses.replace`.

Defaults are common practice or invented and marked so. The airplane's approved manual and a qualified instructor decide
what is flown; these compute what would follow.
"""

from __future__ import annotations

from dataclasses import replace

from wringout.techniques.stated.go_arounds import law_stages
from wringout.techniques.stated.procedure import Aim, Ground, PowerMove, Procedure, Stage, StartPower, Until, When
from wringout.techniques.stated.types import EntryReference, EntrySpeed, Law
from wringout.units import DEGREE, FOOT

RUNWAY = Ground()


def from_flare(start_flap_rad: float, law: Law, speed_factor: float = 1.15, height_m: float = 5.0 * FOOT) -> Procedure:
    """Return a go-around from the flare: idle, low and slow, in ground effect (numbers invented).

    Power comes within 2 s, evenly from idle on (judged).

    Args:
        start_flap_rad: rad. law: how pitch is flown once power comes. speed_factor: times the stall speed.
        height_m: of the wheels above the runway.
    """
    return Procedure(
        key="from-flare",
        title="Go-around from the flare",
        start_flap_rad=start_flap_rad,
        entry_speed=EntrySpeed(speed_factor),
        stages=law_stages(law),
        start_height_m=height_m,
        descent_rad=1.0 * DEGREE,
        start_power=StartPower.NONE,
        power=(PowerMove(0.5, 2.0, 1.0),),
        ground=RUNWAY,
        by_law=True,
    )


def from_bounce(start_flap_rad: float, law: Law, speed_factor: float = 1.05, height_m: float = 8.0 * FOOT) -> Procedure:
    """Return a go-around from the top of a bounce: idle, level for a moment, close to the stall (numbers invented).

    Power comes as from the flare, see :func:`from_flare`.

    Args:
        start_flap_rad: rad. law: how pitch is flown. speed_factor: times the stall speed. height_m: above the runway.
    """
    return Procedure(
        key="from-bounce",
        title="Go-around from a bounce",
        start_flap_rad=start_flap_rad,
        entry_speed=EntrySpeed(speed_factor),
        stages=law_stages(law),
        start_height_m=height_m,
        descent_rad=0.0,
        start_power=StartPower.NONE,
        power=(PowerMove(0.5, 2.0, 1.0),),
        ground=RUNWAY,
        by_law=True,
    )


def power_loss_after_take_off(
    start_flap_rad: float, height_m: float, glide_factor: float = 1.3, reaction_s: float = 3.0
) -> Procedure:
    """Return a loss of all power in the climb after take-off, to the ground: the nose is lowered to a glide speed.

    Args:
        start_flap_rad: flap of the take-off, rad. height_m: above the ground when the engine stops.
        glide_factor: glide speed over the stall speed with flaps up.
        reaction_s: how long the climb attitude is still held.
    """
    made = _power_loss(start_flap_rad, height_m, glide_factor, reaction_s)
    return replace(
        made,
        key="power-loss-after-take-off",
        title="Loss of power after take-off",
        descent_rad=None,
        start_power=StartPower.FULL,
    )


def power_loss_on_approach(
    start_flap_rad: float, height_m: float, glide_factor: float = 1.3, reaction_s: float = 2.0
) -> Procedure:
    """Return a loss of all power on a 3 degree approach, to the ground: which configuration reaches farthest.

    Args:
        start_flap_rad: rad. height_m: above the ground. glide_factor: over the stall speed with flaps up.
        reaction_s: how long the approach attitude is still held.
    """
    return _power_loss(start_flap_rad, height_m, glide_factor, reaction_s)


def _power_loss(start_flap_rad: float, height_m: float, glide_factor: float, reaction_s: float) -> Procedure:
    """Return a loss of all power to the ground, from an approach."""
    return Procedure(
        key="power-loss-on-approach",
        title="Loss of power on approach",
        start_flap_rad=start_flap_rad,
        entry_speed=EntrySpeed(1.3),
        stages=(
            Stage(Aim.START_ATTITUDE, 0.0, Until(When.TIME, reaction_s)),
            Stage(Aim.CLEAN_STALL, glide_factor),
        ),
        start_height_m=height_m,
        descent_rad=3.0 * DEGREE,
        power=(PowerMove(0.0, 0.5, -1.0, by_hand=False),),
        hands_free_s=reaction_s,
        duration_s=600.0,
        end=Until(When.HEIGHT_BELOW, 0.0),
        ground=RUNWAY,
    )


def emergency_descent(cruise_cas_mps: float, descent_cas_mps: float, height_lost_m: float) -> Procedure:
    """Return an emergency descent from level cruise: power off, nose down to a speed, until a height is lost.

    Args:
        cruise_cas_mps: at the start, flaps and gear up. descent_cas_mps: held in the descent; keep it below VLE and VFE
            of what the technique extends. height_lost_m: where the procedure ends.
    """
    base = height_lost_m + 300.0
    return Procedure(
        key="emergency-descent",
        title="Emergency descent",
        start_flap_rad=0.0,
        entry_speed=EntrySpeed(cruise_cas_mps, EntryReference.CAS),
        stages=(Stage(Aim.CALIBRATED, descent_cas_mps),),
        start_height_m=base,
        start_gear=0.0,
        power=(PowerMove(1.0, 2.0, -1.0),),
        duration_s=900.0,
        end=Until(When.HEIGHT_BELOW, base - height_lost_m),
    )


def slow_down(cruise_cas_mps: float, target_cas_mps: float) -> Procedure:
    """Return a level slow-down from cruise to approach speed: power off, level, until the speed is reached.

    Args:
        cruise_cas_mps: at the start, flaps and gear up. target_cas_mps: where the procedure ends.
    """
    return Procedure(
        key="slow-down",
        title="Slow-down to approach speed",
        start_flap_rad=0.0,
        entry_speed=EntrySpeed(cruise_cas_mps, EntryReference.CAS),
        stages=(Stage(Aim.PATH, 0.0),),
        start_gear=0.0,
        power=(PowerMove(1.0, 2.0, -1.0),),
        duration_s=180.0,
        end=Until(When.SPEED_BELOW, target_cas_mps, Aim.CALIBRATED),
    )


def take_off_clean_up(
    start_flap_rad: float, law: Law = Law.HOLD_SPEED, speed_factor: float = 1.2, height_m: float = 50.0 * FOOT
) -> Procedure:
    """Return the climb after take-off with full power, to be cleaned up by the technique.

    Args:
        start_flap_rad: flap of the take-off, rad. law: how pitch is flown. speed_factor: times the stall speed.
        height_m: above the runway.
    """
    return Procedure(
        key="take-off-clean-up",
        title="Clean-up after take-off",
        start_flap_rad=start_flap_rad,
        entry_speed=EntrySpeed(speed_factor),
        stages=law_stages(law)[-1:],
        start_height_m=height_m,
        descent_rad=None,
        start_power=StartPower.FULL,
        hands_free_s=0.0,
        ground=RUNWAY,
        by_law=True,
    )
