"""Buttons: where their messages come from, and the scenes their gestures lead to."""

from __future__ import annotations

from collections.abc import Collection

from bridge.core.button import Button, Gesture
from bridge.core.finding import Place
from bridge.core.wire import Key
from bridge.files.button_sources import read_source
from bridge.files.schema_buttons import ButtonPart
from bridge.files.shapes import unknown_name
from bridge.files.studio_draft import Draft, whole
from bridge.files.studio_ports import Ports
from bridge.files.tree import Text

HOLD_MS = 600.0
"""When a press becomes a hold: longer than a tap, shorter than patience (no source)."""

LOCKOUT_MS = 40.0
"""For how long a contact may bounce; a survey of switches found 6 ms, some far more
(Ganssle, Guide to Debouncing, secondary)."""


def read_buttons(
    draft: Draft, ports: Ports, scenes: Collection[str]
) -> tuple[Button, ...]:
    """Read every button; notes what is wrong."""
    buttons = []
    taken: dict[Key, str] = {}
    for name, part, place in whole(draft.part.buttons):
        found = read_source(draft, ports, name, part.source)
        rounds = _rounds(draft, name, part, scenes, place)
        if found is None:
            continue
        key, down_from = found
        other = taken.setdefault(key, name)
        if other != name:
            draft.notes.error(
                "button-taken",
                f"{name} and {other} are pressed by the same messages",
                part.source.place,
                cure="give one of them other messages",
            )
        contact = part.contact.value if part.contact else "momentary"
        buttons.append(
            Button(
                name,
                key,
                down_from,
                rounds,
                latching=contact == "latching",
                inverted=contact == "normally closed",
                hold_ms=part.hold_after.value if part.hold_after else HOLD_MS,
                lockout_ms=part.lockout.value if part.lockout else LOCKOUT_MS,
                place=place,
            )
        )
    return tuple(buttons)


def _rounds(
    draft: Draft, name: str, part: ButtonPart, scenes: Collection[str], place: Place
) -> dict[Gesture, tuple[str, ...]]:
    said: dict[Gesture, tuple[Text, ...]] = {
        Gesture.TAP: part.tap,
        Gesture.HOLD: part.hold,
        Gesture.DOUBLE: part.double,
        Gesture.RELEASE: part.release,
    }
    if not any(said.values()):
        draft.notes.error(
            "missing-key",
            f"{name}: no gesture leads to a scene",
            place,
            cure="add tap: with the name of a scene",
        )
    if part.contact and part.contact.value == "latching":
        for gesture in (Gesture.HOLD, Gesture.DOUBLE, Gesture.RELEASE):
            if said[gesture]:
                draft.notes.error(
                    "key-out-of-place",
                    f"{name}: a latching contact knows no {gesture.value}",
                    said[gesture][0].place,
                    note="it stays where it is pushed; every change of it is a tap",
                    cure=f"leave {gesture.value}: out",
                )
    for texts in said.values():
        for text in texts:
            if text.value not in scenes:
                unknown_name(
                    draft.notes,
                    "unknown-scene",
                    "the scene",
                    text.value,
                    text.place,
                    scenes,
                )
    return {g: tuple(t.value for t in texts) for g, texts in said.items() if texts}
