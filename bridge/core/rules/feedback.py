"""A howl as handbooks reckon it: open microphones, potential and needed gain.

The rule judges the limit, everything in step. Beside it stands what is typical: powers
add up, so that N equal open microphones cost 10 log N and not 20 log N; and for one
who talks and one who listens in the same room, PAG and NAG (Handbook for Sound
Engineers, sec. 34.2.2; Sound System Design Reference Manual, ch. 4). They hold for
microphones without direction, which lets a good microphone do better.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from bridge.core.graph import AirGear, Transducer
from bridge.core.loops import loop_gain, strong_components
from bridge.core.rooms import (
    Reinforcement,
    needed_gain_db,
    open_microphones_db,
    potential_gain_db,
)
from bridge.core.rules.breach import Scope
from bridge.core.studio import Person, Studio
from bridge.core.units import decibels, gain_words, speed_of_sound

EQUIVALENT_M: Final = 2.44
"""As near should the talker seem (EAD): 8 feet, in quiet (Handbook for Sound
Engineers, p. 1658)."""

SMALL_GAIN_DB: Final = 12.0
"""With less potential gain than this, move things (Digital Sound and Music, p. 204)."""


@dataclass(frozen=True, slots=True)
class BeforeFeedback:
    """The gain that there may be, and that there should be, from one to another."""

    talker: str
    listener: str
    potential_db: float
    needed_db: float

    @property
    def words(self) -> str:
        """In one line, with what it means."""
        verdict = "enough"
        if self.potential_db < self.needed_db:
            verdict = "not enough: move things"
        elif self.potential_db < SMALL_GAIN_DB:
            verdict = "just enough; below 12 dB it is better to move things"
        return (
            f"{self.talker} to {self.listener}: potential gain "
            f"{_plain(self.potential_db)}, needed {_plain(self.needed_db)}, {verdict}"
        )


def words(scope: Scope, loop: tuple[int, ...]) -> str:
    """What handbooks say of the component that this loop is in, a line each."""
    inside = _component(scope, loop)
    lines = []
    typical = typical_gain(scope, inside)
    if typical:
        level = gain_words(decibels(typical)) if typical < math.inf else "above 0 dB"
        lines.append(f"typical loop gain, summed as powers: {level}")
    open_ones = open_microphones(scope.studio, inside)
    if len(open_ones) > 1:
        cost = open_microphones_db(len(open_ones))
        lines.append(
            f"{len(open_ones)} open microphones: {cost:.1f} dB typically (10 log N), "
            f"{2.0 * cost:.1f} dB in step, which is the limit here"
        )
    lines += [found.words for found in before_feedback(scope.studio, inside)]
    return "\n".join(lines)


def typical_gain(scope: Scope, inside: frozenset[int]) -> float:
    """The loop gain (amplitude) if what meets on the way adds up as powers."""
    powers: dict[int, dict[int, float]] = {}
    for source in inside:
        for flow in scope.corner.out.get(source, ()):
            if flow.target in inside:
                row = powers.setdefault(source, {})
                row[flow.target] = row.get(flow.target, 0.0) + flow.gain**2
    return math.sqrt(loop_gain(powers))


def open_microphones(studio: Studio, inside: frozenset[int]) -> tuple[AirGear, ...]:
    """The microphones that a loop goes through."""
    return tuple(
        gear
        for gear in studio.air_gear
        if gear.kind is Transducer.MICROPHONE and not inside.isdisjoint(gear.nodes)
    )


def before_feedback(
    studio: Studio, inside: frozenset[int], equivalent_m: float = EQUIVALENT_M
) -> Iterator[BeforeFeedback]:
    """PAG and NAG for everybody who talks into the loop and everybody who listens.

    Each by the microphone that is nearest to who talks. inside: the nodes of the
    loop's component. Only where the plan says where both are.
    """
    away = _air_distances(studio)
    mouths = {s.person: s.nodes for s in studio.sources if s.person is not None}
    ears = {x.person: x.nodes for x in studio.listeners if x.person is not None}
    microphones = open_microphones(studio, inside)
    loud = [
        gear
        for gear in studio.air_gear
        if gear.kind is Transducer.SPEAKERS and not inside.isdisjoint(gear.nodes)
    ]
    for talker, listener, apart in _pairs(studio.people):
        reached = [
            (near, microphone)
            for microphone in microphones
            if (near := _nearest(away, mouths.get(talker, ()), microphone.nodes))
        ]
        if not reached:
            continue
        near, microphone = min(reached, key=lambda pair: pair[0])
        for speakers in loud:
            back = _nearest(away, speakers.nodes, microphone.nodes)
            far = _nearest(away, speakers.nodes, ears.get(listener, ()))
            if back is None or far is None:
                continue
            plan = Reinforcement(near, apart, back, far, len(microphones))
            yield BeforeFeedback(
                talker,
                listener,
                potential_gain_db(plan, microphone.critical_m),
                needed_gain_db(plan, equivalent_m, microphone.critical_m),
            )


def _component(scope: Scope, loop: tuple[int, ...]) -> frozenset[int]:
    parts = strong_components(scope.corner.gains)
    return next((frozenset(p) for p in parts if loop[0] in p), frozenset(loop))


def _pairs(people: tuple[Person, ...]) -> Iterator[tuple[str, str, float]]:
    """Who talks, who listens in the same room, and how far from each other they are."""
    here = [p for p in people if p.spot_m is not None]
    for talker in here:
        for listener in here:
            if talker is listener or talker.room != listener.room:
                continue
            if talker.spot_m and listener.spot_m:
                apart = math.dist(talker.spot_m, listener.spot_m)
                if apart > 0.0:
                    yield talker.name, listener.name, apart


def _air_distances(studio: Studio) -> Mapping[tuple[int, int], float]:
    """Metres between nodes, by how long sound takes through the air."""
    return {
        (edge.source, edge.target): edge.delay_ms / 1000.0 * speed_of_sound()
        for edge in studio.graph.edges
        if edge.through_air and edge.delay_ms
    }


def _nearest(
    away: Mapping[tuple[int, int], float],
    sources: tuple[int, ...],
    targets: tuple[int, ...],
) -> float | None:
    found = (away.get((a, b)) for a in sources for b in targets)
    return min((d for d in found if d is not None), default=None)


def _plain(gain_db: float) -> str:
    return gain_words(gain_db).removeprefix("+")
