"""What two sources, or two listeners, share before any control can part them."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from bridge.core.studio import Studio


def frontier(
    studio: Studio, nodes: Collection[int], *, onward: bool = True
) -> frozenset[int]:
    """The first edges with a gate that sound meets from these nodes, or to them."""
    edges = _edges(studio, onward=onward)
    return frozenset(
        index
        for node in free(studio, nodes, onward=onward)
        for index in edges.get(node, ())
        if studio.graph.edges[index].gates
    )


def free(
    studio: Studio, nodes: Collection[int], *, onward: bool = True
) -> tuple[int, ...]:
    """The nodes that sound reaches from these (or these from) without any gate."""
    order = list(nodes)
    seen = set(order)
    edges = _edges(studio, onward=onward)
    for node in order:
        for index in edges.get(node, ()):
            edge = studio.graph.edges[index]
            there = edge.target if onward else edge.source
            if not edge.gates and there not in seen:
                seen.add(there)
                order.append(there)
    return tuple(order)


def shared_jack(
    studio: Studio, one: Collection[int], other: Collection[int], *, onward: bool = True
) -> str:
    """The first jack on the way of both that no control is before; "" if none."""
    there = set(free(studio, other, onward=onward))
    for node in free(studio, one, onward=onward):
        if node in there:
            return studio.graph.nodes[node].jack
    return ""


def _edges(studio: Studio, *, onward: bool) -> Mapping[int, list[int]]:
    found: dict[int, list[int]] = {}
    for index, edge in enumerate(studio.graph.edges):
        found.setdefault(edge.source if onward else edge.target, []).append(index)
    return found
