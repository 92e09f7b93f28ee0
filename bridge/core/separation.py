"""What would separate demands that collide: lanes, sends, or a wall of air.

Three things keep apart what no control can. Two sources that come on one lane need a
lane each; two listeners who take from one place need a send each; and what speakers
play into a live microphone needs headphones, distance or a better angle. Each is found
in the graph, so that nothing is said that would not help; there may be nothing to say.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from bridge.core.belief import Belief
from bridge.core.graph import Listener, Source, Transducer
from bridge.core.hearing import Bound, Corner
from bridge.core.judge import HouseJudge
from bridge.core.kin import heard_with
from bridge.core.loops import strong_components
from bridge.core.rules import howl
from bridge.core.sharing import frontier, shared_jack
from bridge.core.studio import Studio

Party = tuple[str, str]
"""Who hears, and whom."""


def separating(
    judge: HouseJudge, wishes: Sequence[Party], stopped: Mapping[str, Belief]
) -> tuple[str, ...]:
    """What would let all of it hold, a sentence each; nothing if nobody can say.

    wishes: what must be heard. stopped: the keys of rules that stand against it, each
    with a belief in which it is broken.
    """
    studio = judge.studio
    known = {key: party_of(studio, key) for key in stopped}
    parties = dict.fromkeys((*wishes, *(p for p in known.values() if p is not None)))
    said = dict.fromkeys(_apart(studio, tuple(parties)))
    for key, belief in stopped.items():
        said |= dict.fromkeys(_through_air(judge, key, known[key], belief))
    return tuple(said)


def party_of(studio: Studio, key: str) -> Party | None:
    """Listener and source that the key of a breach speaks of (see `Breach.key`)."""
    _, _, about = key.partition(": ")
    for sentence in studio.sentences:
        if sentence.text == about:
            return sentence.listener, sentence.source
    for source in studio.sources:
        for listener in studio.listeners:
            if about == f"{source.name} to {listener.name}":
                return listener.name, source.name
    return None


def _apart(studio: Studio, parties: Sequence[Party]) -> Iterator[str]:
    """Pairs of demands that fail on a lane or on a send that is shared."""
    sources = {source.name: source for source in studio.sources}
    listeners = {listener.name: listener for listener in studio.listeners}
    for (who, what), (whom, other) in combinations(parties, 2):
        if what != other:
            yield from _lane_each(studio, sources[what], sources[other])
        if who != whom:
            yield from _send_each(studio, listeners[who], listeners[whom])


def _lane_each(studio: Studio, one: Source, other: Source) -> Iterator[str]:
    if other.name in heard_with(studio, (one.name,)):
        return  # a mouth and its microphone are one sound
    jack = shared_jack(studio, one.nodes, other.nodes)
    same = frontier(studio, one.nodes) == frontier(studio, other.nodes)
    if same and jack:
        yield (
            f"give {one.name} or {other.name} a return pair or an input of its own "
            f"(both come on {jack})"
        )


def _send_each(studio: Studio, one: Listener, other: Listener) -> Iterator[str]:
    jack = shared_jack(studio, one.nodes, other.nodes, onward=False)
    gates = [frontier(studio, x.nodes, onward=False) for x in (one, other)]
    if jack and gates[0] == gates[1]:
        yield (
            f"give {one.name} or {other.name} a bus and a send of its own (both take "
            f"from {jack})"
        )


def _through_air(
    judge: HouseJudge, key: str, party: Party | None, belief: Belief
) -> Iterator[str]:
    """Speakers that a live microphone hears, on the way that breaks this rule."""
    studio = judge.studio
    corner = judge.scope(belief, Bound.LOUDEST).corner
    names = {node: gear for gear in studio.air_gear for node in gear.nodes}
    for source, target in _way(studio, corner, key, party):
        near, far = names.get(source), names.get(target)
        if near is None or far is None:
            continue
        if (near.kind, far.kind) == (Transducer.SPEAKERS, Transducer.MICROPHONE):
            yield (
                f"listen on headphones, move {near.name} and {far.name} apart, or turn "
                f"{far.name} away (what {near.name} play comes back by it)"
            )


def _way(
    studio: Studio, corner: Corner, key: str, party: Party | None
) -> list[tuple[int, int]]:
    """The edges of the loop, or of the strongest path, as pairs of nodes."""
    if key == howl.RULE:
        parts = [set(part) for part in strong_components(corner.gains)]
        return [
            (source, flow.target)
            for source, flows in corner.out.items()
            for flow in flows
            if any({source, flow.target} <= part for part in parts)
        ]
    if party is None:
        return []
    who, what = party
    source = next(s for s in studio.sources if s.name == what)
    listener = next(x for x in studio.listeners if x.name == who)
    paths = [p for n in listener.nodes for p in corner.arrivals(source.nodes, n).paths]
    if not paths:
        return []
    strongest = max(paths, key=lambda path: path.gain)
    edges = (studio.graph.edges[edge] for edge in strongest.edges)
    return [(edge.source, edge.target) for edge in edges]
