"""The graph that sound runs through, and what stands at its ends.

Nodes are single lanes. Amplitude 1 is what is nominal there: see `Scale`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from bridge.core.finding import Place
from bridge.core.wire import Value


@dataclass(frozen=True, slots=True)
class Gate:
    """How one control scales one edge.

    table: (value, amplitude factor) for each value; a value that is not listed
    (NOWHERE among them) lets nothing through. None: the control is a level, and the
    factor is that level.
    """

    control: str
    table: tuple[tuple[Value, float], ...] | None


@dataclass(frozen=True, slots=True)
class Node:
    """A point of the graph: one lane of a jack or bus, a mouth, an ear.

    name: unique ("desk.in 5/6 L"); jack: the same without the lane ("desk.in 5/6").
    """

    name: str
    jack: str


@dataclass(frozen=True, slots=True)
class Edge:
    """Sound flows from one node to another (indices into Graph.nodes)."""

    source: int
    target: int
    gain_db: float = 0.0
    delay_ms: float = 0.0
    gates: tuple[Gate, ...] = ()
    through_air: bool = False
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Graph:
    """All nodes and edges, gates still open or shut."""

    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]


class Transducer(Enum):
    """Gear where sound meets the air."""

    MICROPHONE = "microphone"
    SPEAKERS = "speakers"
    HEADPHONES = "headphones"


@dataclass(frozen=True, slots=True)
class AirGear:
    """A microphone, speakers or headphones: its nodes on the side of the air.

    critical_m: where, in its room, direct and reverberant sound are equal.
    """

    name: str
    kind: Transducer
    nodes: tuple[int, ...]
    room: str
    critical_m: float = float("inf")


class Scale(Enum):
    """What 0 dB (amplitude 1) means at a node."""

    LINE = "line"  # nominal level of the studio's line
    EAR = "ear"  # a sound pressure of 1 pascal, 94 dB SPL


@dataclass(frozen=True, slots=True)
class Source:
    """What makes sound: a mouth, or something that plays. Amplitude 1 is nominal."""

    name: str
    nodes: tuple[int, ...]
    person: str | None = None
    private: bool = False
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Listener:
    """Who or what hears: the two ears of a person, or a feed's two lanes.

    far: outside the studio (a feed, a remote person). cap_db: no source may be louder
    than this, in the listener's scale.
    """

    name: str
    nodes: tuple[int, ...]
    scale: Scale
    person: str | None = None
    far: bool = False
    cap_db: float | None = None
    place: Place | None = None
