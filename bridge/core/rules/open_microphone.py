"""Open microphone, open speakers: the two live in one room.

Why: what the speakers play goes into the microphone, and on to whoever hears it, as
spill and as colour, and it is the first half of a howl. Broadcast studios cut the
speakers while a microphone is live (common practice, no source); here that strict
form is a choice, and the plain form an advice with the predicted spill.

Passes: speakers cut, or the microphone on no bus, while the other is live.
Fails: a call on the speakers while the microphone is on the air.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.core.graph import AirGear, Transducer
from bridge.core.rules.breach import Breach, Scope
from bridge.core.units import decibels, gain_words

RULE = "open-microphone"


def broken(scope: Scope) -> Iterator[Breach]:
    """Every microphone that is heard somewhere while speakers in its room play."""
    kinds = {
        kind: [g for g in scope.studio.air_gear if g.kind is kind]
        for kind in Transducer
    }
    heard = {node for listener in scope.studio.listeners for node in listener.nodes}
    for microphone in kinds[Transducer.MICROPHONE]:
        goes_to = scope.corner.reached_from(microphone.nodes)
        for speakers in kinds[Transducer.SPEAKERS]:
            if speakers.room != microphone.room or not _plays(scope, speakers):
                continue
            spill = _spill(scope, speakers, microphone)
            if spill and goes_to & (heard | set(speakers.nodes)):
                yield Breach(
                    rule=RULE,
                    harm=spill,
                    message=f"{microphone.name} is live while {speakers.name} play",
                    measured=f"spill {_re_speech(decibels(spill))}",
                    limit="one of the two at a time",
                    about=(microphone.name, speakers.name),
                )


def _re_speech(level_db: float) -> str:
    side = "above" if level_db > 0.0 else "below"
    return f"{gain_words(abs(level_db)).removeprefix('+')} {side} nominal speech"


def _plays(scope: Scope, speakers: AirGear) -> bool:
    return any(
        set(speakers.nodes) & scope.corner.reached_from(source.nodes)
        for source in scope.studio.sources
    )


def _spill(scope: Scope, speakers: AirGear, microphone: AirGear) -> float:
    return sum(
        flow.gain
        for node in speakers.nodes
        for flow in scope.corner.out.get(node, ())
        if flow.target in microphone.nodes
    )
