"""How far sound spreads: sums over all walks, from any nodes of one graph.

The strong components are found once, in the order of flow; each question then visits
only what its sources reach. Inside a component that feeds itself the sum is solved
(see `bridge.core.elimination`), elsewhere it is passed on.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from heapq import heapify, heappop, heappush

from bridge.core.elimination import Rows, Web, components, feeds_itself, inside, solve

_NOTHING: Mapping[int, float] = {}


class Spread:
    """One graph, to be asked many times.

    rows: positive, finite gains (see `elimination.live`); not looked at again.
    """

    __slots__ = ("_loops", "_parts", "_place", "_rows")

    def __init__(self, rows: Rows) -> None:
        self._rows = rows
        self._parts = components(rows, rows)
        self._place = {n: k for k, part in enumerate(self._parts) for n in part}
        self._loops = frozenset(
            k for k, part in enumerate(self._parts) if feeds_itself(rows, part)
        )

    def looping(self) -> list[Rows]:
        """Return the inside of each strong component that feeds itself."""
        return [inside(self._rows, self._parts[k]) for k in sorted(self._loops)]

    def from_nodes(self, sources: Collection[int]) -> dict[int, float]:
        """Return what arrives at each node that is reached, if each source sends 1.0.

        The walk of no edges counts. A node in or behind a component that howls has
        `math.inf`.
        """
        rows, place = self._rows, self._place
        arrived = dict.fromkeys(sources, 1.0)
        several: dict[int, list[float]] = {}  # where sound comes by more than one way
        todo = list({place[node] for node in arrived if node in place})
        heapify(todo)
        seen = set(todo)
        while todo:
            number = heappop(todo)
            part = self._parts[number]
            for node in several.keys() & part if several else ():
                # In order: the same to the last digit, whatever came first.
                arrived[node] = sum(sorted(several.pop(node)))
            if number in self._loops:
                arrived.update(_settled(rows, part, arrived))
            for node in part:
                level = arrived[node]
                for target, gain in rows.get(node, _NOTHING).items():
                    there = place[target]
                    if there == number:
                        continue
                    if target in arrived:
                        terms = several.setdefault(target, [arrived[target]])
                        terms.append(level * gain)
                    else:
                        arrived[target] = level * gain
                    if there not in seen:
                        seen.add(there)
                        heappush(todo, there)
        return arrived


def _settled(
    rows: Rows, part: list[int], arrived: Mapping[int, float]
) -> dict[int, float]:
    """Return what builds up in a component from what arrives at it."""
    inflow = {node: arrived[node] for node in part if node in arrived}
    if math.inf in inflow.values():
        return dict.fromkeys(part, math.inf)
    solved = solve(Web(inside(rows, part)), inflow)
    return dict.fromkeys(part, math.inf) if solved is None else solved
