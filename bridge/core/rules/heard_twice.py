"""Heard twice: one source reaches one listener by two ways, at two moments.

Why: two copies of a sound a few milliseconds apart add up to a comb (hollow, thin);
from about 50 ms on they are two sounds (Master Handbook of Acoustics, ch. 10 and
p. 75; Rakerd, Hsu and Hartmann, ASA 133). Copies more than 10 dB weaker, or less than
1 ms late, are let be.

Advice, not an error: it spoils the sound and hurts nobody. Own voice is not looked
at: `own_voice` is about that. A microphone passes on a voice that is looked at itself.

Passes: jingles to the stream straight from the desk.
Fails: the same, and once more by the speakers and the open microphone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from bridge.core.doubling import (
    ECHO_MS,
    comb_dip_db,
    doubling,
    first_notch_hz,
)
from bridge.core.graph import Listener, Source, Transducer
from bridge.core.hearing import lanes_together
from bridge.core.kin import heard_with
from bridge.core.rules.breach import Breach, Scope
from bridge.core.studio import Studio
from bridge.core.units import (
    amplitude,
    decibels,
    delay_words,
    frequency_words,
    gain_words,
)
from bridge.core.walks import Arrival

RULE = "heard-twice"
EARLIEST_MS = 1.0
WEAKEST_DB = -10.0


def broken(scope: Scope) -> Iterator[Breach]:
    """Every pair in which a second arrival is late and strong enough."""
    passed_on = _passed_on(scope.studio)
    for source in scope.studio.sources:
        doubled = scope.corner.doubled(source.nodes)
        if not doubled or source.name in passed_on:
            continue
        for listener in scope.studio.listeners:
            if doubled.isdisjoint(listener.nodes):
                continue
            if source.person is None or source.person != listener.person:
                worst = two_arrivals(scope, source, listener)
                if worst is not None:
                    yield _breach(source, listener, *worst)


def _passed_on(studio: Studio) -> set[str]:
    """Microphones with somebody before them: what they pass on is that voice."""
    microphones = {
        gear.nodes for gear in studio.air_gear if gear.kind is Transducer.MICROPHONE
    }
    people = {source.name for source in studio.sources if source.person is not None}
    return {
        source.name
        for source in studio.sources
        if source.nodes in microphones and people & heard_with(studio, (source.name,))
    }


def two_arrivals(
    scope: Scope, source: Source, listener: Listener
) -> tuple[Arrival, Arrival] | None:
    """The strongest arrival and the strongest that counts as a second."""
    found: tuple[Arrival, Arrival] | None = None
    doubled = scope.corner.doubled(source.nodes)
    for node in listener.nodes:
        if node not in doubled:
            continue
        paths = scope.corner.arrivals(source.nodes, node).paths
        first, *others = lanes_together(scope.studio.graph, paths) or (None,)
        for other in others:
            if first is None or other.gain < first.gain * amplitude(WEAKEST_DB):
                break
            apart = abs(other.delay_ms - first.delay_ms)
            if apart >= EARLIEST_MS and (found is None or other.gain > found[1].gain):
                found = (first, other)
                break
    return found


def _breach(
    source: Source, listener: Listener, first: Arrival, other: Arrival
) -> Breach:
    apart = abs(other.delay_ms - first.delay_ms)
    weaker_db = decibels(other.gain / first.gain)
    effect = doubling(apart).value
    if apart < ECHO_MS:
        notch = frequency_words(first_notch_hz(apart))
        effect += f", first notch {notch}, {_deep(comb_dip_db(weaker_db))}"
    return Breach(
        rule=RULE,
        harm=other.gain,
        message=f"{listener.name} hears {source.name} by two ways ({effect})",
        measured=f"{_apart(weaker_db)} and {delay_words(apart)} apart",
        limit=f"over {_apart(WEAKEST_DB)}, or under {delay_words(EARLIEST_MS)} apart",
        source=source,
        listener=listener,
    )


def _apart(difference_db: float) -> str:
    return gain_words(abs(difference_db)).removeprefix("+")


def _deep(dip_db: float) -> str:
    return "total" if math.isinf(dip_db) else f"{_apart(dip_db)} deep"
