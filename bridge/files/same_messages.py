"""Whether each value of each control has messages of its own.

Why: a profile that forgets {bus} in an address, or two desks that were given one
address, send the very same message for two controls. The model would hold them apart,
and prove what is not so.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.control import Control, Kind
from bridge.core.cures import value_words
from bridge.core.wire import Message, Value
from bridge.files.notes import Notes

_Sender = tuple[Control, Value]


def check_messages(controls: Iterable[Control], notes: Notes) -> None:
    """Note what cannot be told apart on the wire, once for each piece of gear."""
    first: dict[tuple[Message, ...], _Sender] = {}
    noted: set[tuple[str, str]] = set()
    for control in controls:
        for value, sent in control.messages.items():
            if not sent:
                continue
            other, known = first.setdefault(sent, (control, value))
            pair = (other.gear, control.gear)
            if pair in noted or _may_be(other, known, control, value):
                continue
            noted.add(pair)
            _note(notes, sent, (other, known), (control, value))


def _may_be(other: Control, known: Value, control: Control, value: Value) -> bool:
    """One message turns a toggle over both ways; levels are looked at elsewhere."""
    if other is not control:
        return False
    return known == value or control.toggles or control.kind is Kind.LEVEL


def _note(
    notes: Notes, sent: tuple[Message, ...], one: _Sender, another: _Sender
) -> None:
    (first, known), (control, value) = one, another
    same_gear = first.gear == control.gear
    notes.error(
        "same-message",
        f"one message sets {first.label} to {value_words(known)} and {control.label} "
        f"to {value_words(value)}",
        control.place,
        note=f"it is {', '.join(map(str, sent))}",
        cure="see in its profile that each control and each value has a message of its "
        "own, as with {strip} and {bus} in an address"
        if same_gear
        else f"give {first.gear} and {control.gear} each its own address or channel",
    )
