"""Random small studios with a change wanted, from a seed.

The limits and floors are set by what the two ends of the change need, mostly without
any slack, so that many changes need several legs and some have no safe order.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace

from bridge.core.belief import known
from bridge.core.control import Control, Kind
from bridge.core.graph import Edge, Gate, Graph
from bridge.core.wire import Value
from tests.core.sketch import Sketch, selector, switch
from tests.fakes.gain_judge import Bench, Floor, GainJudge, Limit

MUTES = ((False, 1.0), (True, 0.0))
DIMS = ((False, 1.0), (True, 0.25))
SWITCHES = ((False, 0.0), (True, 1.0))


@dataclass(frozen=True)
class Change:
    """A bench, where it stands, and what is wanted of it."""

    bench: Bench
    start: Mapping[str, Value]
    goal: Mapping[str, Value]


def random_change(seed: int, differing: int, *, selectors: float = 0.2) -> Change:
    """A change of exactly so many controls; one more control stays as it is."""
    rng = random.Random(seed)
    controls = [
        _control(rng, f"c{i}", selectors) for i in range(differing + rng.randint(0, 1))
    ]
    graph = _graph(rng, controls)
    start = {c.name: rng.choice(c.values) for c in controls}
    goal = {
        c.name: rng.choice([v for v in c.values if v != start[c.name]])
        for c in controls[:differing]
    }
    names = {c.name: c for c in controls}
    return Change(_with_rules(rng, names, graph, start, {**start, **goal}), start, goal)


def _control(rng: random.Random, name: str, selectors: float) -> Control:
    draw = rng.random()
    if draw < selectors:
        kind = rng.choice(["plain", "gap", "overlap"])
        positions = ("a", "b", "c")[: rng.randint(2, 3)]
        gap, overlap = kind == "gap", kind == "overlap"
        return selector(name, *positions, gap=gap, overlap=overlap)
    if draw < selectors + 0.15:
        return Control(name, name, "desk", Kind.LEVEL, (-20.0, -6.0, 0.0))
    return switch(name)


def _gate(rng: random.Random, control: Control) -> Gate:
    if control.kind is Kind.LEVEL:
        return Gate(control.name, None)
    if control.kind is Kind.SELECTOR:
        some = rng.sample(control.values, rng.randint(1, len(control.values) - 1))
        return Gate(control.name, tuple((v, 1.0) for v in some))
    # Always the same table for one switch, so that it stays a cut or an open.
    return Gate(control.name, _table(control.name))


def _table(name: str) -> tuple[tuple[bool, float], ...]:
    return (SWITCHES, SWITCHES, MUTES, DIMS)[sum(name.encode()) % 4]


def _graph(rng: random.Random, controls: list[Control]) -> Graph:
    """Two sources, some buses, two listeners; node numbers rise along every edge."""
    sketch = Sketch()
    nodes = [f"n{i}" for i in range(rng.randint(5, 7))]
    for node in nodes:
        sketch.node(node)
    waiting = list(controls)
    for _ in range(len(controls) + rng.randint(2, 6)):
        a, b = sorted(rng.sample(range(len(nodes)), 2))
        gates = [_gate(rng, waiting.pop())] if waiting else []
        if rng.random() < 0.4:
            gates.append(_gate(rng, rng.choice(controls)))
        sketch.edge(nodes[a], nodes[b], rng.choice([0.0, -3.0, -6.0]), 0.0, *gates)
    return sketch.studio().graph


def _with_rules(
    rng: random.Random,
    controls: Mapping[str, Control],
    graph: Graph,
    start: Mapping[str, Value],
    end: Mapping[str, Value],
) -> Bench:
    pairs = [
        (a, b)
        for a in range(len(graph.nodes))
        for b in range(a + 1, len(graph.nodes))
        if {a} & {e.source for e in graph.edges}
        and {b} & {e.target for e in graph.edges}
    ]
    some = rng.sample(pairs, min(len(pairs), rng.randint(2, 6)))
    asked = Bench(
        controls,
        graph,
        tuple(Limit(f"never {a}-{b}", a, b, -1.0) for a, b in some),
        tuple(Floor(f"keep {a}-{b}", a, b, 1e9) for a, b in some),
    )
    judge = GainJudge(asked)
    ends = (known(start), known(end))
    sums = [judge.nevers_broken(belief) for belief in ends]
    lacks = [judge.keeps_broken(belief) for belief in ends]
    limits, floors = [], []
    for a, b in some:
        loudest = max(found[f"never {a}-{b}"] for found in sums)
        quietest = min(1e9 - found[f"keep {a}-{b}"] for found in lacks)
        if rng.random() < 0.6:
            most = loudest * rng.choice([1.0, 1.0, 1.0, 1.3])
            limits.append(Limit(f"never {a}-{b}", a, b, most))
        elif quietest > 1e-3:
            floors.append(Floor(f"keep {a}-{b}", a, b, quietest * 0.99))
    return Bench(controls, graph, tuple(limits), tuple(floors))


def random_demands(seed: int, differing: int, *, rules: int) -> Change:
    """Never all of some values together, always one of some values: hard orders."""
    rng = random.Random(seed)
    controls = [_plain(rng, f"c{i}") for i in range(differing)]
    start = {c.name: rng.choice(c.values) for c in controls}
    goal = {
        c.name: rng.choice([v for v in c.values if v != start[c.name]])
        for c in controls
    }
    sketch = Sketch()
    limits, floors = [], []
    for number in range(rules):
        some = rng.sample(controls, min(differing, rng.randint(2, 4)))
        literals = [(c.name, rng.choice((start, goal))[c.name]) for c in some]
        met = [
            [setting[name] == value for name, value in literals]
            for setting in (start, goal)
        ]
        a, b = sketch.node(f"a{number}"), sketch.node(f"b{number}")
        gates = [Gate(name, ((value, 1.0),)) for name, value in literals]
        if rng.random() < 0.5 and not any(all(ones) for ones in met):
            sketch.edge(f"a{number}", f"b{number}", 0.0, 0.0, *gates)
            limits.append(Limit(f"never {number}", a, b, 0.0))
        elif all(any(ones) for ones in met):
            for gate in gates:
                sketch.edge(f"a{number}", f"b{number}", 0.0, 0.0, gate)
            floors.append(Floor(f"keep {number}", a, b, 0.9))
    bench = Bench(
        {c.name: c for c in controls},
        sketch.studio().graph,
        tuple(limits),
        tuple(floors),
    )
    return Change(bench, start, goal)


def with_mute_and_bridge(change: Change, seed: int) -> Change:
    """Add a mute to one of the limits and a bridge to one of the floors."""
    rng, bench = random.Random(seed), change.bench
    edges = list(bench.graph.edges)
    muted = {
        rule.source for rule in rng.sample(bench.limits, min(1, len(bench.limits)))
    }
    edges = [
        replace(edge, gates=(*edge.gates, Gate("mute", ((False, 1.0), (True, 0.0)))))
        if edge.source in muted
        else edge
        for edge in edges
    ]
    for rule in rng.sample(bench.floors, min(1, len(bench.floors))):
        bridge = Gate("bridge", SWITCHES)
        edges.append(Edge(rule.source, rule.target, gates=(bridge,)))
    controls = {**bench.controls, "mute": switch("mute"), "bridge": switch("bridge")}
    start = {**change.start, "mute": False, "bridge": False}
    graph = Graph(bench.graph.nodes, tuple(edges))
    return Change(replace(bench, controls=controls, graph=graph), start, change.goal)


def _plain(rng: random.Random, name: str) -> Control:
    if rng.random() < 0.15:
        gap = rng.random() < 0.5
        return selector(name, "a", "b", "c", gap=gap, overlap=not gap)
    return switch(name)
