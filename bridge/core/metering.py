"""What a meter shows by the model: at a jack, at a feed, at an ear."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bridge.core.belief import Belief, settled
from bridge.core.graph import AirGear, Scale, Source
from bridge.core.hearing import Bound, lanes_together
from bridge.core.judge import HouseJudge
from bridge.core.levels import EBU_ALIGNMENT_DBFS
from bridge.core.rules.demands import PASCAL_DB_SPL
from bridge.core.settings import start
from bridge.core.studio import Studio
from bridge.core.units import decibels
from bridge.core.walks import Arrival

ALIGNMENT_DBFS = EBU_ALIGNMENT_DBFS
"""A nominal level (0 dB in the model) on a digital meter: EBU R 68."""


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


def loudest_gear(
    judge: HouseJudge, belief: Belief, source: Source, nodes: tuple[int, ...]
) -> AirGear | None:
    """The speakers or headphones that carry most of a source to an ear."""
    paths = [p for node in nodes for p in _paths(judge, belief, source, node)[0]]
    if not paths:
        return None
    loudest = max(paths, key=lambda path: path.gain)
    last = judge.studio.graph.edges[loudest.edges[-1]]
    return next((g for g in judge.studio.air_gear if last.source in g.nodes), None)


def _paths(
    judge: HouseJudge, belief: Belief, source: Source, node: int
) -> tuple[Sequence[Arrival], float]:
    corner = judge.scope(belief, Bound.LOUDEST).corner
    found = corner.arrivals(source.nodes, node)
    return lanes_together(judge.studio.graph, found.paths), found.remainder
