"""The door of the planner: from a belief and a goal to a crossing, or a refusal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.core.belief import Belief, Setting, settled
from bridge.core.corners import Passage
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
from bridge.core.loudness import Direction, Loudness, loudness_of
from bridge.core.ordering import Order, Ordered, fewest_legs
from bridge.core.studio import NOWHERE, Control, Reach
from bridge.core.track import track_of

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
    helpers: Sequence[Helper] = (),  # noqa: ARG001
    *,
    loudness: Loudness,
) -> Crossing | Refusal:
    """Find the crossing from the belief to the goal.

    goal: the controls to be set; what it does not name stays as it is.
    helpers: values that controls may be given for a moment when nothing else helps.
    loudness: `loudness_of(studio.graph)`; it tells a cut from an open.

    A leg is safe for every subset, order, loss and delay of its steps: it passes
    `guard.refused_because(judge, belief, leg.in_flight)`, and a keep-rule that holds
    at both ends holds all the way. Only what differs from the belief is set. Hand
    steps stand in their legs like any other: the leg is over when the person has
    said, or the gear has shown, that they are done.
    """
    moving = {name: v for name, v in goal.items() if belief[name] != {v}}
    fixed = sorted(n for n in moving if controls[n].reach is Reach.FIXED)
    if fixed:
        labels = ", ".join(controls[name].label for name in fixed)
        return Refusal(f"{labels} is fixed and cannot be set", must_be_known=())
    broken = judge.nevers_broken(settled(belief, moving))
    if broken:
        rules = tuple(sorted(broken))
        return Refusal(f"the scene itself breaks {', '.join(rules)}", rules)
    ignored = frozenset(judge.keeps_broken(belief)) | frozenset(
        judge.keeps_broken(settled(belief, moving))
    )
    tracks = [
        track_of(controls, loudness, (name,), ((belief[name],), (frozenset({v}),)))
        for name, v in sorted(moving.items())
    ]
    passage = Passage(judge, belief, tracks, ignored)
    found = fewest_legs(passage)
    if not isinstance(found, Ordered):
        return Refusal("no safe order of these changes was found", searched_all=False)
    return Crossing(_legs(passage, controls, found.order), dict(goal))


def _legs(
    passage: Passage, controls: Mapping[str, Control], order: Order
) -> tuple[Leg, ...]:
    legs = []
    state = passage.start
    for moving in order:
        steps = []
        for index in sorted(moving):
            track = passage.tracks[index]
            (name,) = track.controls
            ((value,),) = track.stops[state[index] + 1]
            passes = frozenset({NOWHERE}) if track.gap[0] else frozenset()
            steps.append(
                Step(
                    (Change(name, value, track.stops[state[index]][0], passes),),
                    _WHY[track.ways[state[index]]],
                    by_hand=controls[name].reach is Reach.HAND,
                )
            )
        legs.append(Leg(tuple(steps), "no order of these can break a rule"))
        state = passage.after(state, moving)
    return tuple(legs)


_WHY = {
    Direction.CUT: Why.CUT,
    Direction.OPEN: Why.OPEN,
    Direction.MOVE: Why.MOVE,
}
