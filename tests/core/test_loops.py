"""Loops against closed forms, numpy's matrices and networkx's graphs."""

import math
import random
from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.core.loops import (
    RADIUS_GAP,
    Loop,
    Radius,
    gains_from,
    loop_gain,
    loop_gain_at,
    loops,
    spectral_radius,
    stable_below,
    strong_components,
    total_gain,
    worst_cycle,
)
from bridge.core.units import amplitude, decibels

Matrix = NDArray[np.float64]
Graph = dict[int, dict[int, float]]


def graph_of(rows: list[list[float]]) -> Graph:
    return {s: dict(enumerate(row)) for s, row in enumerate(rows)}


@st.composite
def graphs(draw: st.DrawFn, most: int = 7, loudest_db: float = 6.0) -> Graph:
    """Draw up to `most` nodes, any edges among them, zero gains too."""
    size = draw(st.integers(1, most))
    node = st.integers(0, size - 1)
    gain = st.one_of(
        st.just(0.0), st.floats(-40.0, loudest_db).map(amplitude), st.just(1.0)
    )
    graph: Graph = {n: {} for n in range(size)}
    for source, target, value in draw(st.lists(st.tuples(node, node, gain))):
        graph[source][target] = value
    return graph


@st.composite
def quiet_rings(draw: st.DrawFn) -> Graph:
    """Draw a ring with any edges across it, scaled to a radius below 1."""
    graph = draw(graphs())
    for node in graph:
        graph[node][(node + 1) % len(graph)] = amplitude(draw(st.floats(-40.0, 0.0)))
    scale = draw(st.floats(0.1, 0.99)) / spectral_radius(graph).high
    return {n: {t: g * scale for t, g in row.items()} for n, row in graph.items()}


def chance_graph(seed: int, size: int, edges: int, loudest_db: float) -> Graph:
    chance = random.Random(seed)
    graph: Graph = {node: {} for node in range(size)}
    for _ in range(edges):
        gain = amplitude(chance.uniform(-60.0, loudest_db))
        graph[chance.randrange(size)][chance.randrange(size)] = gain
    return graph


# Oracles


def matrix_of(graph: Graph) -> Matrix:
    matrix = np.zeros((len(graph), len(graph)))
    for source, row in graph.items():
        for target, gain in row.items():
            matrix[source, target] = gain
    return matrix


def digraph_of(graph: Graph) -> "nx.DiGraph[int]":
    digraph: nx.DiGraph[int] = nx.DiGraph()
    digraph.add_nodes_from(graph)
    digraph.add_edges_from((s, t) for s, r in graph.items() for t, g in r.items() if g)
    return digraph


def components_of(matrix: Matrix) -> list[list[int]]:
    digraph: nx.DiGraph[int] = nx.DiGraph(matrix)
    return [sorted(part) for part in nx.strongly_connected_components(digraph)]


def radius_of(matrix: Matrix) -> float:
    """Take the radius part by part: numpy loses digits on what has no loop."""
    parts = components_of(matrix)
    inner = [matrix[np.ix_(part, part)] for part in parts]
    return max((float(max(abs(np.linalg.eigvals(m)))) for m in inner), default=0.0)


def returns_to(matrix: Matrix, kept: list[int]) -> Matrix | None:
    """Return the gains from visit to visit of `kept`; None if the rest howls."""
    rest = [n for n in range(len(matrix)) if n not in kept]
    between = matrix[np.ix_(rest, rest)]
    if radius_of(between) >= 1.0:
        return None
    inner = np.linalg.inv(np.eye(len(rest)) - between)
    there, back = matrix[np.ix_(kept, rest)], matrix[np.ix_(rest, kept)]
    result: Matrix = matrix[np.ix_(kept, kept)] + there @ inner @ back
    return result


def loop_gain_of(matrix: Matrix) -> float:
    """Apply the definition of loop gain to every node of every component."""
    worst = 0.0
    for part in components_of(matrix):
        inner = matrix[np.ix_(part, part)]
        if not inner.any():
            continue
        returned = [returns_to(inner, [n]) for n in range(len(inner))]
        gains = [math.inf if r is None else float(r[0, 0]) for r in returned]
        worst = max(worst, max(gains) if radius_of(inner) < 1.0 else min(gains))
    return worst


def clear_of_unity(matrix: Matrix) -> bool:
    """Leave out the few graphs on which numpy and we may differ by rounding."""
    parts = components_of(matrix)
    inner = [matrix[np.ix_(part, part)] for part in parts]
    return all(abs(radius_of(m) - 1.0) > 1e-6 for m in inner)


# Published and closed-form examples


@pytest.mark.parametrize(
    ("rows", "radius"),
    [
        # Lay, Linear Algebra, sec. 2.6 (from memory) is the one of 0.764575; the
        # others are closed forms.
        ([[0.5, 0.4], [0.2, 0.3]], 0.7),
        ([[0.0, 0.5], [0.8, 0.0]], 0.632456),
        ([[0.0, 0.5, 0.0], [0.0, 0.0, 0.8], [0.9, 0.0, 0.0]], 0.711379),
        ([[1.0, 1.0], [1.0, 0.0]], 1.618034),
        ([[0.3] * 3] * 3, 0.9),
        ([[0.5, 0.4, 0.2], [0.2, 0.3, 0.1], [0.1, 0.1, 0.3]], 0.764575),
        ([[0.6, 0.5], [0.5, 0.6]], 1.1),
        ([[0.0]], 0.0),
        ([[0.0, 5.0], [0.0, 0.0]], 0.0),
    ],
)
def test_radius_of_known_matrices(rows: list[list[float]], radius: float) -> None:
    graph = graph_of(rows)
    assert spectral_radius(graph).high == pytest.approx(radius, abs=5e-7)
    assert stable_below(graph) is (radius < 1.0)
    assert stable_below(graph, radius + 1e-6)
    assert radius == 0.0 or not stable_below(graph, radius - 1e-6)


def test_known_inverse() -> None:
    # Example A, computed: inverse of I - C, and eigenvalue 0.7 = -3.0980 dB.
    graph = graph_of([[0.5, 0.4], [0.2, 0.3]])
    expected = [[2.5926, 1.4815], [0.7407, 1.8519]]
    for source, row in enumerate(expected):
        for target, gain in enumerate(row):
            assert total_gain(graph, source, target) == pytest.approx(gain, abs=5e-5)
    assert decibels(spectral_radius(graph).high) == pytest.approx(-3.0980, abs=5e-5)


def test_known_output_of_a_three_sector_economy() -> None:
    # Lay, Linear Algebra, sec. 2.6, from memory: demand (50, 30, 20) needs the output
    # (226, 119, 78), though the first row sums to 1.1. More digits computed.
    graph = graph_of([[0.5, 0.4, 0.2], [0.2, 0.3, 0.1], [0.1, 0.1, 0.3]])
    output = [
        sum(total_gain(graph, s, t) * d for t, d in enumerate((50.0, 30.0, 20.0)))
        for s in range(3)
    ]
    assert output == pytest.approx([225.926, 118.519, 77.778], abs=5e-4)


def test_margin_of_two_nodes_is_of_the_product_not_of_the_radius() -> None:
    # Example B, computed: loop product 0.4 = -7.9588 dB, twice the radius in dB.
    (loop,) = loops(graph_of([[0.0, 0.5], [0.8, 0.0]]))
    assert loop.margin_db == pytest.approx(7.9588, abs=5e-5)
    assert decibels(loop.radius.high) == pytest.approx(-3.9794, abs=5e-5)
    assert loop.path == (0, 1)
    assert loop.path_gain == pytest.approx(0.4)


def test_margin_of_three_nodes() -> None:
    # Example C, computed: product 0.36.
    graph = graph_of([[0.0, 0.5, 0.0], [0.0, 0.0, 0.8], [0.9, 0.0, 0.0]])
    assert loop_gain(graph) == pytest.approx(0.36)
    assert worst_cycle(graph) == (0, 1, 2)


def test_loops_that_add_up_to_a_howl() -> None:
    # Example G, computed: no gain reaches 1, and no cycle does, but their sum does.
    (loop,) = loops(graph_of([[0.6, 0.5], [0.5, 0.6]]))
    assert loop.path_gain == pytest.approx(0.6)
    assert loop.gain == pytest.approx(0.6 + 0.25 / 0.4)
    assert loop.margin_db < 0.0
    assert total_gain({0: {0: 0.6, 1: 0.5}, 1: {0: 0.5, 1: 0.6}}, 0, 1) == math.inf


@pytest.mark.parametrize("microphones", [1, 2, 3, 8, 20])
def test_microphones_on_one_speaker_add_as_amplitudes(microphones: int) -> None:
    # Worst case (Perron), computed: N equal microphones lose 20 log N; the
    # handbooks' 10 log N is for powers and is in bridge.core.rooms.
    speaker, gain = 0, 0.01
    graph: Graph = {speaker: {}}
    for microphone in range(1, microphones + 1):
        graph[speaker][microphone] = gain
        graph[microphone] = {speaker: 1.0}
    (one,) = loops({0: {1: gain}, 1: {0: 1.0}})
    (all_of_them,) = loops(graph)
    lost_db = one.margin_db - all_of_them.margin_db
    assert lost_db == pytest.approx(20.0 * math.log10(microphones), abs=1e-9)


def test_one_hand_on_both_lanes_has_less_room() -> None:
    # Two microphones, two speakers, every way 0.2: a hand on the master meets
    # 4 x 0.2; on one speaker it meets 0.4 / (1 - 0.4). Computed by hand.
    microphones, speakers = (0, 1), (2, 3)
    graph = {m: dict.fromkeys(speakers, 1.0) for m in microphones}
    graph |= {s: dict.fromkeys(microphones, 0.2) for s in speakers}
    assert loop_gain(graph) == pytest.approx(2.0 / 3.0)
    assert loop_gain_at(graph, speakers) == pytest.approx(0.8)
    assert loop_gain_at(graph, microphones) == pytest.approx(0.8)


def test_a_howl_that_no_single_node_can_stop() -> None:
    graph = {0: {0: 1.5, 1: 0.1}, 1: {1: 1.5, 0: 0.1}}
    assert loop_gain(graph) == math.inf
    assert loops(graph)[0].margin_db == -math.inf
    assert loop_gain_at(graph, [0]) == math.inf
    assert loop_gain_at(graph, [0, 1]) == pytest.approx(1.6)


def test_nothing_goes_round() -> None:
    graph = {0: {1: 30.0}, 1: {2: 30.0, 3: 0.0}}
    assert loops(graph) == ()
    assert worst_cycle(graph) == ()
    assert loop_gain(graph) == 0.0
    assert loop_gain_at(graph, [1]) == 0.0
    assert spectral_radius(graph) == Radius(0.0, 0.0)
    assert stable_below(graph, 1e-9)
    assert stable_below({})
    assert total_gain(graph, 0, 2) == 900.0
    assert total_gain(graph, 2, 0) == 0.0
    assert gains_from(graph, 2) == {2: 1.0}
    assert gains_from(graph, 9) == {9: 1.0}


def test_loops_come_worst_first() -> None:
    graph = {5: {5: 0.1, 6: 1.0}, 6: {7: 0.5}, 7: {6: 0.4}, 1: {1: 0.2}}
    found = loops(graph)
    assert [loop.members for loop in found] == [(1,), (6, 7), (5,)]
    assert found[0] == Loop(
        members=(1,),
        gain=0.2,
        radius=spectral_radius({1: {1: 0.2}}),
        path=(1,),
        path_gain=0.2,
    )


def test_a_howl_spoils_only_what_lies_behind_it() -> None:
    graph = {0: {1: 0.5, 3: 0.5}, 1: {2: 1.0}, 2: {1: 1.0, 4: 0.5}, 5: {1: 1.0}}
    assert gains_from(graph, 0) == {
        0: 1.0,
        1: math.inf,
        2: math.inf,
        3: 0.5,
        4: math.inf,
    }
    # A second loop behind the first gets no finite figure either.
    graph[4] = {4: 0.5}
    assert total_gain(graph, 5, 4) == math.inf


def test_long_chains_and_rings_need_no_recursion() -> None:
    length = 3000
    chain = {n: {n + 1: 1.0} for n in range(length)}
    assert total_gain(chain, 0, length) == 1.0
    chain[length] = {0: 0.25}
    assert loop_gain(chain) == pytest.approx(0.25)
    assert total_gain(chain, 0, length) == pytest.approx(1.0 / 0.75)


def test_quiet_loops_keep_their_digits() -> None:
    # 1 - 1e-15 would keep none: the loop gain is never taken from that difference.
    graph = {0: {1: 1e-9}, 1: {0: 3e-9}}
    assert loop_gain(graph) == pytest.approx(3e-18, rel=1e-12)
    assert spectral_radius(graph).high == pytest.approx(math.sqrt(3) * 1e-9, rel=1e-8)


@pytest.mark.parametrize("gain", [-0.1, math.nan, math.inf])
def test_what_is_no_amplitude_is_refused(gain: float) -> None:
    words = f"gain from 3 to 4 must be finite and 0 or more, got {gain}"
    for ask in (strong_components, spectral_radius, stable_below, loop_gain, loops):
        with pytest.raises(ValueError, match=words):
            ask({3: {4: gain}})
    with pytest.raises(ValueError, match=words):
        gains_from({3: {4: gain}}, 3)


@pytest.mark.parametrize("limit", [0.0, -1.0, math.nan])
def test_a_limit_of_nothing_is_refused(limit: float) -> None:
    with pytest.raises(ValueError, match=f"limit must be above 0, got {limit}"):
        stable_below({}, limit)


# Laws


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
