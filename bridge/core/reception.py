"""What a message means: a button's gesture, a control's value, or nothing to us."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import inf, isclose

from bridge.core import gesture
from bridge.core.button import Button
from bridge.core.control import Control
from bridge.core.effects import Moved, Pressed
from bridge.core.midi_wide import WideEars
from bridge.core.studio import Studio
from bridge.core.wire import (
    WHOLE,
    WIDE,
    Key,
    Meaning,
    Message,
    Midi,
    Value,
    key_and_number,
    said_by,
)

SAME_LEVEL_DB = 0.05
"""A level this near to one that the studio uses is that one: gear rounds."""


@dataclass(slots=True)
class Reception:
    """Understands messages; remembers how each button stands."""

    studio: Studio
    _buttons: dict[Key, list[Button]] = field(default_factory=dict)
    _contacts: dict[str, gesture.Contact] = field(default_factory=dict)
    _ears: dict[str, WideEars] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for button in self.studio.buttons:
            self._buttons.setdefault(button.key, []).append(button)
        self.forget(None)

    @property
    def deadline(self) -> float:
        """When `passed` must be called next; infinite if never."""
        due = (
            gesture.deadline(button, self._contacts[button.name])
            for button in self.studio.buttons
        )
        return min((at for at in due if at is not None), default=inf)

    def is_press(self, message: Message) -> bool:
        """Whether the message is about a button."""
        return any(key in self._buttons for key, _ in said_by(message))

    def hear(self, message: Message, at: float) -> tuple[Pressed | Moved, ...]:
        """What the message says, if anything; `at` is when it was heard, in seconds."""
        events: list[Pressed | Moved] = []
        for key, number in (*said_by(message), *self._wide(message)):
            for button in self._buttons.get(key, ()):
                events += self._press(button, number, at)
            if number is not None or key[1] == WHOLE:
                events += [
                    Moved(meaning.control, self._value(meaning, key, number or 0.0))
                    for meaning in self.studio.meanings.get(key, ())
                ]
        return tuple(events)

    def _wide(self, message: Message) -> Iterator[tuple[Key, float | None]]:
        """The numbers of 14 bits that the message completes, if the studio has any."""
        if isinstance(message, Midi) and message.port in self._ears:
            for which, number in self._ears[message.port].hear(message.data):
                yield (message.port, WIDE, which), number

    def passed(self, now: float) -> tuple[Pressed, ...]:
        """The gestures that have come to be by now without a further message."""
        events: list[Pressed] = []
        for button in self.studio.buttons:
            read = gesture.passed(button, self._contacts[button.name], now)
            events += self._read(button, read)
        return tuple(events)

    def contact(self, button: str) -> gesture.Contact:
        """How the button's contact stands, as far as is known."""
        return self._contacts[button]

    def keep(self, button: str, contact: gesture.Contact) -> None:
        """It stands as it stood before the studio file was read anew."""
        self._contacts[button] = contact

    def lost(self, port: str) -> tuple[Pressed, ...]:
        """The port is gone: what it held down is let go, and then forgotten."""
        events = [
            Pressed(button.name, made)
            for button in self.studio.buttons
            if button.key[0] == port
            for made in gesture.lost(button, self._contacts[button.name])
        ]
        self.forget(port)
        return tuple(events)

    def forget(self, port: str | None) -> None:
        """Nothing is known of the buttons of this port (None: of any) any more."""
        for where in {key[0] for key in self.studio.meanings if key[1] == WIDE}:
            if port in (None, where):
                self._ears[where] = WideEars()
        for button in self.studio.buttons:
            if port in (None, button.key[0]):
                self._contacts[button.name] = gesture.Contact()

    def _press(self, button: Button, number: float | None, at: float) -> list[Pressed]:
        contact = self._contacts[button.name]
        if number is not None and not _has_no_up(button.key):
            down = gesture.is_down(button, number)
            read = gesture.moved(button, contact, down=down, at=at)
            return self._read(button, read)
        if number is not None and not gesture.is_down(button, number):
            return []
        pressed = gesture.moved(button, contact, down=True, at=at)
        released = gesture.moved(button, pressed.contact, down=False, at=at)
        return self._read(button, pressed) + self._read(button, released)

    def _read(self, button: Button, read: gesture.Read) -> list[Pressed]:
        self._contacts[button.name] = read.contact
        return [Pressed(button.name, made) for made in read.gestures]

    def _value(self, meaning: Meaning, key: Key, number: float) -> Value:
        """The value; exactly the one that we would send for it, if there is one."""
        control = self.studio.controls[meaning.control]
        for value in (*control.values, *control.rungs):
            if _is_said_by(control, value, key, number):
                return value
        value = meaning.value_of(number)
        for known in (*control.values, *control.rungs):
            if _is_same_level(value, known):
                return known
        return value


def _is_same_level(value: Value, known: Value) -> bool:
    if not (isinstance(value, float) and isinstance(known, float)):
        return False
    return isclose(value, known, rel_tol=0.0, abs_tol=SAME_LEVEL_DB)


def _is_said_by(control: Control, value: Value, key: Key, number: float) -> bool:
    for message in control.said_for(value):
        found = key_and_number(message)
        if found is not None and found[0] == key and found[1] is not None:
            # 1e-6: a number may come back as a float of 32 bits.
            return isclose(found[1], number, rel_tol=1e-6, abs_tol=1e-6)
    return False


def _has_no_up(key: Key) -> bool:
    """A program change says "now" and nothing more; so does OSC without a number."""
    _, kind, which = key
    return kind == "midi" and isinstance(which, bytes) and which[0] & 0xF0 == 0xC0
