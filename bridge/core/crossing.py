"""The door of the planner: from a belief and a goal to a crossing, or a refusal.

Fewest legs, then fewest helper messages, then least time on the wire; only what
differs from the belief is set. A leg is safe for every subset, order, loss and delay
of its steps: it passes `guard.refused_because(judge, belief, leg.in_flight)` (unless
it `needs_instant`), and a keep-rule that holds at both ends holds all the way. Hand
steps stand in their legs like any other: the leg is over when the person has said, or
the gear has shown, that they are done.

From a belief that breaks a never-rule (nothing known, or a hand on the desk) the legs
that end this come first; a keep-rule may have to give way to them, and then the leg's
reason says so.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from bridge.core.belief import Belief, Setting, settled
from bridge.core.culprits import end_refused
from bridge.core.detour import best_route
from bridge.core.drafting import drafted
from bridge.core.guard import Judge
from bridge.core.leg import (
    Change,
    Crossing,
    Demanded,
    Helper,
    Leg,
    Recall,
    Refusal,
    Step,
    Stopped,
    Why,
)
from bridge.core.loudness import Loudness, loudness_of
from bridge.core.means import Means, wire_ms
from bridge.core.restore import from_danger
from bridge.core.studio import Control, Reach
from bridge.core.toggling import blind_refused
from bridge.core.wire import Message

__all__ = [
    "Change",
    "Crossing",
    "Demanded",
    "Helper",
    "Leg",
    "Loudness",
    "Recall",
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
    if judge.nevers_broken(belief):
        legs = from_danger(means, belief, goal, moving)
        return legs if isinstance(legs, Refusal) else Crossing(tuple(legs), dict(goal))
    if judge.nevers_broken(settled(belief, moving)):
        return end_refused(means, settled(belief, moving), goal)
    route = best_route(means, belief, moving)
    if isinstance(route, Refusal):
        return route
    return Crossing(tuple(drafted(means, belief, route)), dict(goal))
