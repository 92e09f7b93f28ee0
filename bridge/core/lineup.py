"""Line-up: what each meter should read, and what the readings tell about the gains.

Strategy: the model says what a meter reads at a place; a person says what it really
reads. The difference is a gain that the model did not know: of the cable into that
jack or feed, or of the speakers or headphones at that ear. It is put there, and from
then on everything is judged with it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from bridge.core.belief import Belief, settled
from bridge.core.finding import Finding, Place
from bridge.core.graph import AirGear, Edge, Graph, Listener, Scale, Source, Transducer
from bridge.core.hearing import Bound, lanes_together
from bridge.core.judge import HouseJudge
from bridge.core.levels import EBU_ALIGNMENT_DBFS
from bridge.core.rules.demands import PASCAL_DB_SPL
from bridge.core.settings import start
from bridge.core.studio import Studio
from bridge.core.units import OFF, decibels
from bridge.core.walks import Arrival

ALIGNMENT_DBFS = EBU_ALIGNMENT_DBFS
"""A nominal level (0 dB in the model) on a digital meter: EBU R 68."""

MOST_CORRECTION_DB = 40.0
"""A reading further off is a wrong cable or a button, not a trim (no source)."""


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


@dataclass(frozen=True, slots=True)
class Reading:
    """What a person read there: re nominal, at an ear in dB SPL."""

    source: str
    at: str
    scene: str | None
    level_db: float
    place: Place | None = None


# What to read


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
            gear = _loudest_gear(judge, belief, source, listener.nodes)
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


# Levels


def belief_in(studio: Studio, scene: str | None) -> Belief:
    """What holds after the start and then this scene."""
    first = start(studio).belief
    return first if scene is None else settled(first, studio.scenes[scene].values)


def nodes_of(studio: Studio, at: str) -> tuple[int, ...]:
    """The nodes of a jack, or of a listener by their name."""
    for listener in studio.listeners:
        if listener.name == at:
            return listener.nodes
    every = enumerate(studio.graph.nodes)
    return tuple(index for index, node in every if node.jack == at)


def level_at(
    judge: HouseJudge,
    belief: Belief,
    source: Source,
    nodes: tuple[int, ...],
    scale: Scale,
) -> float:
    """The level as a meter shows it: the power sum at the louder of these nodes."""
    best = 0.0
    for node in nodes:
        paths, rest = _paths(judge, belief, source, node)
        best = max(best, math.sqrt(sum(p.gain**2 for p in paths) + rest**2))
    return decibels(best) + (PASCAL_DB_SPL if scale is Scale.EAR and best else 0.0)


def _paths(
    judge: HouseJudge, belief: Belief, source: Source, node: int
) -> tuple[Sequence[Arrival], float]:
    corner = judge.scope(belief, Bound.LOUDEST).corner
    found = corner.arrivals(source.nodes, node)
    return lanes_together(judge.studio.graph, found.paths), found.remainder


def _loudest_gear(
    judge: HouseJudge, belief: Belief, source: Source, nodes: tuple[int, ...]
) -> AirGear | None:
    """The speakers or headphones that carry most of a source to an ear."""
    paths = [p for node in nodes for p in _paths(judge, belief, source, node)[0]]
    if not paths:
        return None
    loudest = max(paths, key=lambda path: path.gain)
    last = judge.studio.graph.edges[loudest.edges[-1]]
    return next((g for g in judge.studio.air_gear if last.source in g.nodes), None)


# Readings become gains


def with_readings(
    studio: Studio, readings: Iterable[Reading]
) -> tuple[Studio, tuple[Finding, ...]]:
    """The studio with the gains that the readings tell, one after the other.

    Returns what is wrong with readings that tell nothing.
    """
    findings = []
    for reading in readings:
        corrected = _corrected(studio, reading)
        if isinstance(corrected, Finding):
            findings.append(corrected)
        else:
            studio = corrected
    return studio, tuple(findings)


def _corrected(studio: Studio, reading: Reading) -> Studio | Finding:
    judge = HouseJudge(studio)
    source = next(each for each in studio.sources if each.name == reading.source)
    nodes = nodes_of(studio, reading.at)
    listener = next((x for x in studio.listeners if x.name == reading.at), None)
    scale = listener.scale if listener is not None else Scale.LINE
    belief = belief_in(studio, reading.scene)
    expected = level_at(judge, belief, source, nodes, scale)
    if expected == OFF:
        return _nothing_there(reading)
    step = reading.level_db - expected
    if abs(step) > MOST_CORRECTION_DB:
        return _far_off(reading, expected)
    if scale is Scale.LINE:
        return _scaled(studio, step, into=nodes)
    gear = _loudest_gear(judge, belief, source, nodes)
    if gear is None:
        return _nothing_there(reading)
    return _scaled(studio, step, out_of=gear.nodes)


def _scaled(
    studio: Studio,
    gain_db: float,
    *,
    into: Sequence[int] = (),
    out_of: Sequence[int] = (),
) -> Studio:
    edges = tuple(
        replace(edge, gain_db=edge.gain_db + gain_db)
        if edge.target in into or (edge.source in out_of and edge.through_air)
        else edge
        for edge in studio.graph.edges
    )
    return replace(studio, graph=Graph(studio.graph.nodes, edges))


def _nothing_there(reading: Reading) -> Finding:
    scene = "" if reading.scene is None else f" in {reading.scene}"
    return Finding(
        "reading-of-nothing",
        f"by the patch {reading.source} never comes to {reading.at}{scene}",
        reading.place,
        note="a reading tells a gain only where there is a way",
        cure="name another scene, or see whether the patch is as the studio is",
    )


def _far_off(reading: Reading, expected_db: float) -> Finding:
    return Finding(
        "reading-far-off",
        f"{reading.source} at {reading.at}: {reading.level_db:g} dB was read, and "
        f"{expected_db:.1f} dB is expected",
        reading.place,
        limit=f"{MOST_CORRECTION_DB:g} dB apart",
        note="so much is no trim: a wrong cable, a wrong button, or another unit",
        cure="see that the reading is of this source, in this scene, in this unit",
    )
