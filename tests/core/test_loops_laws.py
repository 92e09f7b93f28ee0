"""Laws of loops on graphs drawn at random, against numpy's matrices and networkx."""

import math
from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bridge.core.loops import (
    RADIUS_GAP,
    gains_from,
    loop_gain,
    loop_gain_at,
    spectral_radius,
    stable_below,
    strong_components,
    total_gain,
)
from bridge.core.units import amplitude
from tests.fakes.gain_graphs import (
    Graph,
    chance_graph,
    clear_of_unity,
    components_of,
    digraph_of,
    graph_of,
    graphs,
    loop_gain_of,
    matrix_of,
    quiet_rings,
    radius_of,
    returns_to,
)


@given(graphs(most=12))
def test_components_are_those_of_networkx_in_order_of_flow(graph: Graph) -> None:
    parts = strong_components(graph)
    digraph = digraph_of(graph)
    expected = {frozenset(p) for p in nx.strongly_connected_components(digraph)}
    assert {frozenset(part) for part in parts} == expected
    place = {node: i for i, part in enumerate(parts) for node in part}
    assert all(place[source] <= place[target] for source, target in digraph.edges)


@given(graphs())
def test_radius_is_that_of_numpy(graph: Graph) -> None:
    radius = spectral_radius(graph)
    expected = radius_of(matrix_of(graph))
    assert radius.low <= radius.high <= radius.low * (1.0 + 2.0 * RADIUS_GAP)
    assert radius.low * (1.0 - 1e-6) <= expected <= radius.high * (1.0 + 1e-6)


@given(graphs())
def test_row_sums_bracket_the_radius(graph: Graph) -> None:
    # min row sum <= radius <= max row sum (J. Inequal. Appl., an introduction).
    sums = [sum(row.values()) for row in graph.values()]
    radius = spectral_radius(graph)
    assert min(sums) * (1.0 - 1e-9) <= radius.high
    assert radius.low <= max(sums) * (1.0 + 1e-9)


@given(graphs(), st.floats(0.05, 3.0))
def test_pivots_and_radius_agree(graph: Graph, limit: float) -> None:
    radius = spectral_radius(graph)
    if radius.high < limit * (1.0 - 1e-12):
        assert stable_below(graph, limit)
    if radius.low > limit * (1.0 + 1e-12):
        assert not stable_below(graph, limit)


@given(graphs())
def test_below_unity_if_and_only_if_the_sum_of_walks_converges(graph: Graph) -> None:
    # The theorem of the Leontief notes: radius < 1, powers vanish, and (I - C)^-1
    # is nonnegative, are one and the same.
    matrix = matrix_of(graph)
    assume(clear_of_unity(matrix))
    stable = stable_below(graph)
    difference = np.eye(len(graph)) - matrix
    if np.linalg.matrix_rank(difference) < len(graph):
        assert not stable
        return
    inverse = np.linalg.inv(difference)
    assert stable is bool((inverse > -1e-9 * abs(inverse).max()).all())
    with np.errstate(over="ignore", invalid="ignore"):
        power = np.linalg.matrix_power(matrix, 2**26)
    assert stable is bool(power.max() < 1.0)


@given(graphs())
def test_loop_gain_is_what_its_definition_says(graph: Graph) -> None:
    matrix = matrix_of(graph)
    assume(clear_of_unity(matrix))
    gain = loop_gain(graph)
    assert gain == pytest.approx(loop_gain_of(matrix), rel=1e-6)
    assert (gain < 1.0) is stable_below(graph)


@given(graphs(), st.sets(st.integers(0, 6)))
def test_loop_gain_at_nodes_is_what_its_definition_says(
    graph: Graph, nodes: set[int]
) -> None:
    matrix = matrix_of(graph)
    assume(clear_of_unity(matrix))
    expected = 0.0
    for part in components_of(matrix):
        kept = [i for i, member in enumerate(part) if member in nodes]
        if kept:
            back = returns_to(matrix[np.ix_(part, part)], kept)
            expected = max(expected, math.inf if back is None else radius_of(back))
    assert loop_gain_at(graph, nodes) == pytest.approx(expected, rel=1e-6, abs=1e-12)


@given(quiet_rings())
def test_the_margin_is_the_room_at_the_most_sensitive_node(graph: Graph) -> None:
    def howling_nodes(factor: float) -> list[int]:
        raised = {n: {t: g * factor for t, g in graph[n].items()} for n in graph}
        return [n for n in graph if not stable_below(graph | {n: raised[n]})]

    room = 1.0 / loop_gain(graph)
    assert room > 1.0
    assert howling_nodes(room * (1.0 - 1e-6)) == []
    assert howling_nodes(room * (1.0 + 1e-6)) != []


@given(quiet_rings())
def test_loop_gain_at_all_nodes_is_the_radius_and_the_most_careful(
    graph: Graph,
) -> None:
    radius = spectral_radius(graph).high
    assert loop_gain_at(graph, graph.keys()) == pytest.approx(radius, rel=1e-8)
    for node in graph:
        assert loop_gain_at(graph, [node]) <= loop_gain(graph) * (1.0 + 1e-12)
    assert loop_gain(graph) <= radius * (1.0 + 1e-8)


@given(graphs(), st.data())
def test_no_figure_falls_when_a_gain_rises(graph: Graph, data: st.DataObject) -> None:
    source = data.draw(st.sampled_from(sorted(graph)))
    target = data.draw(st.sampled_from(sorted(graph)))
    more = data.draw(st.floats(0.0, 2.0))
    louder = {node: dict(row) for node, row in graph.items()}
    louder[source][target] = graph[source].get(target, 0.0) + more
    almost = 1.0 + 3.0 * RADIUS_GAP
    assert loop_gain(graph) <= loop_gain(louder) * almost
    assert spectral_radius(graph).low <= spectral_radius(louder).high
    for node in graph:
        assert loop_gain_at(graph, [node]) <= loop_gain_at(louder, [node]) * almost
        before, after = gains_from(graph, node), gains_from(louder, node)
        assert all(before[n] <= after[n] * almost for n in before)


@given(graphs(), st.data())
def test_a_node_inside_an_edge_changes_nothing(
    graph: Graph, data: st.DataObject
) -> None:
    source = data.draw(st.sampled_from(sorted(graph)))
    assume(graph[source])
    target = data.draw(st.sampled_from(sorted(graph[source])))
    middle = len(graph)
    row = {t: g for t, g in graph[source].items() if t != target}
    cut = graph | {source: row | {middle: 2.0}, middle: {target: 0.0}}
    cut[middle][target] = graph[source][target] / 2.0
    assume(clear_of_unity(matrix_of(graph)))
    assert loop_gain(cut) == pytest.approx(loop_gain(graph), rel=1e-9)
    for node in graph:
        ours, theirs = gains_from(cut, node), gains_from(graph, node)
        assert all(ours[n] == pytest.approx(theirs[n], rel=1e-7) for n in theirs)


@given(graphs())
def test_total_gain_is_the_inverse_of_numpy_or_infinite(graph: Graph) -> None:
    matrix = matrix_of(graph)
    assume(clear_of_unity(matrix))
    digraph = digraph_of(graph)
    for source in graph:
        reached = {source, *nx.descendants(digraph, source)}
        for target in graph:
            on_the_way = sorted(reached & {target, *nx.ancestors(digraph, target)})
            gain = total_gain(graph, source, target)
            if target not in reached:
                assert gain == 0.0
                continue
            inner = matrix[np.ix_(on_the_way, on_the_way)]
            if radius_of(inner) >= 1.0:
                assert gain == math.inf
                continue
            walks = np.linalg.inv(np.eye(len(inner)) - inner)
            s, t = on_the_way.index(source), on_the_way.index(target)
            assert gain == pytest.approx(walks[s, t], rel=1e-6)


@given(graphs(most=9, loudest_db=20.0))
def test_without_loops_the_total_is_the_sum_over_paths(graph: Graph) -> None:
    forward = {s: {t: g for t, g in r.items() if t > s} for s, r in graph.items()}
    digraph = digraph_of(forward)
    last = len(graph) - 1
    paths = nx.all_simple_paths(digraph, 0, last) if last else [[0]]
    products = [math.prod(forward[s][t] for s, t in pairwise(path)) for path in paths]
    assert total_gain(forward, 0, last) == pytest.approx(sum(products))


@pytest.mark.parametrize("seed", range(10))
def test_large_sparse_graphs_agree_with_numpy(seed: int) -> None:
    size = 100
    graph = chance_graph(seed, size, 2 * size, -1.0)
    matrix = matrix_of(graph)
    radius = radius_of(matrix)
    assert radius < 1.0
    assert spectral_radius(graph).high == pytest.approx(radius, rel=1e-7)
    assert loop_gain(graph) == pytest.approx(loop_gain_of(matrix), rel=1e-6)
    walks = np.linalg.inv(np.eye(size) - matrix)
    for source in range(0, size, 10):
        gains = gains_from(graph, source)
        ours = [gains.get(target, 0.0) for target in range(size)]
        assert ours == pytest.approx(walks[source], rel=1e-9, abs=1e-12)


def test_a_thousand_small_graphs_agree_with_numpy() -> None:
    howling = 0
    for seed in range(1000):
        size = 2 + seed % 6
        graph = chance_graph(seed, size, 3 * size, 3.0)
        matrix = matrix_of(graph)
        radius = radius_of(matrix)
        assert spectral_radius(graph).high == pytest.approx(radius, rel=1e-7)
        assert stable_below(graph) is (radius < 1.0)
        assert loop_gain(graph) == pytest.approx(loop_gain_of(matrix), rel=1e-6)
        if radius >= 1.0:
            howling += 1
            continue
        walks = np.linalg.inv(np.eye(len(graph)) - matrix)
        gains = gains_from(graph, 0)
        ours = [gains.get(target, 0.0) for target in graph]
        assert ours == pytest.approx(walks[0], rel=1e-7, abs=1e-12)
    assert 100 < howling < 900  # else the sweep would tell little


@given(
    st.integers(2, 8).flatmap(
        lambda size: st.lists(
            st.lists(st.floats(-300.0, 60.0), min_size=size, max_size=size),
            min_size=size,
            max_size=size,
        )
    )
)
def test_bounds_stay_close_over_the_whole_range_of_gains(
    levels_db: list[list[float]],
) -> None:
    graph = graph_of([[amplitude(level) for level in row] for row in levels_db])
    radius = spectral_radius(graph)
    assert 0.0 < radius.low <= radius.high <= radius.low * (1.0 + 2.0 * RADIUS_GAP)


@given(graphs(most=4, loudest_db=0.0), graphs(most=4, loudest_db=0.0))
def test_small_gain_is_enough(one: Graph, other: Graph) -> None:
    """Zames 1966 (references section 8, secondary source): two systems in a ring are
    stable if the product of their norms is below 1. In the ring, from each node of the
    one to the same node of the other, and back: the largest row sums are the norms."""
    size = max(len(one), len(other))
    ring: Graph = {n: {} for n in range(2 * size)}
    for node, row in one.items():
        ring[node] = {size + target: gain for target, gain in row.items()}
    for node, row in other.items():
        ring[size + node] = dict(row)
    norms = [max(sum(row.values()) for row in part.values()) for part in (one, other)]
    if math.prod(norms) < 0.999:
        assert stable_below(ring)


def test_small_gain_is_not_needed() -> None:
    # Norms of 2 and 1, and yet nothing comes back to where it came from.
    assert stable_below({0: {3: 2.0}, 1: {}, 2: {0: 1.0}, 3: {1: 1.0}})
