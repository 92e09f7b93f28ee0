"""Orders of steps, cut into legs: an eager one, and the surely shortest one.

Strategy: the eager order takes in each leg whatever is safe. It is quick and nearly
always the shortest, but it may paint itself into a corner, so its word that there is
no order counts for nothing; only the exact searches may say that.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.corners import Passage, State
from bridge.core.loudness import Direction

Order = tuple[frozenset[int], ...]
"""For each leg the tracks that go on to their next stop."""

# Cuts go first, since they free the way for the rest and are never regretted.
_EAGER = (Direction.CUT, Direction.OPEN, Direction.MOVE)


@dataclass(frozen=True, slots=True)
class Stuck:
    """Where the eager order found nothing more that is safe, and what led there."""

    state: State
    order: Order


def eager(passage: Passage) -> Order | Stuck:
    """Take in each leg as many steps as are safe together, cuts before opens."""
    state = passage.start
    order: list[frozenset[int]] = []
    while state != passage.end:
        leg = _most(passage, state)
        if not leg:
            return Stuck(state, tuple(order))
        order.append(leg)
        state = passage.after(state, leg)
    return tuple(order)


def pending(passage: Passage, state: State) -> tuple[int, ...]:
    """The tracks not yet at their end, in the order in which a leg takes them."""
    waiting = [i for i, stop in enumerate(state) if stop < passage.end[i]]
    return tuple(
        sorted(
            waiting,
            key=lambda i: (_EAGER.index(passage.tracks[i].ways[state[i]]), i),
        )
    )


def _most(passage: Passage, state: State) -> frozenset[int]:
    waiting = pending(passage, state)
    everything = frozenset(waiting)
    if not passage.stopped_by(state, everything):
        return everything
    leg: frozenset[int] = frozenset()
    for index in waiting:
        if not passage.stopped_by(state, leg | {index}):
            leg |= {index}
    return leg
