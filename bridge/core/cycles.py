"""The worst cycle of a component, named node by node.

A component howls by the sum of all that goes round in it; one cycle is what a person
can follow with a finger and cut. Gains are added as logarithms, so that a cycle of any
length neither overflows nor vanishes.
"""

import math
from collections import deque
from collections.abc import Mapping
from typing import Final

from bridge.core.elimination import Gains, Rows

_SAME: Final = 1e-12  # a longer walk must win by more than rounding


def worst_cycle_in(rows: Rows) -> tuple[int, ...]:
    """Return the worst simple cycle of a component, from its smallest node on.

    That is the cycle with the largest product of gains if none reaches unity, else
    the one with the largest geometric mean. Each cycle found raises the mean that the
    next one has to beat, so the search ends.
    """
    logs = {n: {t: math.log(g) for t, g in row.items()} for n, row in rows.items()}
    worst: list[int] = []
    mean = 0.0
    while cycle := _gaining_cycle(logs, mean):
        worst = cycle
        mean = sum(logs[s][t] for s, t in _edges(cycle)) / len(cycle)
    worst = worst or _strongest_cycle(logs)
    first = worst.index(min(worst))
    return tuple(worst[first:] + worst[:first])


def product(gains: Gains, cycle: tuple[int, ...]) -> float:
    """Return the product of the gains round a cycle."""
    return math.prod(gains[source][target] for source, target in _edges(cycle))


def _edges(cycle: list[int] | tuple[int, ...]) -> list[tuple[int, int]]:
    return list(zip(cycle, (*cycle[1:], cycle[0]), strict=True))


def _gaining_cycle(logs: Rows, mean: float) -> list[int]:
    """Return a cycle whose mean is above `mean` (Bellman-Ford), [] if there is none.

    Walks start anywhere at level 0. One that still rises after as many rounds as
    there are nodes has a gaining cycle behind it.
    """
    level = dict.fromkeys(logs, 0.0)
    via: dict[int, int] = {}
    risen: list[int] = []
    for _ in range(len(logs) + 1):
        risen = []
        for node, row in logs.items():
            for target, gain in row.items():
                reached = level[node] + gain - mean
                if reached > level[target] + _SAME:
                    level[target], via[target] = reached, node
                    risen.append(target)
        if not risen:
            return []
    node = risen[-1]
    for _ in logs:
        node = via[node]
    return _walk_back(via, via[node], node)


def _strongest_cycle(logs: Rows) -> list[int]:
    """Return the cycle with the largest product, given that none reaches unity."""
    worst: list[int] = []
    strongest = -math.inf
    done: set[int] = set()
    for start in logs:
        level, cycle = _strongest_through(logs, start, done)
        if level > strongest + _SAME:
            strongest, worst = level, cycle
        done.add(start)
    return worst


def _strongest_through(
    logs: Rows, start: int, done: set[int]
) -> tuple[float, list[int]]:
    """Return the strongest cycle through `start` that avoids `done`, its log first."""
    level = {start: 0.0}
    via: dict[int, int] = {}
    closing, last = -math.inf, start
    queue = deque([start])
    while queue:
        node = queue.popleft()
        for target, gain in logs[node].items():
            reached = level[node] + gain
            if target == start:
                if reached > closing:
                    closing, last = reached, node
            elif target not in done and reached > level.get(target, -math.inf) + _SAME:
                level[target], via[target] = reached, node
                queue.append(target)
    return closing, _walk_back(via, last, start)


def _walk_back(via: Mapping[int, int], last: int, start: int) -> list[int]:
    """Return the nodes from `start` to `last`, following `via` backwards."""
    nodes = [last]
    while nodes[-1] != start:
        nodes.append(via[nodes[-1]])
    return nodes[::-1]
