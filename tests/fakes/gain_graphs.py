"""Graphs of gains, drawn or by chance, and what numpy and networkx say of them."""

import math
import random

import networkx as nx
import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from bridge.core.loops import spectral_radius
from bridge.core.units import amplitude

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
