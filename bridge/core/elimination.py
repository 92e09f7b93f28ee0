"""A graph of amplitudes, and the elimination of its nodes.

One operation does all the algebra of loops: *eliminate* a node, that is close its own
loop, 1 / (1 - self gain), and make each path through it an edge. Nothing but
`1 - self gain` is ever subtracted, so small gains keep their digits. All these pivots
are positive if and only if the spectral radius is below 1: I - A is then a nonsingular
M-matrix (Berman & Plemmons, Nonnegative Matrices, ch. 6 thm 2.3, from memory).

This file holds the tools; the questions are asked in `bridge.core.loops`.
"""

import math
from collections.abc import Collection, Iterable, Mapping
from typing import Final, NamedTuple, TypeAlias

Gains: TypeAlias = Mapping[int, Mapping[int, float]]
"""Amplitudes by source, then target: finite and 0 or more; missing is 0."""

Rows: TypeAlias = dict[int, dict[int, float]]
"""The same with positive entries only, and a row for each source."""

_FINISHED: Final = 1 << 62  # above any number a node can have


def live(gains: Gains) -> Rows:
    """Return the edges that pass something.

    Raises ValueError naming the edge whose gain is no amplitude.
    """
    rows: Rows = {}
    for source, row in gains.items():
        kept = rows[source] = {}
        for target, gain in row.items():
            if 0.0 < gain < math.inf:
                kept[target] = gain
            elif gain != 0.0:
                edge = f"gain from {source} to {target}"
                msg = f"{edge} must be finite and 0 or more, got {gain}"
                raise ValueError(msg)
    return rows


def components(rows: Rows, roots: Iterable[int]) -> list[list[int]]:
    """Return the strong components reached from `roots`, each before what it feeds.

    The nodes of each are in order, so that what is reckoned in it is the same to the
    last digit whatever there is outside: a cut elsewhere must not seem to add harm.
    Tarjan's algorithm on a stack of its own, so that no chain is too long for it.
    """
    number: dict[int, int] = {}
    low: dict[int, int] = {}
    waiting: list[int] = []
    parts: list[list[int]] = []
    for root in roots:
        if root in number:
            continue
        number[root] = low[root] = len(number)
        waiting.append(root)
        calls = [(root, iter(rows.get(root, ())))]
        while calls:
            node, targets = calls[-1]
            for target in targets:
                if target not in number:
                    number[target] = low[target] = len(number)
                    waiting.append(target)
                    calls.append((target, iter(rows.get(target, ()))))
                    break
                if number[target] < low[node]:
                    low[node] = number[target]
            else:
                calls.pop()
                if calls and low[node] < low[calls[-1][0]]:
                    low[calls[-1][0]] = low[node]
                if low[node] == number[node]:
                    parts.append(_taken(waiting, node))
                    for member in parts[-1]:
                        number[member] = _FINISHED
    parts.reverse()
    return parts


def _taken(waiting: list[int], first: int) -> list[int]:
    """Take the nodes from `first` on off the end of the list."""
    part = [waiting.pop()]
    while part[-1] != first:
        part.append(waiting.pop())
    return sorted(part)


def feeds_itself(rows: Rows, part: list[int]) -> bool:
    """Tell whether anything goes round in a strong component."""
    return len(part) > 1 or part[0] in rows.get(part[0], ())


def inside(rows: Rows, part: list[int]) -> Rows:
    """Return the edges of a strong component that stay in it."""
    members = frozenset(part)
    return {n: {t: g for t, g in rows[n].items() if t in members} for n in part}


class Eliminated(NamedTuple):
    """What a node was when it was taken out; its own loop is in the pivot."""

    pivot: float
    row: dict[int, float]
    column: dict[int, float]


class Web:
    """A component while nodes are being eliminated from it.

    `out` has the rows; `into` the sources of each node, its own loop left out.
    """

    __slots__ = ("into", "out")

    def __init__(self, rows: Rows, limit: float = 1.0) -> None:
        """Copy `rows`, all gains divided by `limit`."""
        self.out = {n: {t: g / limit for t, g in r.items()} for n, r in rows.items()}
        self.into: dict[int, set[int]] = {node: set() for node in rows}
        for node, row in rows.items():
            for target in row:
                if target != node:
                    self.into[target].add(node)

    def eliminate(self, node: int) -> Eliminated:
        """Take a node out. A pivot that is not positive leaves nonsense behind."""
        row = self.out.pop(node)
        pivot = 1.0 - row.pop(node, 0.0)
        for target in row:
            self.into[target].discard(node)
        column: dict[int, float] = {}
        for source in self.into.pop(node):
            onward = self.out[source]
            column[source] = onward.pop(node)
            through = column[source] / pivot if pivot else math.inf
            for target, gain in row.items():
                if target not in onward and target != source:
                    self.into[target].add(source)
                onward[target] = onward.get(target, 0.0) + through * gain
        return Eliminated(pivot, row, column)

    def easiest(self, kept: Collection[int] = ()) -> int | None:
        """Return the node whose elimination makes the fewest edges; None at the end."""
        best, fewest = None, math.inf
        for node, row in self.out.items():
            edges = len(row) * len(self.into[node])
            if edges < fewest and node not in kept:
                best, fewest = node, edges
                if edges <= 1:
                    break
        return best

    def reduce_to(self, kept: Collection[int]) -> bool:
        """Eliminate all but `kept`; False if something goes round without them."""
        while (node := self.easiest(kept)) is not None:
            if not self.eliminate(node).pivot > 0.0:
                return False
        return True


def solve(web: Web, inflow: dict[int, float]) -> dict[int, float] | None:
    """Return the row v = inflow + v A, using up both; None unless A is below 1."""
    steps: list[tuple[int, Eliminated]] = []
    while (node := web.easiest()) is not None:
        taken = web.eliminate(node)
        if not taken.pivot > 0.0:
            return None
        passed = inflow.get(node, 0.0) / taken.pivot
        for target, gain in taken.row.items():
            inflow[target] = inflow.get(target, 0.0) + passed * gain
        steps.append((node, taken))
    solved: dict[int, float] = {}
    for node, (pivot, _, column) in reversed(steps):
        total = inflow.get(node, 0.0)
        for source, gain in column.items():
            total += solved[source] * gain
        solved[node] = total / pivot
    return solved
