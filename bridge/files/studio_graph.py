"""Puts the graph together: nodes by jack and lane, edges by the lane rule."""

from __future__ import annotations

from bridge.core.finding import Place
from bridge.core.graph import Edge, Gate, Graph, Node

Lanes = tuple[int, ...]
"""The node numbers of one jack or point: one for mono, left and right for stereo."""


class GraphBuilder:
    """A graph that grows."""

    def __init__(self) -> None:
        self._nodes: list[Node] = []
        self._edges: list[Edge] = []
        self._lanes: dict[str, Lanes] = {}
        self._into: dict[int, list[Edge]] = {}

    def lanes(self, jack: str, count: int) -> Lanes:
        """Return the nodes of a jack, made when it is named for the first time."""
        if jack not in self._lanes:
            first = len(self._nodes)
            names = [f"{jack} L", f"{jack} R"] if count == 2 else [jack]
            self._nodes += [Node(name, jack) for name in names]
            self._lanes[jack] = tuple(range(first, len(self._nodes)))
        return self._lanes[jack]

    def known(self, jack: str) -> Lanes:
        """Return the nodes of a jack, none if there is no such jack."""
        return self._lanes.get(jack, ())

    def connect(
        self,
        sources: Lanes,
        targets: Lanes,
        *,
        gain_db: float = 0.0,
        delay_ms: float = 0.0,
        gates: tuple[Gate, ...] = (),
        place: Place | None = None,
    ) -> None:
        """Let sound flow by wire: lane to lane, mono to both, stereo into one."""
        if len(sources) == len(targets):
            pairs = list(zip(sources, targets, strict=True))
        else:
            pairs = [(source, target) for source in sources for target in targets]
        for source, target in pairs:
            self._add(Edge(source, target, gain_db, delay_ms, gates, place=place))

    def through_air(
        self,
        sources: Lanes,
        targets: Lanes,
        *,
        gain_db: float,
        delay_ms: float,
        place: Place | None = None,
    ) -> None:
        """Let sound flow through air: from every source to every target."""
        for source in sources:
            for target in targets:
                self._add(
                    Edge(
                        source, target, gain_db, delay_ms, through_air=True, place=place
                    )
                )

    def into(self, node: int) -> list[Edge]:
        """Return the edges that end at a node."""
        return self._into.get(node, [])

    def node(self, index: int) -> Node:
        """Return a node."""
        return self._nodes[index]

    def _add(self, edge: Edge) -> None:
        self._edges.append(edge)
        self._into.setdefault(edge.target, []).append(edge)

    def finish(self) -> Graph:
        """Return the graph."""
        return Graph(tuple(self._nodes), tuple(self._edges))
