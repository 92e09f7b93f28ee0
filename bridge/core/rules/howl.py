"""Howl: every loop keeps a margin below the point where it sings.

Why: a loop whose gain reaches 1 grows until something clips, in the room or in the
call. Operating 6 dB below that point is common handbook practice (Sound System Design
Reference Manual, ch. 4: "6 dB stability margin").

Loop gain is what an engineer measures by breaking the loop at one point and sending
1 into it: the sum of all that comes back to that point. It is below 1 everywhere if
and only if the spectral radius is below 1 (Horn & Johnson 5.6.12, from memory), and
it is monotone in every gain, so the loudest corner bounds every real state.

Microphones that add up (the handbooks' NOM, 10 log N as a power sum; 20 log N in the
worst case of equal phases, which is the limit here) are in the sum.

Passes: speakers 2 m from a microphone that is not on the monitor bus.
Fails: the same microphone on the monitor bus that the speakers play.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from bridge.core.loops import loops, worst_loop_gain
from bridge.core.rules.breach import Breach, Scope
from bridge.core.units import amplitude, decibels, gain_words

RULE = "howl"


def broken(scope: Scope) -> Iterator[Breach]:
    """The worst loop, if it comes nearer to unity than the margin allows."""
    margin_db = scope.studio.limits.stability_margin_db
    gain = worst_gain(scope)
    if gain <= amplitude(-margin_db) * (1 + 1e-9):
        return
    yield Breach(
        rule=RULE,
        harm=gain,
        message="a loop howls" if gain >= 1.0 else "a loop comes too near to howling",
        measured=_measured(gain),
        limit=f"at most {gain_words(-margin_db)}",
        loop=loops(scope.corner.gains)[0].path,
    )


def worst_gain(scope: Scope) -> float:
    """The loop gain that the most careless hand meets (amplitude).

    A hand moves both lanes of a pair of speakers, or all microphones of a room, by one
    fader; it has less room than a hand on any single lane.
    """
    groups: dict[tuple[object, ...], list[int]] = {}
    for gear in scope.studio.air_gear:
        groups.setdefault((gear.kind, gear.room), []).extend(gear.nodes)
    return worst_loop_gain(scope.corner.spread, groups.values())


def _measured(gain: float) -> str:
    if math.isinf(gain):
        return "loop gain above 0 dB, whichever fader alone is pulled down"
    return f"loop gain {gain_words(decibels(gain))}"
