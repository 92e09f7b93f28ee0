"""How gear is asked, and kept telling: questions of their own, and subscriptions."""

from __future__ import annotations

from bridge.core.connection import Renewal
from bridge.core.finding import Place
from bridge.core.wire import Message, Midi, key_and_number
from bridge.files.notes import Notes
from bridge.files.profile_cells import Filling
from bridge.files.profile_language import goes_its_way
from bridge.files.profile_making import Making
from bridge.files.profile_model import ControlType
from bridge.files.schema_asking import SubscriptionPart
from bridge.files.schema_controls import LevelPart, SettingPart
from bridge.files.shapes import Said
from bridge.files.spoken import About, language_of, read_about
from bridge.files.spoken_whole import read_messages

SHORTEST_MS, LONGEST_MS = 500.0, 600_000.0
"""Between two renewals or questions: twice a second is a load that any gear bears, and
gear that forgets us after ten minutes has no need of a subscription."""


def read_asking(
    asking: SettingPart | LevelPart, filling: Filling, notes: Notes
) -> tuple[tuple[Message, ...], About | None]:
    """What asks for a control's value, and what its answers are about."""
    question: tuple[Message, ...] = ()
    if asking.ask is not None:
        question = read_messages(filling.fill(asking.ask), notes)
    told = read_about(filling.fill(asking.told_as), notes) if asking.told_as else None
    return question, told


def read_renewals(
    making: Making, subscription: SubscriptionPart | None, speaks: str
) -> tuple[Renewal, ...]:
    """What must be sent again and again; notes what is wrong."""
    if subscription is None:
        return ()
    messages = read_messages(subscription.message, making.notes)
    _in_bounds(making.notes, subscription.every)
    _sets_nothing(making, messages, subscription.message.place)
    said, place = map(language_of, messages), subscription.message.place
    goes_its_way(making.notes, "this goes", said, speaks, place)
    return tuple(Renewal(message, subscription.every.value) for message in messages)


def check_asking(making: Making, speaks: str, every: Said[float] | None) -> None:
    """Note questions that could set something, or that go another way."""
    if every is not None:
        _in_bounds(making.notes, every)
    for control in making.controls.values():
        _sets_nothing(making, control.ask, control.place)
        said = map(language_of, control.ask)
        goes_its_way(making.notes, "this goes", said, speaks, control.place)
        if not _is_understood(control):
            making.notes.error(
                "missing-key",
                f'"{control.name}": nothing says what number stands for what value',
                control.place,
                cure="write message: and the number of each value",
            )


def _is_understood(control: ControlType) -> bool:
    """Whether answers can be read: by a number, or a whole MIDI message each."""
    if control.about is not None or not (control.ask or control.hears):
        return True
    whole = [sent for sent in control.messages.values() if len(sent) == 1]
    is_midi = all(isinstance(sent[0], Midi) for sent in whole)
    return control.hears is None and len(whole) == len(control.values) and is_midi


def _in_bounds(notes: Notes, every: Said[float]) -> None:
    if not SHORTEST_MS <= every.value <= LONGEST_MS:
        notes.error(
            "wrong-value",
            f"this must be in {SHORTEST_MS / 1000:g} s..{LONGEST_MS / 1000:g} s",
            every.place,
            cure="write a time such as 3 s",
        )


def _sets_nothing(making: Making, messages: tuple[Message, ...], place: Place) -> None:
    """What is sent without a plan must not move anything."""
    for message in messages:
        for control in making.controls.values():
            if _moves(control, message):
                making.notes.error(
                    "wrong-value",
                    f'this would set "{control.name}"',
                    place,
                    cure="a question or subscription must set nothing",
                )
                return


def _moves(control: ControlType, message: Message) -> bool:
    sent = [m for messages in control.messages.values() for m in messages]
    if message in sent:
        return True
    found = key_and_number(message)
    if found is None or found[1] is None:
        return False
    keys = {known[0] for m in sent if (known := key_and_number(m)) is not None}
    if control.about is not None:
        keys.add(control.about.key(""))
    return found[0] in keys
