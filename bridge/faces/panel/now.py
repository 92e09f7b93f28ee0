"""The view *now*: the listening path, the scene, what may be pressed, safe or not.

Everything here is a pure function from values to what JSON can hold. `quick` is what
needs no reckoning and is sent at once; `safety` and `hearing` take a judge.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from bridge.core.belief import Belief, settled
from bridge.core.button import Button
from bridge.core.control import Control
from bridge.core.cures import set_words, value_words
from bridge.core.entries import Worn
from bridge.core.explain import finding_of
from bridge.core.graph import AirGear, Listener, Scale, Source, Transducer
from bridge.core.hearing import Bound, Corner
from bridge.core.judge import HouseJudge
from bridge.core.knowledge import Ground
from bridge.core.rounds import next_of
from bridge.core.rules.demands import PASCAL_DB_SPL
from bridge.core.studio import Studio
from bridge.core.units import decibels
from bridge.core.wear import advice
from bridge.core.wire import Value
from bridge.faces.panel.snapshot import Believed, Record, Snapshot
from bridge.faces.report import shown

Json = dict[str, Any]

MOST_WHY = 4
"""Broken rules told at once; more would not be read in a hurry."""

_FLYING = frozenset({Ground.IN_FLIGHT, Ground.UNCONFIRMED, Ground.ASKED, Ground.UNSAID})


def quick(studio: Studio, look: Snapshot, records: Sequence[Record]) -> Json:
    """All that the service itself knows, for a page that is open."""
    return {
        "studio": shown(studio.name),
        "state": look.state,
        "heading": shown(look.heading),
        "scenes": [_scene(name, look) for name in studio.scenes],
        "buttons": [_button(button, look) for button in studio.buttons],
        "belief": [_believed(studio, b, look.at) for b in look.believed],
        "hand": hand_steps(studio, look.by_hand),
        "later": hand_steps(studio, look.later_by_hand),
        "unsure": [_unsure(studio.controls[name]) for name in look.unsure_by_hand],
        "absent": [
            {"port": shown(port), "why": shown(why)}
            for port, why in sorted(look.absent.items())
        ],
        "notes": [
            {"head": shown(head), "lines": [shown(line) for line in lines]}
            for head, lines in look.notes
        ],
        "worn": [_worn(worn) for worn in look.worn],
        "last": [told(record, look.at) for record in list(records)[-3:][::-1]],
    }


def _worn(worn: Worn) -> Json:
    """A relay's operations, and what to do about them, if it is time."""
    said = advice(worn)
    return {
        "words": shown(
            f"{worn.control}: {worn.operations:,} of {worn.life:,} operations"
        ),
        "cure": shown(said[1]) if said is not None else "",
    }


def told(record: Record, now: float) -> Json:
    """One record as the page shows it; `age` in seconds."""
    return {
        "told": record.told.value,
        "words": shown(record.words),
        "cure": shown(record.cure),
        "scene": shown(record.scene),
        "age": round(max(0.0, now - record.at), 3),
        "when": round(record.when, 3),
    }


def _scene(name: str, look: Snapshot) -> Json:
    return {
        "name": shown(name),
        "id": name,
        "here": name in look.scenes,
        "coming": name == look.heading,
    }


def _button(button: Button, look: Snapshot) -> Json:
    """What each gesture of a button would lead to, if it were made now."""
    here = (look.heading,) if look.heading else look.scenes
    return {
        "name": shown(button.name),
        "id": button.name,
        "gestures": [
            {
                "gesture": gesture.value,
                "next": shown(next_of(names, here)),
                "round": [shown(name) for name in names],
            }
            for gesture, names in button.rounds.items()
        ],
    }


def _believed(studio: Studio, here: Believed, now: float) -> Json:
    control = studio.controls[here.control]
    return {
        "control": shown(control.name),
        "label": shown(control.label),
        "gear": shown(control.gear),
        "reach": control.reach.value,
        "values": [shown(w) for w in sorted(map(value_words, here.values))],
        "kind": kind_of(here),
        "ground": here.ground.value,
        "age": round(max(0.0, now - here.since), 1),
    }


def kind_of(here: Believed) -> str:
    """Known, moved by hand, in flight or unknown: the four that a person must see."""
    if here.ground is Ground.HAND:
        return "hand"
    if here.ground in _FLYING and len(here.values) > 1:
        return "flight"
    return "known" if len(here.values) == 1 else "unknown"


def hand_steps(studio: Studio, asked: Iterable[tuple[str, Value]]) -> list[Json]:
    """What the person is to set by hand, in the words of the gear."""
    return [
        {
            "control": shown(studio.controls[name].label),
            "words": shown(set_words(studio.controls[name], value)),
        }
        for name, value in asked
    ]


def _unsure(control: Control) -> Json:
    """A control that only a person can look at: what they may say of it."""
    return {
        "id": control.name,
        "label": shown(control.label),
        "gear": shown(control.gear),
        "values": [
            {"value": value_words(value), "words": shown(set_words(control, value))}
            for value in control.values
        ],
    }


# What needs reckoning


def safety(judge: HouseJudge, look: Snapshot) -> Json:
    """Whether a never-rule is or may be broken now, which, and what would mend it."""
    belief = look.belief
    broken = judge.never_breaches(belief)
    unheard = [
        breach
        for scene in look.scenes or (None,)
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
        "ways": [shown(name) for name in safe_scenes(judge, belief)] if broken else [],
        "missing": list(
            dict.fromkeys(shown(b.sentence.text) for b in unheard if b.sentence)
        ),
    }


def safe_scenes(judge: HouseJudge, belief: Belief) -> list[str]:
    """The scenes in which no never-rule would be broken."""
    return [
        scene.name
        for scene in judge.studio.scenes.values()
        if not judge.nevers_broken(settled(belief, scene.values))
    ]


def hearing(judge: HouseJudge, belief: Belief) -> list[Json]:
    """For each listener: on what they listen, what they hear, and what perhaps."""
    loud = judge.scope(belief, Bound.LOUDEST).corner
    quiet = judge.scope(belief, Bound.QUIETEST).corner
    return [
        _listening(judge.studio, who, loud, quiet) for who in judge.studio.listeners
    ]


def _listening(studio: Studio, who: Listener, loud: Corner, quiet: Corner) -> Json:
    named: dict[str, list[str]] = {"hears": [], "perhaps": [], "faint": []}
    for source in talking(studio):
        at_most = max(_typical(loud, source, node) for node in who.nodes)
        at_least = max(_typical(quiet, source, node) for node in who.nodes)
        if is_audible(studio, who, at_least):
            named["hears"].append(shown(source.name))
        elif is_audible(studio, who, at_most):
            named["perhaps"].append(shown(source.name))
        elif at_most:
            named["faint"].append(shown(source.name))
    surely = _playing(studio, who, quiet)
    return {
        "name": shown(who.name),
        "far": who.far,
        "feed": who.far and who.person is None,
        "on": [_on(gear, sure=gear in surely) for gear in _playing(studio, who, loud)],
        **named,
    }


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
