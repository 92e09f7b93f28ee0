"""Loops: does what goes round a graph die away, and by what margin.

Strategy. Whatever the phases and delays, nothing sounds louder than the sum over all
walks of the products of their gains, the matrix (I - A)^-1, and that sum is finite if
and only if the spectral radius of A is below 1 (Horn & Johnson, Matrix Analysis, 2nd
ed., 5.6.12 and 8.1.18, numbers from memory). Loops live inside strong components;
between components there is only forward flow.

Loop gain is not spectral radius. Two nodes that feed each other with 0.5 and 0.8 have
the loop gain 0.4 (-8.0 dB, what a hand on a fader meets) and the radius sqrt(0.4).
Margins here are of the loop gain: see `loop_gain`.
"""

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Final

from bridge.core.cycles import product, worst_cycle_in
from bridge.core.elimination import (
    Gains,
    Rows,
    Web,
    components,
    live,
    solve,
)
from bridge.core.spread import Spread
from bridge.core.units import decibels

RADIUS_GAP: Final = 1e-9
"""The bounds of a spectral radius are at most this far apart, relative to it."""

_ROUNDS: Final = 100  # need: about 10, convergence is quadratic; else bounds stay wide
_ABOVE: Final = 1.0 + RADIUS_GAP / 8.0
_SMALLEST: Final = 1e-290  # keeps a positive vector positive when its tail vanishes
_ROUNDING: Final = 2.0**-51


@dataclass(frozen=True, slots=True)
class Radius:
    """A spectral radius, known to lie in low..high."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Loop:
    """One strong component that feeds itself.

    `members` are its nodes; `gain` is its loop gain (see `loop_gain`), `radius` its
    spectral radius. `path` is its worst cycle (see `worst_cycle`) and `path_gain` the
    product of the gains along it. Where cycles share nodes they add up, and `gain` is
    more than `path_gain`.
    """

    members: tuple[int, ...]
    gain: float
    radius: Radius
    path: tuple[int, ...]
    path_gain: float

    @property
    def margin_db(self) -> float:
        """How far the loop gain is below unity; negative once it howls."""
        return -decibels(self.gain)


# Does it howl


def strong_components(gains: Gains) -> list[list[int]]:
    """Return the strong components, each before those that it feeds."""
    rows = live(gains)
    return components(rows, rows)


def stable_below(gains: Gains, limit: float = 1.0) -> bool:
    """Tell whether the spectral radius is below `limit`, to within rounding.

    Raises ValueError unless `limit` is above 0.
    """
    if not limit > 0.0:
        msg = f"limit must be above 0, got {limit}"
        raise ValueError(msg)
    return all(Web(rows, limit).reduce_to(()) for rows in _looping(gains))


def spectral_radius(gains: Gains) -> Radius:
    """Return rigorous bounds of the spectral radius, `RADIUS_GAP` apart or less."""
    radii = [_radius(rows) for rows in _looping(gains)]
    return Radius(
        max((radius.low for radius in radii), default=0.0),
        max((radius.high for radius in radii), default=0.0),
    )


# By what margin


def loop_gain(gains: Gains) -> float:
    """Return the loop gain of the worst component; 0.0 where nothing goes round.

    1 / loop gain is the smallest factor by which a hand may raise what passes one
    node (the most sensitive is taken) and just start a howl. Of a component that
    howls already it is the mildest factor at one node that just stops it, and the
    gain is infinite if no single node can.

    So it is the product of the gains for a single cycle, and more where cycles share
    nodes. It is below 1 if and only if the spectral radius is, does not fall when a
    gain rises, and does not change when a node is put in the middle of an edge. If
    one hand moves several nodes (both lanes of a stereo bus, all microphones), that
    hand has less room: ask `loop_gain_at` too.
    """
    return max(map(_loop_gain, _looping(gains)), default=0.0)


def loop_gain_at(gains: Gains, nodes: Collection[int]) -> float:
    """Return the loop gain that a hand meets which moves all `nodes` together.

    1 / this is the factor on what passes each of `nodes` that makes their components
    just howl. It is infinite if something in those components goes round at unity
    without passing any of `nodes`, and 0.0 if nothing goes round through them. For
    all nodes of a component together it is the spectral radius.
    """
    return _gain_together(_looping(gains), nodes)


def worst_loop_gain(spread: Spread, groups: Iterable[Collection[int]]) -> float:
    """Return the largest of `loop_gain` and of `loop_gain_at` each group of nodes."""
    parts = spread.looping()
    worst = max(map(_loop_gain, parts), default=0.0)
    for nodes in groups if parts else ():
        worst = max(worst, _gain_together(parts, nodes))
    return worst


def loops(gains: Gains) -> tuple[Loop, ...]:
    """Return every component that feeds itself, the largest loop gain first."""
    found = map(_loop, _looping(gains))
    return tuple(sorted(found, key=lambda loop: (-loop.gain, loop.members)))


def worst_cycle(gains: Gains) -> tuple[int, ...]:
    """Return the worst simple cycle, from its smallest node on; () if there is none.

    That is the cycle with the largest product of gains, if no cycle reaches unity: it
    is what a person can follow and act on, and it is found exactly. Otherwise it is
    the cycle with the largest geometric mean of gains: proof enough of a howl, while
    the largest product is then as hard to find as the longest path.
    """

    def harm(cycle: tuple[int, ...]) -> float:
        gain = product(gains, cycle)
        return gain if gain < 1.0 else math.pow(gain, 1.0 / len(cycle))

    return max(map(worst_cycle_in, _looping(gains)), key=harm, default=())


# How loud


def gains_from(gains: Gains, source: int) -> dict[int, float]:
    """Return the sum over all walks from `source` to each node that it reaches.

    The walk of no edges counts, so the source itself has 1.0 or more. A node in or
    behind a component that howls has `math.inf`.
    """
    return Spread(live(gains)).from_nodes((source,))


def total_gain(gains: Gains, source: int, target: int) -> float:
    """Return the sum over all walks from `source` to `target`: (I - A)^-1[s, t].

    It is `math.inf` if a component that howls lies on the way, and 0.0 if there is no
    way.
    """
    return gains_from(gains, source).get(target, 0.0)


# Private functions


def _looping(gains: Gains) -> list[Rows]:
    """Return the inside of each strong component that feeds itself."""
    return Spread(live(gains)).looping()


def _radius(rows: Rows) -> Radius:
    """Noda's iteration: v (high I - A)^-1 tends to the Perron vector quadratically.

    For any positive v, min (v A / v) <= radius <= max (v A / v) (Collatz, Wielandt),
    so each round gives rigorous bounds, whether or not the component is periodic. We
    solve a hair above `high`, lest it be the radius to the last digit.
    """
    low, high = 0.0, math.inf
    vector = dict.fromkeys(rows, 1.0)
    for _ in range(_ROUNDS):
        flow = dict.fromkeys(rows, 0.0)
        for node, row in rows.items():
            for target, gain in row.items():
                flow[target] += vector[node] * gain
        ratios = [flow[node] / vector[node] for node in rows]
        low, high = max(low, min(ratios)), min(high, max(ratios))
        if high - low <= RADIUS_GAP * low / 2.0:
            break
        solved = solve(Web(rows, high * _ABOVE), vector)
        if solved is None:
            break
        largest = max(solved.values())
        vector = {node: max(solved[node] / largest, _SMALLEST) for node in rows}
    error = (len(rows) + 2) * _ROUNDING
    return Radius(low * (1.0 - error), high * (1.0 + error))


def _loop_gain(rows: Rows) -> float:
    """Return the loop gain of one component.

    What passes a node with one way in, or one way out, passes its neighbour too: the
    neighbour is at least as sensitive, so only the other nodes need be tried.
    """
    web = Web(rows)
    nodes = list(rows)
    while nodes and len(web.out) > 1:
        node = nodes.pop()
        if node not in web.out or node in web.out[node]:
            continue
        if len(web.into[node]) == 1 or len(web.out[node]) == 1:
            _, row, column = web.eliminate(node)
            nodes += [*row, *column]
    returns = [_gain_at(Web(web.out), {node}) for node in web.out]
    worst = max(returns)
    return worst if worst < 1.0 else min(returns)


def _gain_together(parts: list[Rows], nodes: Collection[int]) -> float:
    asked = frozenset(nodes)
    gains = (
        _gain_at(Web(rows), asked & rows.keys())
        for rows in parts
        if not asked.isdisjoint(rows)
    )
    return max(gains, default=0.0)


def _gain_at(web: Web, nodes: Collection[int]) -> float:
    """Return the radius of what comes back to `nodes`, counted from visit to visit."""
    if not web.reduce_to(nodes):
        return math.inf
    return _radius(web.out).high if len(nodes) > 1 else _own_loop(web.out, *nodes)


def _own_loop(rows: Rows, node: int) -> float:
    return rows[node].get(node, 0.0)


def _loop(rows: Rows) -> Loop:
    path = worst_cycle_in(rows)
    return Loop(
        members=tuple(sorted(rows)),
        gain=_loop_gain(rows),
        radius=_radius(rows),
        path=path,
        path_gain=product(rows, path),
    )
