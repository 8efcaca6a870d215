"""A go-around from a steady approach as a procedure, for each of the pilot laws."""

from __future__ import annotations

from wringout.techniques.stated.procedure import Aim, PowerMove, Procedure, Stage, Until, When
from wringout.techniques.stated.types import GoAround, Law
from wringout.units import DEGREE

_UNTIL_POWER = Until(When.POWER_MOVES)


def law_stages(law: Law, climb_speed_factor: float = 1.3, pitch_up_rad: float | None = None) -> tuple[Stage, ...]:
    """Return the stages of a pilot law after the power lever moves.

    Args:
        law: hold the attitude of the steady climb (or ``pitch_up_rad`` above that of the start), hold the entry speed,
            or level off and climb at ``climb_speed_factor`` times the stall speed with flaps up.
    """
    if law is Law.HOLD_ATTITUDE:
        raised = Stage(Aim.CLIMB_ATTITUDE, 0.0) if pitch_up_rad is None else Stage(Aim.START_ATTITUDE, pitch_up_rad)
        return (Stage(Aim.START_ATTITUDE, 0.0, _UNTIL_POWER), raised)
    if law is Law.HOLD_SPEED:
        return (Stage(Aim.ENTRY_SPEED, 1.0),)
    level = Until(When.SPEED_ABOVE, climb_speed_factor, Aim.CLEAN_STALL)
    return (
        Stage(Aim.ENTRY_SPEED, 1.0, _UNTIL_POWER),
        Stage(Aim.PATH, 0.0 * DEGREE, level),
        Stage(Aim.CLEAN_STALL, climb_speed_factor),
    )


def go_around(situation: GoAround, law: Law) -> Procedure:
    """Return a go-around as a procedure: full power after the delay, then the technique, pitch flown by the law."""
    s = situation
    return Procedure(
        key="go-around",
        title="Go-around from the approach",
        start_flap_rad=s.start_flap_rad,
        entry_speed=s.entry_speed,
        stages=law_stages(law, s.climb_speed_factor, s.pitch_up_rad),
        start_height_m=s.start_height_m,
        start_gear=s.start_gear,
        descent_rad=s.descent_rad,
        power=(PowerMove(s.power_delay_s, max(s.power_ramp_s, 1e-3), 1.0),),
        reaction_s=s.reaction_s,
        duration_s=s.duration_s,
        handling=s.handling,
    )
