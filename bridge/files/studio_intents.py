"""Scenes that say who should hear what, instead of switch by switch.

    call: {hears: {guest: [host, jingles], stream: everything}, listening on: phones}

A listener that is named hears what is listed and nothing else. Other lines of the
scene hold as well. The setting with the fewest open switches is searched, under all
house rules; what cannot be is a finding that names the wishes which collide.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from bridge.core.control import Reach, Scene
from bridge.core.finding import Place
from bridge.core.graph import Listener
from bridge.core.intent import Found, Impossible, Intent, solve
from bridge.core.judge import HouseJudge
from bridge.core.kin import heard_with
from bridge.core.studio import Studio
from bridge.core.wire import Value
from bridge.files.notes import Notes
from bridge.files.shapes import unknown_name, wrong
from bridge.files.tree import Listing, Node, Table, Text

HEARS, LISTENING_ON, EVERYTHING = "hears", "listening on", "everything"


@dataclass(frozen=True, slots=True)
class Wanted:
    """An intent as it was written: the two lines, and what else the scene sets."""

    hears: Node
    listening_on: Node | None
    given: Mapping[str, Value]
    place: Place


def with_intents(
    studio: Studio, wanted: Mapping[str, Wanted], order: list[str], notes: Notes
) -> tuple[Studio, dict[str, Found]]:
    """The studio with a setting for each intent, and what was found for each.

    order: the names of all scenes, as the file has them.
    """
    judge = HouseJudge(studio)
    found: dict[str, Found] = {}
    scenes = dict(studio.scenes)
    for name, one in wanted.items():
        intent = _Reader(studio, notes).read(one)
        if intent is None:
            continue
        answer = solve(judge, intent)
        if isinstance(answer, Impossible):
            _impossible(notes, name, answer, one.place)
            continue
        found[name] = answer
        remote = {n for n, c in studio.controls.items() if c.reach is Reach.REMOTE}
        said = remote | set(one.given)
        values = {n: v for n, v in answer.setting.items() if n in said}
        scenes[name] = Scene(name, values, one.place)
    ordered = {name: scenes[name] for name in order if name in scenes}
    return replace(studio, scenes=ordered), found


def _impossible(notes: Notes, name: str, answer: Impossible, place: Place) -> None:
    wishes = " and ".join(f"{who} hears {what}" for who, what in answer.wishes)
    if answer.given_up:
        notes.error(
            "intent-too-large",
            f"scene {name}: the search for a setting was given up",
            place,
            cure="say fewer wishes, or set the switches themselves",
        )
        return
    notes.error(
        "intent-impossible",
        f"scene {name}: no setting of this gear does it: {wishes or 'as it is given'}",
        place,
        note=f"what stands against it: {'; '.join(answer.because)}",
        cure="; or ".join(("leave one of these wishes out", *answer.apart)),
    )


class _Reader:
    def __init__(self, studio: Studio, notes: Notes) -> None:
        self.studio = studio
        self.notes = notes
        self.listeners = {x.name: x for x in studio.listeners}
        self.sources = [source.name for source in studio.sources]

    def read(self, wanted: Wanted) -> Intent | None:
        """The intent with its names resolved, or None after noting what is wrong."""
        if not isinstance(wanted.hears, Table):
            wrong(self.notes, wanted.hears, "a table: listeners with what they hear")
            return None
        hears = {}
        whole = True
        for key, node in wanted.hears:
            listener = self.listeners.get(key.value)
            if listener is None:
                self._unknown("the listener", key, list(self.listeners))
            names = self._names(node, listener)
            if listener is None or names is None:
                whole = False
            else:
                hears[key.value] = names
        gear = self._gear(wanted.listening_on)
        if not whole or gear is None:
            return None
        near = [n for n in hears if not self.listeners[n].far]
        on = dict.fromkeys(near, gear) if gear else {}
        return Intent(hears, on, {**self._as_hands_left_it(), **wanted.given})

    def _as_hands_left_it(self) -> dict[str, Value]:
        """What is set by hand is no message's business: a wish is met around it."""
        return {
            name: control.at_power_up
            for name, control in self.studio.controls.items()
            if control.reach is Reach.HAND and control.at_power_up is not None
        }

    def _names(self, node: Node, listener: Listener | None) -> tuple[str, ...] | None:
        if isinstance(node, Text) and node.value == EVERYTHING:
            return self._everything(listener) if listener else None
        if not isinstance(node, Listing):
            wrong(self.notes, node, "a list of sources, or everything")
            return None
        names = []
        for item in node:
            if isinstance(item, Text) and item.value in self.sources:
                names.append(item.value)
            elif isinstance(item, Text):
                self._unknown("the source", item, self.sources)
            else:
                wrong(self.notes, item, "the name of a source")
        return tuple(names) if len(names) == len(node.items) else None

    def _everything(self, listener: Listener) -> tuple[str, ...]:
        """All sources but one's own voice, and for far ones what is private."""
        own = {
            source.name
            for source in self.studio.sources
            if source.person is not None and source.person == listener.person
        }
        own_and_microphone = heard_with(self.studio, own)
        return tuple(
            source.name
            for source in self.studio.sources
            if source.name not in own_and_microphone
            and not (source.private and listener.far)
        )

    def _gear(self, node: Node | None) -> str | None:
        """The gear's name, "" if none is said, None after noting what is wrong."""
        if node is None:
            return ""
        known = [gear.name for gear in self.studio.air_gear]
        if not isinstance(node, Text):
            wrong(self.notes, node, "the name of headphones or speakers")
            return None
        if node.value not in known:
            self._unknown("the headphones or speakers", node, known)
            return None
        return node.value

    def _unknown(self, what: str, text: Text, known: list[str]) -> None:
        unknown_name(self.notes, "unknown-name", what, text.value, text.place, known)
