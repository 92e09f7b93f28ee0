"""What of the view *now* takes a judge: is it safe, who hears what.

Pure functions from values to what JSON can hold. They judge as the machine does: while
a recall that comes in one instant is under way, all of it has come or none of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import chain
from typing import Any

from bridge.core.belief import Belief, settled
from bridge.core.explain import finding_of
from bridge.core.graph import AirGear, Listener, Scale, Source, Transducer
from bridge.core.hearing import Bound, Corner
from bridge.core.judge import HouseJudge
from bridge.core.rules.breach import Breach
from bridge.core.rules.demands import PASCAL_DB_SPL
from bridge.core.studio import Studio
from bridge.core.units import decibels
from bridge.faces.panel.snapshot import Snapshot
from bridge.faces.report import shown

Json = dict[str, Any]

MOST_WHY = 4
"""Broken rules told at once; more would not be read in a hurry."""


def safety(judge: HouseJudge, look: Snapshot) -> Json:
    """Whether a never-rule is or may be broken now, which, and what would mend it."""
    possible = look.possible
    broken = _worst(judge.never_breaches(belief) for belief in possible)
    unheard = [
        breach
        for scene in look.scenes or (None,)
        for belief in possible
        for breach in judge.need_breaches(belief, scene)
    ]
    unsure = [b.control for b in look.believed if len(b.values) > 1]
    state = "safe" if not broken else "unsure" if unsure else "unsafe"
    findings = [finding_of(breach) for breach in broken[:MOST_WHY]]
    labels = [shown(judge.studio.controls[name].label) for name in unsure]
    return {
        "state": state,
        "why": [
            {
                "rule": finding.rule,
                "message": shown(finding.message),
                "measured": shown(finding.measured),
                "limit": shown(finding.limit),
                "note": shown(finding.note),
            }
            for finding in findings
        ],
        "more": max(0, len(broken) - MOST_WHY),
        "unsure": labels if broken else [],
        "ways": [shown(name) for name in safe_scenes(judge, possible)]
        if broken
        else [],
        "missing": list(
            dict.fromkeys(shown(b.sentence.text) for b in unheard if b.sentence)
        ),
    }


def _worst(found: Iterable[Iterable[Breach]]) -> list[Breach]:
    """Each broken rule once, as bad as it may be."""
    worst: dict[str, Breach] = {}
    for breach in chain.from_iterable(found):
        known = worst.get(breach.key)
        if known is None or breach.harm > known.harm:
            worst[breach.key] = breach
    return list(worst.values())


def safe_scenes(judge: HouseJudge, possible: Sequence[Belief]) -> list[str]:
    """The scenes in which no never-rule would be broken."""
    return [
        scene.name
        for scene in judge.studio.scenes.values()
        if not any(judge.nevers_broken(settled(b, scene.values)) for b in possible)
    ]


def hearing(judge: HouseJudge, possible: Sequence[Belief]) -> list[Json]:
    """For each listener: on what they listen, what they hear, and what perhaps.

    possible: beliefs of which one is true.
    """
    loud = [judge.scope(b, Bound.LOUDEST).corner for b in possible]
    quiet = [judge.scope(b, Bound.QUIETEST).corner for b in possible]
    return [
        _listening(judge.studio, who, loud, quiet) for who in judge.studio.listeners
    ]


def _listening(
    studio: Studio, who: Listener, loud: Sequence[Corner], quiet: Sequence[Corner]
) -> Json:
    named: dict[str, list[str]] = {"hears": [], "perhaps": [], "faint": []}
    for source in talking(studio):
        at_most = max(_loudest(corner, source, who) for corner in loud)
        at_least = min(_loudest(corner, source, who) for corner in quiet)
        if is_audible(studio, who, at_least):
            named["hears"].append(shown(source.name))
        elif is_audible(studio, who, at_most):
            named["perhaps"].append(shown(source.name))
        elif at_most:
            named["faint"].append(shown(source.name))
    perhaps = {g.name: g for c in loud for g in _playing(studio, who, c)}
    surely = [{g.name for g in _playing(studio, who, c)} for c in quiet]
    return {
        "name": shown(who.name),
        "far": who.far,
        "feed": who.far and who.person is None,
        "on": [
            _on(gear, sure=all(name in here for here in surely))
            for name, gear in perhaps.items()
        ],
        **named,
    }


def _loudest(corner: Corner, source: Source, who: Listener) -> float:
    return max(_typical(corner, source, node) for node in who.nodes)


def _typical(corner: Corner, source: Source, node: int) -> float:
    """The power sum of all arrivals, as an amplitude; infinite if it howls."""
    arrivals = corner.arrivals(source.nodes, node)
    squares = (path.gain**2 for path in arrivals.paths)
    return math.sqrt(sum(squares) + arrivals.remainder**2)


def talking(studio: Studio) -> list[Source]:
    """The sources by their own names: who speaks into a microphone, not it."""
    microphones = {g.name for g in studio.air_gear if g.kind is Transducer.MICROPHONE}
    return [s for s in studio.sources if s.name not in microphones]


def is_audible(studio: Studio, who: Listener, gain: float) -> bool:
    """Whether this amplitude at an ear is one that `hears` means."""
    limits = studio.limits
    if who.scale is Scale.EAR:
        return gain > 0 and decibels(gain) + PASCAL_DB_SPL >= limits.audible_ear_db_spl
    return gain > 0 and decibels(gain) >= limits.audible_line_db


def _on(gear: AirGear, *, sure: bool) -> Json:
    return {"name": shown(gear.name), "kind": gear.kind.value, "sure": sure}


def _playing(studio: Studio, who: Listener, corner: Corner) -> list[AirGear]:
    """The speakers and headphones that carry sound to this listener by themselves."""
    reached = corner.reached_from(n for s in studio.sources for n in s.nodes)
    found = []
    for gear in studio.air_gear:
        if gear.kind is Transducer.MICROPHONE:
            continue
        to_ear = {f.target for n in gear.nodes for f in corner.out.get(n, ())}
        if to_ear & set(who.nodes) and reached & set(gear.nodes):
            found.append(gear)
    return found
