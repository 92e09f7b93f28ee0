"""The worst cycle against every simple cycle that networkx finds."""

import math
from itertools import pairwise

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.loops import (
    loop_gain,
    loop_gain_at,
    loops,
    spectral_radius,
    worst_cycle,
)
from bridge.core.units import amplitude, decibels
from tests.fakes.gain_graphs import Graph, chance_graph, digraph_of, graphs, quiet_rings


@given(st.lists(st.floats(-60.0, 20.0).map(amplitude), min_size=1, max_size=30))
def test_one_ring_has_the_product_as_loop_gain(gains: list[float]) -> None:
    size = len(gains)
    graph = {n: {(n + 1) % size: gain} for n, gain in enumerate(gains)}
    product = math.prod(gains)
    assert loop_gain(graph) == pytest.approx(product)
    assert loop_gain_at(graph, [size // 2]) == pytest.approx(product)
    mean = product ** (1.0 / size)
    assert spectral_radius(graph).high == pytest.approx(mean, rel=1e-8)
    assert worst_cycle(graph) == tuple(range(size))


def check_worst_cycle(graph: Graph) -> None:
    def product(cycle: tuple[int, ...]) -> float:
        return math.prod(graph[s][t] for s, t in pairwise((*cycle, cycle[0])))

    cycles = [tuple(cycle) for cycle in nx.simple_cycles(digraph_of(graph))]
    worst = worst_cycle(graph)
    if not cycles:
        assert worst == ()
        return
    assert worst[0] == min(worst)
    assert len(set(worst)) == len(worst)
    largest = max(map(product, cycles))
    if largest < 1.0 + 1e-9:
        assert product(worst) == pytest.approx(largest)
    else:
        means = [product(cycle) ** (1.0 / len(cycle)) for cycle in cycles]
        mean = product(worst) ** (1.0 / len(worst))
        assert mean == pytest.approx(max(means))


@given(graphs(most=6))
def test_worst_cycle_is_the_worst_of_all_simple_cycles(graph: Graph) -> None:
    check_worst_cycle(graph)


def test_of_two_howls_the_one_with_the_louder_mean_is_named() -> None:
    graph = {0: {1: 2.0}, 1: {0: 2.0}, 2: {2: 3.0, 0: 0.1}, 3: {3: 0.9}}
    assert worst_cycle(graph) == (2,)
    del graph[2], graph[0]
    assert worst_cycle(graph) == (3,)


@pytest.mark.parametrize("loudest_db", [-6.0, 6.0, 20.0])
def test_worst_cycle_of_many_graphs(loudest_db: float) -> None:
    for seed in range(150):
        check_worst_cycle(chance_graph(seed, 6, 16, loudest_db))


@given(quiet_rings())
def test_no_cycle_is_louder_than_its_loop(graph: Graph) -> None:
    (loop,) = loops(graph)
    assert loop.members == tuple(graph)
    assert loop.path == worst_cycle(graph)
    assert loop.path_gain <= loop.gain * (1.0 + 1e-9)
    assert loop.margin_db == -decibels(loop_gain(graph))
    assert loop.radius == spectral_radius(graph)
