"""The view *now*: the listening path, the scene, what may be pressed, safe or not.

Pure functions from values to what JSON can hold. This needs no reckoning and is sent at
once; what takes a judge is in `judged`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from bridge.core.button import Button
from bridge.core.control import Control
from bridge.core.cures import set_words, value_words
from bridge.core.entries import Worn
from bridge.core.ground import Ground
from bridge.core.rounds import next_of
from bridge.core.studio import Studio
from bridge.core.wear import advice
from bridge.core.wire import Value
from bridge.faces.panel.lights import lamps_shown
from bridge.faces.panel.snapshot import Believed, Record, Snapshot
from bridge.faces.report import shown

Json = dict[str, Any]

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
        "lamps": lamps_shown(studio.lamps, look),
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
                "says_done": (button.name, gesture) in look.words,
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
