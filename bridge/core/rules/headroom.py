"""Headroom: what is sent away together stays below full scale.

Why: programme peaks 9 dB over its alignment level (ITU-R BS.645-2), and a digital scale
is full 18 dB over it (EBU R 68). So 9 dB are left for what is on one bus at a time:
eight equal sources at nominal level, added as powers, since they are not alike. A
fader that is up counts as what it adds.

Advice, not an error: a hand on a fader mends it, and nobody talks all the time.

Passes: two voices and jingles at nominal level.
Fails: the same jingles turned up by 10 dB.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from bridge.core.levels import EBU_ALIGNMENT_DBFS, headroom_db
from bridge.core.patch_levels import PERMITTED_MAXIMUM_DB
from bridge.core.rules.breach import Breach, Scope
from bridge.core.studio import Listener, Scale, Transducer
from bridge.core.units import gain_words, power_decibels

RULE = "headroom"

MOST_DB = headroom_db(EBU_ALIGNMENT_DBFS) - PERMITTED_MAXIMUM_DB
"""Over nominal level: 9 dB."""


def broken(scope: Scope) -> Iterator[Breach]:
    """Every feed and far person to whom too much is sent at a time."""
    listeners = [
        listener
        for listener in scope.studio.listeners
        if listener.far and listener.scale is Scale.LINE
    ]
    powers = _powers(scope, {node for x in listeners for node in x.nodes})
    for listener in listeners:
        power = max((powers[node] for node in listener.nodes), default=0.0)
        if MOST_DB + 1e-6 < power_decibels(power) < math.inf:
            yield _breach(listener, power)


def _powers(scope: Scope, nodes: set[int]) -> dict[int, float]:
    """The sum of all that sounds by itself; a microphone only passes it on."""
    microphones = {
        gear.nodes
        for gear in scope.studio.air_gear
        if gear.kind is Transducer.MICROPHONE
    }
    powers = dict.fromkeys(nodes, 0.0)
    for source in scope.studio.sources:
        if source.nodes not in microphones:
            totals = scope.corner.totals(source.nodes)
            for node in nodes & totals.keys():
                powers[node] += totals[node] ** 2
    return powers


def _breach(listener: Listener, power: float) -> Breach:
    return Breach(
        rule=RULE,
        harm=math.sqrt(power),
        message=f"what is sent to {listener.name} together leaves too little headroom",
        measured=f"{gain_words(power_decibels(power))} re nominal, added as powers",
        limit=f"at most {gain_words(MOST_DB)}: 18 dB to full scale, 9 dB for peaks",
        about=(listener.name,),
    )
