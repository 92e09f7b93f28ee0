"""Inseparable: two sources on one lane cannot be routed apart.

Why: programs that play on the same return pair reach the desk as one signal. If one
must be heard and the other must not, no button of the desk can do it; this is the
commonest trap when a computer has a single stereo return.

Found in the graph: two sources are inseparable if everything that can be switched
behind the one is behind the other too, and nothing else is. It is independent of the
setting, so it is checked once for a studio.

Passes: call and jingles on two return pairs.
Fails: both on one pair, with `astronomer hears jingles` asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from bridge.core.demand import Demand
from bridge.core.graph import Listener, Source
from bridge.core.rules.breach import Breach
from bridge.core.sharing import frontier, shared_jack
from bridge.core.studio import Studio

RULE = "inseparable"


def broken(studio: Studio) -> Iterator[Breach]:
    """Every demand to hear one of two inseparable sources and not the other."""
    frontiers = {s.name: frontier(studio, s.nodes) for s in studio.sources}
    for one, other in combinations(studio.sources, 2):
        gated = frontiers[one.name]
        if not gated or gated != frontiers[other.name]:
            continue
        for listener in studio.listeners:
            for wanted, unwanted in ((one, other), (other, one)):
                if _wants(studio, listener, wanted) and _refuses(
                    studio, listener, unwanted
                ):
                    yield _breach(studio, listener, wanted, unwanted)


def _breach(
    studio: Studio, listener: Listener, wanted: Source, unwanted: Source
) -> Breach:
    shared = shared_jack(studio, wanted.nodes, unwanted.nodes) or "the same lane"
    own = unwanted.person is not None and unwanted.person == listener.person
    return Breach(
        rule=RULE,
        harm=1.0,
        message=(
            f"{listener.name} is to hear {wanted.name} and not "
            f"{'their own voice' if own else unwanted.name}, but both come on {shared}"
        ),
        measured=f"{wanted.name} and {unwanted.name} share {shared}",
        limit="a lane each",
        source=unwanted,
        listener=listener,
        about=(listener.name, wanted.name, unwanted.name),
    )


def _wants(studio: Studio, listener: Listener, source: Source) -> bool:
    return any(
        sentence.demand is not Demand.NEVER
        and sentence.listener == listener.name
        and sentence.source == source.name
        for sentence in studio.sentences
    )


def _refuses(studio: Studio, listener: Listener, source: Source) -> bool:
    if source.person is not None and source.person == listener.person:
        return listener.far
    if source.private and listener.far:
        return True
    return any(
        sentence.demand is Demand.NEVER
        and sentence.listener == listener.name
        and sentence.source == source.name
        for sentence in studio.sentences
    )
