"""Line-up: which readings to take, in which order, and what each should be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from bridge.core.belief import Belief
from bridge.core.graph import Edge, Graph, Listener, Scale, Source, Transducer
from bridge.core.judge import HouseJudge
from bridge.core.metering import belief_in, level_at, loudest_gear, nodes_of
from bridge.core.settings import start
from bridge.core.studio import Studio
from bridge.core.units import OFF


class Meter(Enum):
    """What is read: a strip's meter, a feed's, or a sound level meter at a head."""

    STRIP = "strip"
    FEED = "feed"
    EAR = "ear"


@dataclass(frozen=True, slots=True)
class Stop:
    """One reading to take. expected_db: re nominal, at an ear in dB SPL.

    at: a jack or a listener. through: the gear to turn, at an ear the speakers or
    headphones. scene: None where no scene matters.
    """

    meter: Meter
    source: Source
    at: str
    scene: str | None
    expected_db: float
    through: str


def stops(judge: HouseJudge) -> tuple[Stop, ...]:
    """Every reading that is worth taking: strips first, then feeds, then ears."""
    return (*_strips(judge), *_feeds(judge), *_ears(judge))


def _strips(judge: HouseJudge) -> Iterator[Stop]:
    """Where each source comes to the first switch: what its trim is set by."""
    studio = judge.studio
    belief = start(studio).belief
    done: set[str] = set()
    for source in studio.sources:
        best: tuple[float, str] | None = None
        for jack in _first_jacks(studio.graph, source):
            nodes = nodes_of(studio, jack)
            level = level_at(judge, belief, source, nodes, Scale.LINE)
            if level != OFF and (best is None or level > best[0]):
                best = (level, jack)
        if best is not None and best[1] not in done:
            done.add(best[1])
            yield Stop(Meter.STRIP, source, best[1], None, best[0], best[1])


def _first_jacks(graph: Graph, source: Source) -> list[str]:
    """The jacks that a source reaches without a switch, and that feed one."""
    out: dict[int, list[Edge]] = {}
    for edge in graph.edges:
        out.setdefault(edge.source, []).append(edge)
    found: dict[str, None] = {}
    seen, todo = set(source.nodes), list(source.nodes)
    while todo:
        node = todo.pop()
        for edge in out.get(node, ()):
            if edge.gates:
                found[graph.nodes[node].jack] = None
            elif edge.target not in seen:
                seen.add(edge.target)
                todo.append(edge.target)
    return list(found)


def _feeds(judge: HouseJudge) -> Iterator[Stop]:
    """For each feed and far person one source that it hears: a played one if it can."""
    studio = judge.studio
    for listener in studio.listeners:
        if not listener.far:
            continue
        for source in sorted(studio.sources, key=lambda s: s.person is not None):
            if source.person == listener.name:
                continue
            found = _first_scene(judge, source, listener.nodes, listener.scale)
            if found is not None:
                scene, level, _ = found
                yield Stop(
                    Meter.FEED, source, listener.name, scene, level, listener.name
                )
                break


def _ears(judge: HouseJudge) -> Iterator[Stop]:
    """Each pair of speakers or headphones once, speakers first: the others match."""
    found: dict[str, Stop] = {}
    for listener in judge.studio.listeners:
        if not listener.far and listener.scale is Scale.EAR:
            for gear, stop in _at_ear(judge, listener):
                found.setdefault(gear, stop)
    speakers = {
        gear.name for gear in judge.studio.air_gear if gear.kind is Transducer.SPEAKERS
    }
    yield from (found[name] for name in found if name in speakers)
    yield from (found[name] for name in found if name not in speakers)


def _at_ear(judge: HouseJudge, listener: Listener) -> Iterator[tuple[str, Stop]]:
    """What a person hears by each gear, of the first source that comes by it."""
    studio = judge.studio
    for source in sorted(studio.sources, key=lambda s: s.person is not None):
        if source.person == listener.name:
            continue
        for scene in _scenes(studio):
            belief = belief_in(studio, scene)
            gear = loudest_gear(judge, belief, source, listener.nodes)
            if gear is not None:
                level = level_at(judge, belief, source, listener.nodes, Scale.EAR)
                at = listener.name
                yield gear.name, Stop(Meter.EAR, source, at, scene, level, gear.name)


def _scenes(studio: Studio) -> list[str | None]:
    """Every scene; in a studio without scenes the one setting that it has."""
    return list(studio.scenes) or [None]


def _first_scene(
    judge: HouseJudge, source: Source, nodes: tuple[int, ...], scale: Scale
) -> tuple[str | None, float, Belief] | None:
    studio = judge.studio
    for scene in _scenes(studio):
        belief = belief_in(studio, scene)
        level = level_at(judge, belief, source, nodes, scale)
        if level >= studio.limits.audible_line_db:
            return scene, level, belief
    return None
