"""Headroom: what comes together anywhere stays below the level at which it clips.

Why: programme peaks 9 dB over its alignment level (ITU-R BS.645-2). A jack is full
where its profile says (`most: +22 dBu`), a digital one at 0 dBFS: 18 dB over alignment
level (EBU R 68) where nothing is said. What is left is for all that sounds there at a
time, added as powers, since it is not alike; a fader that is up counts as what it adds.
So an EBU scale takes eight equal sources at nominal level.

Of jacks on one way the one that clips first is named: there the level must come down.
Advice, not an error: a hand on a fader mends it, and nobody talks all the time.

Passes: two voices and jingles at nominal level.
Fails: the same jingles turned up by 10 dB.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from bridge.core.ceiling import Ceiling
from bridge.core.graph import Transducer
from bridge.core.patch_levels import PERMITTED_MAXIMUM_DB
from bridge.core.rules.breach import Breach, Scope
from bridge.core.units import gain_words, power_decibels

RULE = "headroom"


def broken(scope: Scope) -> Iterator[Breach]:
    """Every jack that clips first on its way, the fullest first."""
    over = []
    powers = _powers(scope)
    for ceiling in scope.studio.ceilings:
        power = max(powers[node] for node in ceiling.nodes)
        excess_db = power_decibels(power) - (ceiling.room_db - PERMITTED_MAXIMUM_DB)
        if 1e-6 < excess_db < math.inf:
            over.append((excess_db, power, ceiling))
    if not over:
        return
    behind = {c.jack: scope.corner.reached_from(c.nodes) for _, _, c in over}
    # Of two that are as full the one before the other clips first.
    over.sort(key=lambda one: (-round(one[0], 6), -len(behind[one[2].jack])))
    said: list[Ceiling] = []
    for _, power, ceiling in over:
        if not any(_on_one_way(behind, ceiling, other) for other in said):
            said.append(ceiling)
            yield _breach(scope, ceiling, power, behind[ceiling.jack])


def _on_one_way(behind: dict[str, set[int]], one: Ceiling, other: Ceiling) -> bool:
    return not (
        behind[one.jack].isdisjoint(other.nodes)
        and behind[other.jack].isdisjoint(one.nodes)
    )


def _powers(scope: Scope) -> dict[int, float]:
    """The sum of all that sounds by itself; a microphone only passes it on."""
    nodes = {node for ceiling in scope.studio.ceilings for node in ceiling.nodes}
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


def _breach(scope: Scope, ceiling: Ceiling, power: float, behind: set[int]) -> Breach:
    far = [x.name for x in scope.studio.listeners if x.far and behind & set(x.nodes)]
    most_db = ceiling.room_db - PERMITTED_MAXIMUM_DB
    level_db = power_decibels(power)
    return Breach(
        rule=RULE,
        harm=math.sqrt(power),
        message=f"{ceiling.jack} clips first: too much comes together there",
        measured=f"{gain_words(level_db)} re nominal, added as powers: "
        f"{gain_words(level_db - most_db).removeprefix('+')} too much",
        limit=f"at most {gain_words(most_db)}, which leaves 9 dB for peaks "
        f"({ceiling.words})",
        about=(ceiling.jack, *far),
    )
