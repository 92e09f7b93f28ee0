"""Studios sketched in a few lines, for tests of the core without a file."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence

from bridge.core.control import Control, Kind, Scene
from bridge.core.demand import Sentence
from bridge.core.graph import Edge, Gate, Graph, Listener, Node, Scale, Source
from bridge.core.studio import Studio
from bridge.core.wire import Value

OPEN_WHEN_ON = ((False, 0.0), (True, 1.0))

Line = tuple[str, str] | tuple[str, str, float] | tuple[str, str, float, float]


def switch(name: str, **more: object) -> Control:
    return Control(name, name, "desk", Kind.SWITCH, (False, True), **more)  # type: ignore[arg-type]


def selector(name: str, *positions: str, **more: object) -> Control:
    return Control(name, name, "box", Kind.SELECTOR, positions, **more)  # type: ignore[arg-type]


def gated(control: str, *values: Value) -> Gate:
    """Open at these values (on, if none is given)."""
    return Gate(control, tuple((v, 1.0) for v in values) or OPEN_WHEN_ON)


class Sketch:
    """Collects nodes and edges by name and makes a studio of them."""

    def __init__(self) -> None:
        self.nodes: dict[str, int] = {}
        self.edges: list[Edge] = []

    def node(self, name: str) -> int:
        return self.nodes.setdefault(name, len(self.nodes))

    def edge(
        self,
        source: str,
        target: str,
        gain_db: float = 0.0,
        delay_ms: float = 0.0,
        *gates: Gate,
    ) -> None:
        ends = (self.node(source), self.node(target))
        self.edges.append(Edge(*ends, gain_db, delay_ms, gates))

    def studio(
        self,
        *controls: Control,
        sources: Sequence[Source] = (),
        listeners: Sequence[Listener] = (),
        scenes: Mapping[str, Mapping[str, Value]] | None = None,
        sentences: Sequence[Sentence] = (),
        start: str | None = None,
    ) -> Studio:
        return Studio(
            name="sketch",
            people=(),
            controls={control.name: control for control in controls},
            graph=Graph(tuple(Node(n, n) for n in self.nodes), tuple(self.edges)),
            sources=tuple(sources),
            listeners=tuple(listeners),
            scenes={n: Scene(n, v) for n, v in (scenes or {}).items()},
            sentences=tuple(sentences),
            start_scene=start,
        )

    def source(self, name: str, *nodes: str, **more: object) -> Source:
        return Source(name, tuple(self.node(n) for n in nodes), **more)  # type: ignore[arg-type]

    def listener(self, name: str, *nodes: str, **more: object) -> Listener:
        scale = Scale.LINE
        return Listener(name, tuple(self.node(n) for n in nodes), scale, **more)  # type: ignore[arg-type]


def random_studio(
    seed: int, *, loops: bool = True, most_gain_db: float = 0.0
) -> Studio:
    """A random small studio: switches, a selector, a level, two people, a feed."""
    rng = random.Random(seed)
    sketch = Sketch()
    names = [f"n{i}" for i in range(rng.randint(4, 9))]
    controls = [switch(f"s{i}") for i in range(rng.randint(1, 5))]
    choice = selector("where", "left", "right", "both ways")
    level = Control("trim", "trim", "desk", Kind.LEVEL, (float("-inf"), -20.0, 0.0))
    for name in names:
        sketch.node(name)
    for _ in range(rng.randint(5, 18)):
        a, b = rng.sample(range(len(names)), 2)
        if not loops and a > b:
            a, b = b, a
        gates = [gated(rng.choice(controls).name) for _ in range(rng.randint(0, 2))]
        if rng.random() < 0.3:
            gates.append(gated("where", rng.choice(choice.values)))
        if rng.random() < 0.2:
            gates.append(Gate("trim", None))
        gain = rng.uniform(-30.0, most_gain_db)
        sketch.edge(names[a], names[b], gain, rng.uniform(0, 120), *gates)
    people = [("host", names[0], names[1]), ("guest", names[2], names[3])]
    return sketch.studio(
        *controls,
        choice,
        level,
        sources=[sketch.source(n, a, person=n) for n, a, _ in people],
        listeners=[
            *(sketch.listener(n, b, person=n, far=n == "guest") for n, _, b in people),
            sketch.listener("stream", names[-1], far=True),
        ],
    )
