"""Ways through the live edges of one corner: simple paths, and walks in time."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

FLOOR = 1e-5
"""Paths below -100 dB are not followed one by one; they stay in the remainder."""

WALK_FLOOR = 1e-6
"""Walks below -120 dB are not followed: late, they count 47 dB more at the most."""

MOST_MEETINGS = 1000
"""Moments at which sound passes a node, followed one by one for a pair: 2 ms of work.
Observatory: about 100. The rest is summed, not followed."""

TICKS = 1_000_000
"""In a millisecond: sounds are at one place at the same moment within a nanosecond."""

MOST_PATHS = 4096
"""Paths followed for one pair; a desk gives tens, the rest stays in the remainder."""


@dataclass(frozen=True, slots=True)
class Flow:
    """A live edge, seen from its source."""

    target: int
    gain: float
    delay_ms: float
    edge: int


@dataclass(frozen=True, slots=True)
class Arrival:
    """Sound of one source at one node: amplitude, delay and the edges it came by.

    lanes: how many lanes of the same jacks are summed in it (the edges are of one).
    """

    node: int
    gain: float
    delay_ms: float
    edges: tuple[int, ...]
    lanes: int = 1


Flows = Mapping[int, Sequence[Flow]]
"""Flows by source: all of a corner, or those that lead to one node."""


def follow(
    source: int,
    node: int,
    towards: Flows,
    paths: list[Arrival],
) -> None:
    """Depth-first over simple paths; iterative, since a patch may be long."""
    if source not in towards:
        return
    trail: list[int] = []
    on_trail = {source}
    stack = [(iter(towards[source]), source, 1.0, 0.0)]
    while stack:
        flows, here, gain, delay = stack[-1]
        for flow in flows:
            louder, target = gain * flow.gain, flow.target
            if louder < FLOOR or target in on_trail:
                continue
            later = delay + flow.delay_ms
            if target == node:
                paths.append(Arrival(node, louder, later, (*trail, flow.edge)))
                if len(paths) >= MOST_PATHS:
                    return
                continue
            trail.append(flow.edge)
            on_trail.add(target)
            stack.append((iter(towards[target]), target, louder, later))
            break
        else:
            stack.pop()
            on_trail.discard(here)
            if trail:
                trail.pop()


def walk(
    sources: Sequence[int], node: int, towards: Flows
) -> list[tuple[float, float]]:
    """All (gain, delay_ms) at a node, loops walked round too, the earliest first.

    Walks that meet at a node at the same moment go on as one.
    """
    onward = {
        here: [(f.target, f.gain, round(f.delay_ms * TICKS)) for f in flows]
        for here, flows in towards.items()
    }
    there = {(0, source): 1.0 for source in sources if source in onward}
    queue = list(there)
    found: list[tuple[float, float]] = []
    for _ in range(MOST_MEETINGS):
        if not queue:
            break
        moment = heapq.heappop(queue)
        gain, (delay, here) = there.pop(moment), moment
        if here == node:
            found.append((gain, delay / TICKS))
        for target, passed, late in onward[here]:
            louder = gain * passed
            if louder >= WALK_FLOOR:
                then = (delay + late, target)
                if then in there:
                    there[then] += louder
                else:
                    there[then] = louder
                    heapq.heappush(queue, then)
    return found
