"""Sources that are one sound: a mouth and the microphone in front of it."""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.graph import Listener
from bridge.core.studio import Studio


def meant_for(
    studio: Studio, listener: Listener, wanted: Iterable[str]
) -> frozenset[str]:
    """What a listener may hear: the wanted sources, and their own voice."""
    own = (
        source.name
        for source in studio.sources
        if source.person is not None and source.person == listener.person
    )
    return heard_with(studio, (*wanted, *own))


def heard_with(studio: Studio, wanted: Iterable[str]) -> frozenset[str]:
    """The wanted sources, the microphones they speak into, and who speaks into them."""
    wanted = frozenset(wanted)
    nodes = {n for s in studio.sources if s.name in wanted for n in s.nodes}
    touching = nodes | {
        end
        for edge in studio.graph.edges
        if not edge.gates and nodes & {edge.source, edge.target}
        for end in (edge.source, edge.target)
    }
    return frozenset(
        source.name
        for source in studio.sources
        if source.name in wanted or touching & set(source.nodes)
    )
