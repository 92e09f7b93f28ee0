"""The hearing model against networkx (paths) and numpy (linear algebra)."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator
from typing import Any

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.belief import Belief, known
from bridge.core.graph import Edge
from bridge.core.hearing import Bound, Corner, Hearing, factor
from bridge.core.studio import Studio
from bridge.core.walks import FLOOR
from tests.core.sketch import Sketch, random_studio

seeds = st.integers(0, 10**9)


def random_belief(studio: Studio, seed: int) -> Belief:
    rng = random.Random(seed)
    return {
        name: frozenset(rng.sample(control.values, rng.randint(1, len(control.values))))
        for name, control in studio.controls.items()
    }


def corner_of(studio: Studio, belief: Belief, bound: Bound = Bound.LOUDEST) -> Corner:
    return Hearing(studio.graph).corner(belief, bound)


def live_edges(
    studio: Studio, belief: Belief, bound: Bound
) -> Iterator[tuple[int, Edge, float]]:
    """Edge gains worked out again from the definition, without the compiled form."""
    pick = max if bound is Bound.LOUDEST else min
    for number, edge in enumerate(studio.graph.edges):
        gain = 10 ** (edge.gain_db / 20)
        for gate in edge.gates:
            gain *= pick(factor(gate, value) for value in belief[gate.control])
        if gain > 0:
            yield number, edge, gain


def matrix(studio: Studio, belief: Belief, bound: Bound) -> np.ndarray:
    size = len(studio.graph.nodes)
    gains = np.zeros((size, size))
    for _, edge, gain in live_edges(studio, belief, bound):
        gains[edge.source, edge.target] += gain
    return gains


def _edge_paths(graph: Any, start: int, end: int) -> Any:
    return nx.all_simple_edge_paths(graph, start, end)


@settings(max_examples=300, deadline=None)
@given(seeds, st.sampled_from(Bound))
def test_arrivals_are_the_simple_paths_of_networkx(seed: int, bound: Bound) -> None:
    studio = random_studio(seed)
    belief = random_belief(studio, seed)
    graph: Any = nx.MultiDiGraph()
    graph.add_nodes_from(range(len(studio.graph.nodes)))
    for number, edge, gain in live_edges(studio, belief, bound):
        graph.add_edge(
            edge.source, edge.target, key=number, gain=gain, delay=edge.delay_ms
        )
    corner = corner_of(studio, belief, bound)
    for source, listener in itertools.product(studio.sources, studio.listeners):
        start, end = source.nodes[0], listener.nodes[0]
        if start == end:
            continue
        expected: dict[tuple[int, ...], tuple[float, float]] = {}
        for path in _edge_paths(graph, start, end):
            data = [graph.edges[step] for step in path]
            gain = math.prod(d["gain"] for d in data)
            if gain >= FLOOR:
                delay = sum(d["delay"] for d in data)
                expected[tuple(number for _, _, number in path)] = (gain, delay)
        found = corner.arrivals(source.nodes, end)
        assert {p.edges: (p.gain, p.delay_ms) for p in found.paths} == {
            edges: pytest.approx(value, rel=1e-9) for edges, value in expected.items()
        }
        assert list(found.paths) == sorted(found.paths, key=lambda p: -p.gain)


@settings(max_examples=300, deadline=None)
@given(seeds, st.sampled_from(Bound), st.sampled_from([-3.0, 0.0, 6.0]))
def test_totals_are_the_neumann_sum_of_numpy(
    seed: int, bound: Bound, loudest_db: float
) -> None:
    """(I - A)^-1 is the sum over all walks iff the spectral radius is below 1
    (references: Leontief input-output model notes, Theorem 1)."""
    studio = random_studio(seed, most_gain_db=loudest_db)
    belief = random_belief(studio, seed)
    gains = matrix(studio, belief, bound)
    corner = corner_of(studio, belief, bound)
    if max(abs(np.linalg.eigvals(gains))) < 0.999:
        walks = np.linalg.inv(np.eye(len(gains)) - gains)
        for source in studio.sources:
            totals = corner.totals(source.nodes)
            for node in range(len(gains)):
                expected = walks[source.nodes[0], node]
                assert totals.get(node, 0.0) == pytest.approx(
                    expected, rel=1e-6, abs=1e-9
                )


@settings(max_examples=150, deadline=None)
@given(seeds)
def test_bounds_hold_for_every_completion_of_a_belief(seed: int) -> None:
    studio = random_studio(seed, most_gain_db=-3.0)
    belief = random_belief(studio, seed)
    names = list(studio.controls)
    hearing = Hearing(studio.graph)
    loud = hearing.corner(belief, Bound.LOUDEST)
    quiet = hearing.corner(belief, Bound.QUIETEST)
    for values in itertools.product(*(sorted(belief[n], key=str) for n in names)):
        setting = dict(zip(names, values, strict=True))
        real = hearing.corner(known(setting), Bound.LOUDEST)
        for source in studio.sources:
            high = loud.totals(source.nodes)
            low = quiet.totals(source.nodes)
            for node, gain in real.totals(source.nodes).items():
                assert gain <= high.get(node, 0.0) * (1 + 1e-9)
                assert gain >= low.get(node, 0.0) * (1 - 1e-9)


def test_remainder_is_what_comes_round_the_loop() -> None:
    """One loop of gain 1/4 behind one path: 1 + 1/4 + 1/16 ... = 4/3."""
    sketch = Sketch()
    sketch.edge("mouth", "bus")
    sketch.edge("bus", "ear", -6.0206, 1.0)
    sketch.edge("bus", "back", -12.0412, 10.0)
    sketch.edge("back", "bus")
    loop = sketch.studio()
    corner = Hearing(loop.graph).corner({}, Bound.LOUDEST)
    found = corner.arrivals((sketch.node("mouth"),), sketch.node("ear"))
    assert [p.delay_ms for p in found.paths] == [1.0]
    assert found.total == pytest.approx(0.5 * 4 / 3, rel=1e-5)
    assert found.remainder == pytest.approx(0.5 / 3, rel=1e-5)


def test_a_loop_at_unity_makes_what_is_behind_it_endless() -> None:
    sketch = Sketch()
    sketch.edge("mouth", "bus")
    sketch.edge("bus", "back")
    sketch.edge("back", "bus")
    sketch.edge("bus", "ear")
    corner = Hearing(sketch.studio().graph).corner({}, Bound.LOUDEST)
    assert corner.arrivals((0,), sketch.node("ear")).total == math.inf
