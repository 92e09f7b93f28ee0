"""From an order of tracks to legs: steps, recalls where they are cheaper, reasons."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

from bridge.core.belief import Belief, Setting, settled
from bridge.core.bundles import fitting_recalls
from bridge.core.control import NOWHERE, Control, Reach
from bridge.core.corners import State
from bridge.core.detour import Route
from bridge.core.leg import Change, Leg, Step, Why
from bridge.core.loudness import Direction
from bridge.core.means import Means
from bridge.core.ramping import in_steps
from bridge.core.reasons import needed_before, reason_of
from bridge.core.recall import Recall
from bridge.core.wire import Value

MOST_RECALLS = 6
"""Recalls of which every set is tried in one leg; gear offers one or two that fit."""

_WHY = {
    Direction.CUT: Why.CUT,
    Direction.OPEN: Why.OPEN,
    Direction.MOVE: Why.MOVE,
}


def drafted(means: Means, belief: Belief, route: Route, after: str = "") -> list[Leg]:
    """The legs of a route that starts from this belief.

    after: what came before, in words: "every never-rule holds again".
    """
    passage, order = route.passage, route.ordered.order
    gently = not means.judge.nevers_broken(belief)  # danger must not last
    states = [passage.start]
    for moving in order:
        states.append(passage.after(states[-1], moving))
    drafts: list[tuple[Step, ...]] = []
    for state, moving in zip(states, order, strict=False):
        steps = tuple(
            _step(means, route, state, index, gently=gently) for index in sorted(moving)
        )
        drafts.append(_with_recalls(means, belief, route.course.moving, steps))
        belief = settled(belief, {c.control: c.value for s in steps for c in s.changes})
    legs = []
    for number, steps in enumerate(drafts):
        needed: list[Change] = []
        if number:
            state = states[number - 1]
            tracks = needed_before(passage, order, state, number)
            for track in tracks:
                needed += _step(means, route, state, track).changes
        reason = reason_of(means.controls, drafts, number, needed, after)
        instants = [bundle.recall for bundle in route.course.at_once]
        needs = any(step.recall in instants for step in steps)
        legs.append(Leg(steps, reason, needs_instant=needs))
    return legs


def change_of(
    controls: Mapping[str, Control], belief: Belief, name: str, value: Value
) -> Change:
    """The change of one control from what the belief says of it."""
    control, before = controls[name], belief[name]
    passes = frozenset({NOWHERE}) if control.gap else frozenset[Value]()
    if control.toggles:
        passes |= before | {value}
    return Change(name, value, before, passes, flips=control.toggles)


def steps_of(means: Means, belief: Belief, setting: Setting) -> tuple[Step, ...]:
    """One step for each control of the setting, by name."""
    return tuple(
        Step(
            (change_of(means.controls, belief, name, value),),
            _WHY[means.loudness.direction(name, belief[name], value)],
            by_hand=means.controls[name].reach is Reach.HAND,
        )
        for name, value in sorted(setting.items())
    )


def _step(
    means: Means, route: Route, state: State, index: int, *, gently: bool = False
) -> Step:
    track, stop = route.passage.tracks[index], state[index]
    here = dict(zip(track.controls, track.stops[stop], strict=True))
    changes = tuple(
        change_of(means.controls, here, name, value)
        for name, (value,) in zip(track.controls, track.stops[stop + 1], strict=True)
    )
    name = track.controls[0]
    bundle = route.course.bundle_of(name)
    why = _WHY[track.ways[stop]]
    if name in route.course.detour:
        undone = name not in route.course.moving
        why = Why.HELPER if stop == 0 else Why.UNDO if undone else why
    if gently and bundle is None:
        changes = tuple(in_steps(means.controls[c.control], c) for c in changes)
    return Step(
        changes,
        why,
        by_hand=means.controls[name].reach is Reach.HAND,
        recall=bundle.recall if bundle is not None else None,
    )


def _with_recalls(
    means: Means, belief: Belief, moving: Setting, steps: tuple[Step, ...]
) -> tuple[Step, ...]:
    """The same changes with the fewest messages, then the least time for them."""
    plain = {
        step.changes[0].control: step
        for step in steps
        if step.recall is None and step.why in _WHY.values()
    }
    recalls = [
        recall
        for recall in fitting_recalls(means, belief, moving)
        if _still_to_set(belief, recall) and _still_to_set(belief, recall) <= set(plain)
    ]
    best, least = steps, _cost(means, steps)
    for count in range(1, min(len(recalls), MOST_RECALLS) + 1):
        for some in combinations(recalls[:MOST_RECALLS], count):
            other = _recalled(belief, steps, plain, some)
            cost = _cost(means, other)
            if cost < least:
                best, least = other, cost
    return best


def _recalled(
    belief: Belief,
    steps: tuple[Step, ...],
    plain: Mapping[str, Step],
    recalls: Iterable[Recall],
) -> tuple[Step, ...]:
    left = dict(plain)
    taken: list[Step] = []
    for recall in recalls:
        theirs = [
            left.pop(n) for n in sorted(_still_to_set(belief, recall)) if n in left
        ]
        if theirs:
            taken.append(by_recall(recall, theirs))
    others = [s for s in steps if s not in plain.values() or s in left.values()]
    return (*taken, *others)


def by_recall(recall: Recall, steps: Sequence[Step]) -> Step:
    """The changes of these steps as one, made by a recall."""
    changes = tuple(change for step in steps for change in step.changes)
    kinds = {step.why for step in steps}
    why = kinds.pop() if len(kinds) == 1 else Why.MOVE
    return Step(changes, why, recall=recall)


def _still_to_set(belief: Belief, recall: Recall) -> set[str]:
    return {name for name, v in recall.values.items() if belief[name] != {v}}


def _cost(means: Means, steps: Iterable[Step]) -> tuple[int, float]:
    """How many messages, and how long wires are busy and recalls settle, in ms."""
    every = tuple(steps)
    messages = [m for step in every for m in step.messages(means.controls)]
    later = max((_later_ms(means, step) for step in every), default=0.0)
    return len(messages), sum(map(means.cost, messages)) + later


def _later_ms(means: Means, step: Step) -> float:
    """How much later than its controls a recall has settled."""
    if step.recall is None:
        return 0.0
    settling = (means.controls[c.control].settles_in_ms(c.value) for c in step.changes)
    return max(0.0, step.recall.settle_ms - max(settling, default=0.0))
