"""A judge over a tiny gain graph: sums of gains for never, best single path for keep.

It speaks of nothing but gains, so that the planner is tested apart from the hearing
model. `GainJudge` looks at corners, as any judge does; `Truth` follows every path in
one definite setting and knows nothing of beliefs. Node numbers rise along every edge,
so there are no loops; a howl is written as the path once round.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product

from bridge.core.belief import Belief
from bridge.core.control import Control, Kind
from bridge.core.graph import Edge, Gate, Graph
from bridge.core.wire import Value

CLOSE = 1.0 + 1e-9


@dataclass(frozen=True, slots=True)
class Limit:
    """Never: the sum of all paths from source to target is at most this amplitude."""

    name: str
    source: int
    target: int
    most: float


@dataclass(frozen=True, slots=True)
class Floor:
    """Keep: the best single path from source to target has at least this amplitude."""

    name: str
    source: int
    target: int
    least: float


@dataclass(frozen=True, slots=True)
class Bench:
    """A graph, its controls and its rules."""

    controls: Mapping[str, Control]
    graph: Graph
    limits: tuple[Limit, ...] = ()
    floors: tuple[Floor, ...] = ()


Flow = tuple[int, int, float]
"""Source, target and gain of an edge that lets something through."""


class GainJudge:
    """Answers for corners; a selector is in one position at a time.

    One that overlaps may be in several, which only never-rules mind.
    """

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.asked = 0
        self._edges = sorted(bench.graph.edges, key=lambda edge: edge.source)
        self._factors: dict[tuple[Gate, frozenset[Value], bool], float] = {}

    def nevers_broken(self, belief: Belief) -> Mapping[str, float]:
        self.asked += 1
        found: dict[str, float] = {}
        if not self.bench.limits:
            return found
        for narrower in self._positions(belief, overlaps=True):
            flows = self._flows(narrower, loudest=True)
            for rule in self.bench.limits:
                total = _total(flows, rule.source, rule.target)
                if total > rule.most * CLOSE:
                    found[rule.name] = max(total, found.get(rule.name, 0.0))
        return found

    def keeps_broken(self, belief: Belief) -> Mapping[str, float]:
        self.asked += 1
        found: dict[str, float] = {}
        if not self.bench.floors:
            return found
        for narrower in self._positions(belief, overlaps=False):
            flows = self._flows(narrower, loudest=False)
            for rule in self.bench.floors:
                best = _best(flows, rule.source, rule.target)
                if best * CLOSE < rule.least:
                    found[rule.name] = max(rule.least - best, found.get(rule.name, 0))
        return found

    def _positions(self, belief: Belief, *, overlaps: bool) -> Iterator[Belief]:
        unsure = [
            name
            for name, control in self.bench.controls.items()
            if control.kind is Kind.SELECTOR
            and not (overlaps and control.overlap)
            and len(belief[name]) > 1
        ]
        for chosen in product(*(sorted(belief[name], key=str) for name in unsure)):
            single = {n: frozenset({v}) for n, v in zip(unsure, chosen, strict=True)}
            yield {**belief, **single}

    def _flows(self, belief: Belief, *, loudest: bool) -> list[Flow]:
        flows = []
        for edge in self._edges:
            gain = _product(
                edge, lambda gate: self._factor(gate, belief[gate.control], loudest)
            )
            if gain > 0.0:
                flows.append((edge.source, edge.target, gain))
        return flows

    def _factor(self, gate: Gate, values: frozenset[Value], loudest: bool) -> float:
        key = (gate, values, loudest)
        if key not in self._factors:
            pick = max if loudest else min
            self._factors[key] = pick(factor(gate, value) for value in values)
        return self._factors[key]


class Truth:
    """What is so in one definite setting; a control that overlaps may show two values.

    `setting` gives each control a tuple of the values that are in force together.
    """

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    def nevers_broken(
        self, setting: Mapping[str, tuple[Value, ...]]
    ) -> dict[str, float]:
        sums = {
            rule.name: (sum(self._paths(setting, rule.source, rule.target)), rule.most)
            for rule in self.bench.limits
        }
        return {name: got for name, (got, most) in sums.items() if got > most * CLOSE}

    def keeps_broken(self, setting: Mapping[str, tuple[Value, ...]]) -> list[str]:
        return [
            rule.name
            for rule in self.bench.floors
            if max(self._paths(setting, rule.source, rule.target), default=0.0) * CLOSE
            < rule.least
        ]

    def _paths(
        self, setting: Mapping[str, tuple[Value, ...]], source: int, target: int
    ) -> Iterator[float]:
        if source == target:
            yield 1.0
            return
        for edge in self.bench.graph.edges:
            if edge.source != source:
                continue
            gain = _product(
                edge, lambda gate: max(factor(gate, v) for v in setting[gate.control])
            )
            if gain > 0.0:
                for rest in self._paths(setting, edge.target, target):
                    yield gain * rest


def factor(gate: Gate, value: Value) -> float:
    """The amplitude that a gate lets through."""
    if gate.table is None:
        return 0.0 if isinstance(value, str) else math.pow(10.0, float(value) / 20.0)
    return dict(gate.table).get(value, 0.0)


def _product(edge: Edge, amount: Callable[[Gate], float]) -> float:
    gain = math.pow(10.0, edge.gain_db / 20.0)
    for gate in edge.gates:
        gain *= amount(gate)
    return gain


def _total(flows: list[Flow], start: int, end: int) -> float:
    """The sum over all paths; node numbers rise along every edge."""
    sums = {start: 1.0}
    for source, target, gain in flows:
        if source in sums:
            sums[target] = sums.get(target, 0.0) + gain * sums[source]
    return sums.get(end, 0.0)


def _best(flows: list[Flow], start: int, end: int) -> float:
    """The product along the best path; node numbers rise along every edge."""
    best = {start: 1.0}
    for source, target, gain in flows:
        if source in best:
            best[target] = max(best.get(target, 0.0), gain * best[source])
    return best.get(end, 0.0)
