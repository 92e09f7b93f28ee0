"""A control that one message turns over: what the profile must say of it, and not."""

from __future__ import annotations

from collections.abc import Mapping

from bridge.core.wire import Coil, Contact, Message, Value
from bridge.files.notes import Notes
from bridge.files.profile_making import Making
from bridge.files.schema_controls import SettingPart
from bridge.files.schema_profile import ProfilePart
from bridge.files.spoken import About
from bridge.files.spoken_whole import read_messages
from bridge.files.tree import Table, Text


def read_toggle(
    text: Text,
    part: SettingPart,
    messages: Mapping[Value, tuple[Message, ...]],
    about: About | None,
    notes: Notes,
) -> tuple[Message, ...]:
    """The message that turns it over; notes what does not go together with it.

    messages: what the values send, if they say so themselves.
    """
    found = read_messages(text, notes)
    table = part.values.node
    if isinstance(table, Table) and len(table) != 2:
        notes.error(
            "wrong-value",
            f"what is turned over has two values, got {len(table)}",
            table.place,
            cure="leave toggle: out, and write what each value sends",
        )
    elif about is None and messages:
        notes.error(
            "key-out-of-place",
            "toggle and whole messages for each value say the same in two ways",
            text.place,
            note="a message that sets a value is the safer one: it may be sent twice",
            cure="leave toggle: out",
        )
    elif part.by_hand is not None or part.fixed is not None:
        notes.error(
            "key-out-of-place",
            "toggle is for what a message moves, and this is set by hand or fixed",
            text.place,
            cure="leave toggle: out",
        )
    elif any(isinstance(message, Contact | Coil) for message in found):
        notes.error(
            "wrong-value",
            "a contact line (or a coil) holds a value and turns none over",
            text.place,
            cure="leave toggle: out, and write what each value sends",
        )
    elif about is not None and any(m in found for m in _all_of(messages)):
        notes.error(
            "wrong-value",
            "what turns it over is also what the gear says of its value",
            text.place,
            cure="write under message: what the gear says, or leave toggle: out",
        )
    return found


def check_told(making: Making, part: ProfilePart) -> None:
    """What gear says of a toggle is of use only if it can be asked, or tells."""
    if any(said is not None and said.value for said in (part.answers, part.tells)):
        return
    for control in making.controls.values():
        if control.toggles and control.about is not None:
            making.notes.error(
                "key-out-of-place",
                f'"{control.name}" has toggle and message, but this gear says nothing',
                control.place,
                note="with toggle, message is what the gear says of its value",
                cure="write answers: true or tells: true if it does; or leave "
                'message: out, and write values: {off: "", on: ""}',
            )
            break


def _all_of(messages: Mapping[Value, tuple[Message, ...]]) -> list[Message]:
    return [message for sent in messages.values() for message in sent]
