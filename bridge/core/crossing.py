"""The door of the planner: from a belief and a goal to a crossing, or a refusal.

Fewest legs, then fewest helper messages, then least time on the wire; only what
differs from the belief is set. A leg is safe for every subset, order, loss and delay
of its steps: it passes `guard.refused_because(judge, belief, leg.in_flight)` (unless
it `needs_instant`), and a keep-rule that holds at both ends holds all the way. A step
by hand is safe whenever it is done, and if it never is (`by_hand`); its leg is over
when the person has said, or the gear has shown, that it is done.

From a belief that breaks a never-rule (nothing known, or a hand on the desk) the legs
that end this come first; a keep-rule may have to give way to them, and then the leg's
reason says so.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace

from bridge.core.belief import Belief, Setting, settled
from bridge.core.by_hand import (
    REASON,
    REASON_ALONE,
    AtAnyMoment,
    keeps_hold,
    unsafe_because,
    widths,
)
from bridge.core.control import Control, Reach
from bridge.core.culprits import end_refused
from bridge.core.detour import best_route
from bridge.core.drafting import drafted, steps_of
from bridge.core.guard import Judge
from bridge.core.leg import (
    Change,
    Crossing,
    Demanded,
    Helper,
    Leg,
    Refusal,
    Step,
    Stopped,
    Why,
)
from bridge.core.loudness import Loudness, loudness_of
from bridge.core.means import Means, wire_ms
from bridge.core.recall import Recall
from bridge.core.restore import from_danger
from bridge.core.toggling import blind_refused
from bridge.core.wire import Message

__all__ = [
    "Change",
    "Crossing",
    "Demanded",
    "Helper",
    "Leg",
    "Loudness",
    "Refusal",
    "Step",
    "Stopped",
    "Why",
    "loudness_of",
    "plan",
]


def plan(
    judge: Judge,
    controls: Mapping[str, Control],
    belief: Belief,
    goal: Setting,
    helpers: Sequence[Helper] = (),
    *,
    loudness: Loudness,
    recalls: Sequence[Recall] = (),
    cost: Callable[[Message], float] = wire_ms,
) -> Crossing | Refusal:
    """Find the crossing from the belief to the goal.

    goal: the controls to be set; what it does not name stays as it is.
    helpers: values that controls may be given for a moment when nothing else helps.
    loudness: `loudness_of(studio.graph)`; it tells a cut from an open.
    recalls: messages that set several controls at once.
    cost: how long the wire is busy with a message, in ms.
    """
    means = Means(judge, controls, loudness, helpers, recalls, cost)
    moving = {name: v for name, v in goal.items() if belief[name] != {v}}
    fixed = sorted(name for name in moving if controls[name].reach is Reach.FIXED)
    if fixed:
        labels = ", ".join(controls[name].label for name in fixed)
        return Refusal(f"{labels}: fixed, so nothing and nobody can set it")
    if (blind := blind_refused(controls, belief, moving)) is not None:
        return blind
    hands = widths(controls, belief, moving)
    if hands:
        refusal = unsafe_because(judge, controls, belief, moving)
        if refusal is not None:
            return refusal
        careful = replace(means, judge=AtAnyMoment(judge, hands))
        way = _hands_last(careful, belief, goal, moving, hands)
        if way is not None:
            return way
        # Out of danger a hand may be the only one who can cut: nothing gets worse.
        means = means if judge.nevers_broken(belief) else careful
    return _planned(means, belief, goal, moving)


def _planned(
    means: Means, belief: Belief, goal: Setting, moving: Setting
) -> Crossing | Refusal:
    """The crossing in which these controls move, wherever a hand stands in it."""
    if means.judge.nevers_broken(belief):
        legs = from_danger(means, belief, goal, moving)
        return legs if isinstance(legs, Refusal) else Crossing(tuple(legs), dict(goal))
    if means.judge.nevers_broken(settled(belief, moving)):
        return end_refused(means, settled(belief, moving), goal)
    route = best_route(means, belief, moving)
    if isinstance(route, Refusal):
        return route
    return Crossing(tuple(drafted(means, belief, route)), dict(goal))


def _hands_last(
    means: Means,
    belief: Belief,
    goal: Setting,
    moving: Setting,
    hands: Collection[str],
) -> Crossing | None:
    """All that messages can do, then what a hand must; None if that cannot be."""
    rest = {name: value for name, value in moving.items() if name not in hands}
    if not rest and means.judge.nevers_broken(belief):
        return None
    begun = {name: value for name, value in goal.items() if name not in hands}
    first = _planned(means, belief, begun, rest) if rest else Crossing((), begun)
    if isinstance(first, Refusal):
        return None
    there = settled(belief, rest)
    steps = steps_of(means, there, {name: moving[name] for name in hands})
    last = Leg(steps, REASON if first.legs else REASON_ALONE)
    if not keeps_hold(means.judge, belief, there, last):
        return None
    return Crossing((*first.legs, last), dict(goal))
