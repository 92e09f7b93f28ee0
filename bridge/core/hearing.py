"""Who hears what: the studio's graph with its gates set, and what arrives where.

Strategy: a belief has two corners, everything uncertain at its loudest and at its
quietest. At a corner each edge has one amplitude >= 0, so gains add up and never
cancel: sums of magnitudes bound the real sound for any phase (references: Horn &
Johnson, Matrix Analysis, 8.1.18, from memory). Everything else here walks the live
edges of one corner.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from bridge.core.belief import Belief
from bridge.core.elimination import Rows
from bridge.core.graph import Gate, Graph
from bridge.core.spread import Spread
from bridge.core.units import amplitude
from bridge.core.walks import Arrival, Flow, Flows, follow, walk
from bridge.core.wire import Value

MOST_FACTORS = 65_536
"""Remembered gate factors; levels moved by hand are endless, so start anew then."""


class Bound(Enum):
    """Which corner of a belief."""

    LOUDEST = "loudest"
    QUIETEST = "quietest"


@dataclass(frozen=True, slots=True)
class Arrivals:
    """Everything of one source at one node.

    paths: the simple paths, strongest first. total: the coherent limit over all
    walks, loops included (infinite where a loop on the way does not die out).
    remainder: the part of the total that the paths do not account for.
    """

    node: int
    paths: tuple[Arrival, ...]
    total: float

    @property
    def remainder(self) -> float:
        """Amplitude of what comes round a loop or lies below the floor."""
        if math.isinf(self.total):
            return math.inf
        rest = self.total - sum(path.gain for path in self.paths)
        return rest if rest > 1e-9 * self.total else 0.0


class Corner:
    """The live edges at one corner of a belief."""

    __slots__ = (
        "_doubled",
        "_gains",
        "_into",
        "_leading",
        "_several",
        "_spread",
        "_totals",
        "out",
    )

    def __init__(self, out: Flows) -> None:
        self.out = out
        self._into: dict[int, list[int]] = {}
        self._gains: Rows = {}
        self._several: set[int] | None = None
        self._spread: Spread | None = None
        self._totals: dict[tuple[int, ...], Mapping[int, float]] = {}
        self._doubled: dict[tuple[int, ...], frozenset[int]] = {}
        self._leading: dict[int, Flows] = {}

    @property
    def gains(self) -> Rows:
        """Amplitudes by source, then target; edges side by side add up."""
        if not self._gains:
            for source, flows in self.out.items():
                row = self._gains[source] = {}
                for flow in flows:
                    row[flow.target] = row.get(flow.target, 0.0) + flow.gain
        return self._gains

    @property
    def spread(self) -> Spread:
        """The same, with its loops found."""
        if self._spread is None:
            self._spread = Spread(self.gains)
        return self._spread

    @property
    def _sources(self) -> Mapping[int, Sequence[int]]:
        """Where sound comes from at each node, once for each edge."""
        if not self._into:
            for source, flows in self.out.items():
                for flow in flows:
                    self._into.setdefault(flow.target, []).append(source)
        return self._into

    @property
    def _merging(self) -> set[int]:
        """The nodes at which several edges end."""
        if self._several is None:
            into = self._sources
            self._several = {node for node, here in into.items() if len(here) > 1}
        return self._several

    def totals(self, sources: tuple[int, ...]) -> Mapping[int, float]:
        """Coherent limit of a source at every node that it reaches, all walks."""
        found = self._totals.get(sources)
        if found is None:
            found = self._totals[sources] = self.spread.from_nodes(sources)
        return found

    def doubled(self, sources: tuple[int, ...]) -> frozenset[int]:
        """The nodes that sound of a source reaches by more than one way."""
        found = self._doubled.get(sources)
        if found is None:
            reached, into = self.reached_from(sources), self._sources
            meets = {
                node
                for node in reached & (self._merging | set(sources))
                if sum(before in reached for before in into.get(node, ()))
                + (node in sources)
                > 1
            }
            found = self._doubled[sources] = frozenset(self.reached_from(meets))
        return found

    def reached_from(self, nodes: Iterable[int]) -> set[int]:
        """The nodes that sound from these nodes can reach, themselves included."""
        seen = set(nodes)
        todo = list(seen)
        while todo:
            for flow in self.out.get(todo.pop(), ()):
                if flow.target not in seen:
                    seen.add(flow.target)
                    todo.append(flow.target)
        return seen

    def leading_to(self, nodes: Iterable[int]) -> set[int]:
        """The nodes from which sound can reach these nodes, themselves included."""
        into = self._sources
        seen = set(nodes)
        todo = list(seen)
        while todo:
            for source in into.get(todo.pop(), ()):
                if source not in seen:
                    seen.add(source)
                    todo.append(source)
        return seen

    def _towards(self, node: int) -> Flows:
        """The flows that lead to this node, by source; remembered."""
        found = self._leading.get(node)
        if found is None:
            useful = self.leading_to((node,))
            found = self._leading[node] = {
                source: [f for f in self.out.get(source, ()) if f.target in useful]
                for source in useful
            }
        return found

    def arrivals(self, sources: tuple[int, ...], node: int) -> Arrivals:
        """What arrives of a source at a node, path by path, strongest first."""
        total = self.totals(sources).get(node, 0.0)
        if total == 0.0:
            return Arrivals(node, (), 0.0)
        towards = self._towards(node)
        paths: list[Arrival] = []
        for source in sources:
            follow(source, node, towards, paths)
        paths.sort(key=lambda path: (-path.gain, path.delay_ms, path.edges))
        return Arrivals(node, tuple(paths), total)

    def walks(
        self, sources: tuple[int, ...], node: int
    ) -> tuple[tuple[tuple[float, float], ...], float]:
        """All (gain, delay_ms) at a node, loops walked round too, and what is left.

        The earliest come first. Walks that meet at a node at the same moment go on as
        one. What is left is a sum of amplitudes: walks below the floor, and all that
        come after MOST_MEETINGS; infinite where a loop does not die out.
        """
        total = self.totals(sources).get(node, 0.0)
        if total == 0.0 or math.isinf(total):
            return (), total
        found = walk(sources, node, self._towards(node))
        rest = total - sum(gain for gain, _ in found)
        return tuple(found), rest if rest > 1e-9 * total else 0.0


class Hearing:
    """The studio's graph, compiled once, asked many times."""

    def __init__(self, graph: Graph) -> None:
        self.graph = graph
        self._gates: list[Gate] = []
        numbers: dict[Gate, int] = {}
        for edge in graph.edges:
            for gate in edge.gates:
                if numbers.setdefault(gate, len(self._gates)) == len(self._gates):
                    self._gates.append(gate)
        self._edges = tuple(
            (
                edge.source,
                Flow(edge.target, amplitude(edge.gain_db), edge.delay_ms, index),
                tuple((numbers[gate], gate.control) for gate in edge.gates),
            )
            for index, edge in enumerate(graph.edges)
        )
        self._factors = {bound: self._none_known() for bound in Bound}
        self._known = 0

    def corner(self, belief: Belief, bound: Bound) -> Corner:
        """The graph at one corner of a belief."""
        out: dict[int, list[Flow]] = {}
        if self._known >= MOST_FACTORS:
            self._factors = {each: self._none_known() for each in Bound}
            self._known = 0
        factors = self._factors[bound]
        for source, flow, gates in self._edges:
            gain = flow.gain
            for number, control in gates:
                values = belief[control]
                scale = factors[number].get(values)
                if scale is None:
                    scale = factors[number][values] = self._factor(
                        number, values, bound
                    )
                    self._known += 1
                gain *= scale
                if gain == 0.0:
                    break
            if gain > 0.0:
                live = flow if gain == flow.gain else replace(flow, gain=gain)
                out.setdefault(source, []).append(live)
        return Corner(out)

    def _none_known(self) -> list[dict[frozenset[Value], float]]:
        """For each gate, its factor at each set of values of its control."""
        return [{} for _ in self._gates]

    def _factor(self, number: int, values: frozenset[Value], bound: Bound) -> float:
        pick = max if bound is Bound.LOUDEST else min
        return pick(factor(self._gates[number], value) for value in values)


def lanes_together(graph: Graph, paths: Sequence[Arrival]) -> tuple[Arrival, ...]:
    """Paths through the same jacks, equally late, as one: their lanes are in step."""
    merged: dict[tuple[object, ...], Arrival] = {}
    for path in paths:
        jacks = tuple(graph.nodes[graph.edges[e].source].jack for e in path.edges)
        key = (*jacks, round(path.delay_ms, 6))
        known = merged.get(key)
        if known is None:
            merged[key] = path
        else:
            gain, lanes = known.gain + path.gain, known.lanes + path.lanes
            merged[key] = replace(known, gain=gain, lanes=lanes)
    return tuple(sorted(merged.values(), key=lambda p: (-p.gain, p.delay_ms, p.edges)))


def factor(gate: Gate, value: Value) -> float:
    """How much of the sound a gate lets through at this value (amplitude)."""
    if gate.table is None:
        return amplitude(value) if isinstance(value, float) else 0.0
    return next((gain for at, gain in gate.table if at == value), 0.0)
