"""Every sensible order of cleaning up, with keys that do not change between runs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

from wringout.errors import BadInputError
from wringout.techniques.stated.types import MAX_ACTIONS, Action, Device, Gate, Technique
from wringout.units import FOOT_PER_MINUTE, KNOT

_ANGLE_SAME = 1e-6
POSITIVE_RATE_MPS = 100.0 * FOOT_PER_MINUTE
"""Climb rate at which a pilot calls a positive climb on the instruments (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Detent:
    """A flap setting: its name in the airplane's manual ("up", "half", "20") and its angle, rad."""

    name: str
    angle_rad: float


def orders(detents: Sequence[Detent], start_flap_rad: float, gear_down: bool = True) -> tuple[Technique, ...]:
    """Return every sensible technique from a starting configuration.

    Flaps go up in any number of steps through the middle settings, never out again; the gear comes up at any place in
    between, either when its turn comes or only once the airplane climbs (what follows then waits for it, one hand
    doing one thing at a time). After these complete orders come the baselines, marked incomplete: nothing but power,
    gear left down, flaps left at a middle setting or where they were.

    Args:
        detents: all flap settings, from up to full.
        start_flap_rad: flap angle at the start, one of the detents.
        gear_down: whether the gear is down at the start.

    Raises:
        BadInputError: settings that do not start at up or do not rise, or a start that is no setting.
    """
    below = _settings_below(detents, start_flap_rad)
    middles, up = below[1:][::-1], below[:1]
    chains = (
        [(*chosen, *up) for size in range(len(middles) + 1) for chosen in combinations(middles, size)]
        if below
        else [()]
    )
    chains = [chain for chain in chains if len(chain) < MAX_ACTIONS]
    complete: list[Technique] = []
    for gate in (Gate.NONE, Gate.POSITIVE_CLIMB) if gear_down else (Gate.NONE,):
        for chain in chains:
            complete += _with_gear(chain, gate, gear_down)
    baselines = list(_baselines(chains, middles, gear_down, bool(below)))
    found = {t.key: t for t in [*complete, *baselines]}
    return tuple(found.values())


def extensions(
    detents: Sequence[Detent],
    retractable: bool,
    flap_limits_mps: Mapping[float, float] | None = None,
    gear_limit_mps: float | None = None,
) -> tuple[Technique, ...]:
    """Return every sensible order of putting gear and flaps out from a clean airplane, and nothing put out at all.

    Flaps go out in any number of steps, never in again; the gear goes down at any place in between, or stays up. A
    device that has a limit speed is waited for with it. All are complete: how much is put out is the question.

    Args:
        detents: all flap settings, from up to full. retractable: whether the gear can be put down.
        flap_limits_mps: VFE by angle, rad, calibrated m/s. gear_limit_mps: VLO or VLE, the lower, calibrated m/s.

    Raises:
        BadInputError: settings that do not start at up or do not rise.
    """
    _settings_below(detents, 0.0)
    limits = dict(flap_limits_mps or {})
    steps = [_out(d, limits.get(d.angle_rad)) for d in detents[1:]]
    gear = _gear_out(gear_limit_mps)
    found: dict[str, Technique] = {}
    for size in range(len(steps) + 1):
        for chosen in combinations(steps, size):
            rows = [chosen]
            if retractable:
                rows += [(*chosen[:place], gear, *chosen[place:]) for place in range(size + 1)]
            for row in rows:
                if len(row) <= MAX_ACTIONS:
                    technique = _put_out(row)
                    found[technique.key] = technique
    return tuple(found.values())


def with_hand(technique: Technique, hand_s: float) -> Technique:
    """Return a technique whose every action keeps the hand on its lever for ``hand_s`` seconds."""
    if hand_s == 0.0:
        return technique
    return replace(technique, actions=tuple(replace(action, hand_s=hand_s) for action in technique.actions))


_Out = tuple[str, str, Action]


def _out(detent: Detent, limit_mps: float | None) -> _Out:
    key, words = f"flaps-{detent.name.lower().replace(' ', '-')}", f"flaps to {detent.name}"
    return _below(key, words, Action(Device.FLAPS, detent.angle_rad), limit_mps)


def _gear_out(limit_mps: float | None) -> _Out:
    return _below("gear-down", "gear down", Action(Device.GEAR, 1.0), limit_mps)


def _below(key: str, words: str, action: Action, limit_mps: float | None) -> _Out:
    """Return an action that waits until the speed is below a limit, where there is one."""
    if limit_mps is None:
        return key, words, action
    knots = f"{limit_mps / KNOT:.0f}"
    waits = replace(action, gate=Gate.SPEED_BELOW, gate_value=limit_mps)
    return f"{key}-below-{knots}kt", f"{words} below {knots} kt", waits


def _put_out(steps: Sequence[_Out]) -> Technique:
    if not steps:
        return Technique("nothing-out", "Nothing put out", ())
    keys, words, actions = zip(*steps, strict=True)
    title = ", ".join(words)
    return Technique(",".join(keys), f"{title[0].upper()}{title[1:]}", tuple(actions))


def _settings_below(detents: Sequence[Detent], start_flap_rad: float) -> tuple[Detent, ...]:
    """Return the settings the flaps can still be raised to, from up, after checking the list."""
    angles = [d.angle_rad for d in detents]
    if not angles or abs(angles[0]) > _ANGLE_SAME or any(b <= a for a, b in pairwise(angles)):
        raise BadInputError("the flap settings do not rise from up", "flap settings", "list them from 0° to full")
    if not any(abs(angle - start_flap_rad) <= _ANGLE_SAME for angle in angles):
        raise BadInputError(
            f"a starting flap angle of {start_flap_rad:.3f} rad is not one of the settings",
            "starting flap angle",
            f"one of {', '.join(f'{d.name} ({d.angle_rad:.3f} rad)' for d in detents)}",
        )
    return tuple(d for d in detents if d.angle_rad < start_flap_rad - _ANGLE_SAME)


_Step = Detent | Gate  # a flap setting, or the gear coming up with its gate


def _with_gear(chain: tuple[Detent, ...], gate: Gate, gear_down: bool) -> Iterator[Technique]:
    """Yield a chain of flap settings with the gear coming up at each place in it."""
    if not gear_down:
        yield _technique(chain, True, "")
        return
    for place in range(len(chain) + 1):
        yield _technique((*chain[:place], gate, *chain[place:]), True, "")


def _baselines(
    chains: Sequence[tuple[Detent, ...]], middles: Sequence[Detent], gear_down: bool, flaps_out: bool
) -> Iterator[Technique]:
    if not gear_down and not flaps_out:
        return
    yield _technique((), False, "")
    if gear_down and flaps_out:
        yield _technique((Gate.NONE,), False, "flaps stay")
        for chain in chains:
            yield _technique(chain, False, "gear stays down")
    for middle in middles:
        stays = f"flaps stay at {middle.name}"
        yield _technique((middle,), False, f"gear stays down, {stays}" if gear_down else stays)
        if gear_down:
            yield _technique((middle, Gate.NONE), False, stays)
            yield _technique((Gate.NONE, middle), False, stays)


def _technique(steps: Sequence[_Step], complete: bool, remark: str) -> Technique:
    if not steps:
        return Technique("power-only", "Power only, nothing retracted", (), complete)
    keys, words, actions = zip(*(_spell(step) for step in steps), strict=True)
    title = ", ".join(words)
    title = f"{title[0].upper()}{title[1:]}" + (f"; {remark}" if remark else "")
    return Technique(",".join(keys), title, tuple(actions), complete)


def _spell(step: _Step) -> tuple[str, str, Action]:
    if step is Gate.POSITIVE_CLIMB:
        action = Action(Device.GEAR, 0.0, gate=Gate.POSITIVE_CLIMB, gate_value=POSITIVE_RATE_MPS)
        return "gear-up-climbing", "gear up once climbing", action
    if not isinstance(step, Detent):
        return "gear-up", "gear up", Action(Device.GEAR, 0.0)
    action = Action(Device.FLAPS, step.angle_rad)
    if step.angle_rad <= _ANGLE_SAME:
        return "flaps-up", "flaps up", action
    return f"flaps-{step.name.lower().replace(' ', '-')}", f"flaps to {step.name}", action
