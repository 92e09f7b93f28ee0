"""Orders of steps, cut into legs: an eager one, and the surely shortest one.

Strategy: the eager order takes in each leg whatever is safe. It is quick and nearly
always the shortest, but it may paint itself into a corner, so its word that there is
no order counts for nothing; only the exact searches may say that.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bridge.core.corners import Passage, State
from bridge.core.lessons import School
from bridge.core.loudness import Direction
from bridge.core.precedence import GaveUp, Work

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


def cuts_then_opens(passage: Passage) -> Order | None:
    """At most two legs, where no keep-rule and no unordered control is at stake.

    All cuts, confirmed, then all opens is always safe then. None: it does not apply.
    """
    ways = [track.ways for track in passage.tracks]
    everything = frozenset(range(len(ways)))
    if passage.waits or any(len(w) > 1 or w[0] is Direction.MOVE for w in ways):
        return None
    if passage.keeps(passage.low(passage.start, everything)):
        return None
    if not passage.stopped_by(passage.start, everything):
        return (everything,) if everything else ()
    cuts = frozenset(i for i in everything if ways[i][0] is Direction.CUT)
    return (cuts, everything - cuts)


def exhaustive(passage: Passage, most: int) -> Order | None:
    """The fewest legs (at most so many), by trying every set of steps in each leg.

    The work grows with 3 to the number of steps.
    """
    orders: dict[State, Order] = {passage.start: ()}
    seen = {passage.start}
    for _ in range(most):
        for state, order in orders.items():
            rest = frozenset(pending(passage, state))
            ends = passage.after(state, rest) == passage.end
            if ends and not passage.stopped_by(state, rest):
                return (*order, rest)
        further: dict[State, Order] = {}
        for state, order in orders.items():
            for leg in _safe_legs(passage, state):
                reached = passage.after(state, leg)
                if reached not in seen:
                    seen.add(reached)
                    further[reached] = (*order, leg)
        orders = further
    return None


def _safe_legs(passage: Passage, state: State) -> Iterator[frozenset[int]]:
    """Every safe set of steps, each once, big ones early.

    What is safe stays safe with less in it, so a set that is not is not added to.
    """
    todo = [(frozenset[int](), pending(passage, state))]
    while todo:
        leg, rest = todo.pop()
        if leg:
            yield leg
        for at in range(len(rest) - 1, -1, -1):
            more = leg | {rest[at]}
            if not passage.stopped_by(state, more):
                todo.append((more, rest[at + 1 :]))


@dataclass(frozen=True, slots=True)
class Ordered:
    """A safe order. surely: there is none with fewer legs."""

    order: Order
    surely: bool = True


@dataclass(frozen=True, slots=True)
class Unordered:
    """There is no safe order.

    school: what was learned. proved: the lessons alone leave no order.
    """

    school: School
    proved: bool = True


@dataclass(frozen=True, slots=True)
class Undecided:
    """Neither an order was found nor shown to be impossible within the bound."""


MOST_TRIES = 5_000
"""Numberings tried for one passage, seconds of work; scenes need tens, random graphs of
sixteen steps hundreds, contrived rules any number."""

MOST_STEPS = 12
"""Steps up to which every set is tried if the tries run out: some seconds of work."""


def fewest_legs(
    passage: Passage, tries: int = MOST_TRIES
) -> Ordered | Unordered | Undecided:
    """The order with the fewest legs, or that there is none.

    The start breaks no never-rule, start and end no binding keep-rule, the end
    nothing.
    """
    quick = cuts_then_opens(passage)
    if quick is not None:
        return Ordered(quick)
    greedy = eager(passage)
    # One leg was tried first; so two are the fewest.
    if not isinstance(greedy, Stuck) and len(greedy) <= 2:
        return Ordered(greedy)
    most = passage.steps if isinstance(greedy, Stuck) else len(greedy)
    school = School(passage, Work(tries))
    try:
        return _surely(school, greedy)
    except GaveUp:
        if passage.steps <= MOST_STEPS:
            found = exhaustive(passage, most)
            return Unordered(school, proved=False) if found is None else Ordered(found)
        if isinstance(greedy, Stuck):
            return Undecided()
        return Ordered(greedy, surely=False)


def _surely(school: School, greedy: Order | Stuck) -> Ordered | Unordered:
    best = greedy
    if isinstance(best, Stuck):
        found = school.order(school.passage.steps)
        if found is None:
            return Unordered(school)
        best = found
    for legs in range(2, len(best)):
        fewer = school.order(legs)
        if fewer is not None:
            return Ordered(fewer)
    return Ordered(best)
