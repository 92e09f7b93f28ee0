"""Buttons: where their messages come from, and the scenes their gestures lead to."""

from __future__ import annotations

from collections.abc import Collection

from bridge.core.finding import Place
from bridge.core.studio import Button, Gesture
from bridge.core.wire import Key
from bridge.files.schema_studio import ButtonPart, SourcePart
from bridge.files.shapes import unknown_name
from bridge.files.spoken import CONTROL, NOTE_ON
from bridge.files.studio_draft import Draft, whole
from bridge.files.studio_ports import Ports
from bridge.files.tree import Text

HOLD_MS = 600.0
"""When a press becomes a hold: longer than a tap, shorter than patience (no source)."""

LOCKOUT_MS = 40.0
"""For how long a contact may bounce; a survey of switches found 6 ms, some far more
(Ganssle, Guide to Debouncing, secondary)."""

FORMS = (
    '{midi: "Pedal", control: 64}',
    '{midi: "Pads", note: 36}',
    "{osc: /pedal, sender: 192.168.4.21, listen: 9721}",
    "{line: 27}",
)
"""The ways to say where a button's messages come from."""


def read_buttons(
    draft: Draft, ports: Ports, scenes: Collection[str]
) -> tuple[Button, ...]:
    """Read every button; notes what is wrong."""
    buttons = []
    taken: dict[Key, str] = {}
    for name, part, place in whole(draft.part.buttons):
        found = _key(draft, ports, name, part.source)
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


def _key(
    draft: Draft, ports: Ports, name: str, part: SourcePart
) -> tuple[Key, float] | None:
    """Return what a button's messages are about, and from which number it is down."""
    given = _given(part)
    channel = part.channel.value - 1 if part.channel else 0
    if part.midi and given - {"midi", "nth", "channel"} == {"control"} and part.control:
        port = ports.midi(name, part.midi, part.nth)
        return (port, "midi", bytes((CONTROL | channel, part.control.value))), 64.0
    if part.midi and given - {"midi", "nth", "channel"} == {"note"} and part.note:
        port = ports.midi(name, part.midi, part.nth)
        return (port, "midi", bytes((NOTE_ON | channel, part.note.value))), 1.0
    osc = given - {"over"} == {"osc", "sender", "listen"}
    if osc and part.osc and part.sender and part.listen:
        heard = ports.osc_sender(name, part.sender, part.listen, part.over)
        return None if heard is None else ((heard, "osc", part.osc.value), 0.5)
    if part.line and given <= {"line", "chip"}:
        return (ports.input(name, part.line, part.chip), "line", ""), 1.0
    draft.notes.error(
        "button-unclear",
        f"{name}: from: must say one thing in full, got {', '.join(sorted(given))}"
        if given
        else f"{name}: from: is empty",
        part.place,
        note=f"the ways to say it: {'; '.join(FORMS)}",
    )
    return None


def _given(part: SourcePart) -> set[str]:
    there = {
        "midi": part.midi,
        "nth": part.nth,
        "control": part.control,
        "note": part.note,
        "channel": part.channel,
        "osc": part.osc,
        "sender": part.sender,
        "listen": part.listen,
        "over": part.over,
        "line": part.line,
        "chip": part.chip,
    }
    return {key for key, value in there.items() if value is not None}
