"""The studio as the core sees it: names resolved, nothing left to look up.

Strategy: the file layer turns text into this value once; everything after it (the
model, the rules, the planner, the machine) reads it and never changes it. Its parts:
`control`, `graph`, `demand`, `button`, `connection`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.core.button import Button
from bridge.core.ceiling import Ceiling
from bridge.core.connection import Connection
from bridge.core.control import Control, Scene
from bridge.core.demand import Limits, OwnLimit, Sentence, Waiver
from bridge.core.finding import Place
from bridge.core.graph import AirGear, Graph, Listener, Source
from bridge.core.lamp import Lamp
from bridge.core.recall import Recall
from bridge.core.wire import Key, Meaning, Value


@dataclass(frozen=True, slots=True)
class PanelPlace:
    """Where the web page is served: an address in numbers, and a port.

    names: what browsers may call it besides, as behind a reverse proxy.
    """

    host: str
    port: int
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who talks and listens. spot_m: where, if the file has a plan."""

    name: str
    room: str | None
    round_trip_ms: float = 0.0
    echo_return_loss_db: float = 0.0
    place: Place | None = None
    spot_m: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Studio:
    """Everything the studio file and its profiles say.

    helpers: values that controls may be given for a moment while crossing, if no
        direct order is safe (a listener's mute, a trim, a bridge).
    recalls: memories of gear, and what they bring back; see `core.recall`.
    safe_scene: where to be when nobody can say where to be; see `core.home`.
    mends_drift: what a hand on the desk breaks is cut at once, not only told.
    """

    name: str
    people: tuple[Person, ...]
    controls: Mapping[str, Control]
    graph: Graph
    sources: tuple[Source, ...]
    listeners: tuple[Listener, ...]
    scenes: Mapping[str, Scene]
    sentences: tuple[Sentence, ...] = ()
    buttons: tuple[Button, ...] = ()
    connections: tuple[Connection, ...] = ()
    meanings: Mapping[Key, tuple[Meaning, ...]] = field(default_factory=dict)
    limits: Limits = field(default_factory=Limits)
    own_limits: Mapping[str, OwnLimit] = field(default_factory=dict)
    waivers: tuple[Waiver, ...] = ()
    air_gear: tuple[AirGear, ...] = ()
    ceilings: tuple[Ceiling, ...] = ()
    start_scene: str | None = None
    safe_scene: str | None = None
    mends_drift: bool = False
    helpers: tuple[tuple[str, Value], ...] = ()
    recalls: tuple[Recall, ...] = ()
    door_port: int = 9720
    panel: PanelPlace | None = None
    lamps: tuple[Lamp, ...] = ()
