"""What the journal keeps of the service's life: presses, crossings, wear, settings.

Rules of this file: it only looks on. Two times are given beside what happened: `now`
in monotonic seconds, to measure with, and `when` in Unix seconds, to be read by people
and never reckoned with, since a board without a battery may believe any year.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from bridge.core import gesture
from bridge.core.belief import Belief
from bridge.core.cures import value_words
from bridge.core.effects import ENDS, Tell, Told
from bridge.core.entries import PRESSED, Entry, Held, Record, Wear
from bridge.core.studio import Studio
from bridge.core.wire import Message, Value, said_by

MOST_MESSAGES: Final = 40
"""Messages of one crossing that are kept in words; the others are only counted. A
crossing sends a few; one that sends more is a fault, and the first tell of it."""

AT_ONCE_S: Final = 0.2
"""What begins so soon after the foot came of that movement; what begins later came of
the foot staying (a hold takes longer), and is measured from its own beginning."""


@dataclass(slots=True)
class _Request:
    """The request under way: since when, and what was sent for it."""

    scene: str
    since: float
    first: float | None = None
    sent: int = 0
    messages: list[str] = field(default_factory=list)


class Chronicle:
    """Turns what the engine does into records.

    Wear: each commanded change of position is one operation. A relay is taken to stand
    at rest when its port is opened, because a contact is released then; so the count
    is true to one operation for each start or loss.
    """

    def __init__(self, studio: Studio, rated_life: Mapping[str, int]) -> None:
        self.adopt(studio, rated_life)
        self._stands: dict[str, Value] = {}
        self._held: dict[str, str] = {}
        self._press: float | None = None
        self._is_waiting = False
        self._request: _Request | None = None

    def adopt(self, studio: Studio, rated_life: Mapping[str, int]) -> None:
        """Go by this studio; what was kept of another one stays."""
        self._studio = studio
        self._life = {
            name: life for name, life in rated_life.items() if name in studio.controls
        }
        self._moves: dict[Message, tuple[str, Value]] = {
            message: (name, value)
            for name in self._life
            for value, messages in studio.controls[name].messages.items()
            for message in messages[-1:]  # a value is in force with its last message
        }

    def pressed(self, message: Message, at: float, when: float) -> tuple[Entry, ...]:
        """A button's message came in at `at`; only what goes down is a line."""
        self.asked(at)
        return tuple(
            Entry(when, PRESSED, button.name)
            for key, number in said_by(message)
            for button in self._studio.buttons
            if button.key == key and (number is None or gesture.is_down(button, number))
        )

    def asked(self, at: float) -> None:
        """A person or program asked for something: what comes of it began here."""
        self._press = at
        self._is_waiting = self._request is not None

    def sent(self, message: Message, now: float, when: float) -> tuple[Wear, ...]:
        """A port took this message."""
        request = self._request
        if request is not None:
            request.first = now if request.first is None else request.first
            request.sent += 1
            if len(request.messages) < MOST_MESSAGES:
                after = (now - request.since) * 1000
                request.messages.append(f"+{after:.1f} ms {message}")
        if message not in self._moves:
            return ()
        name, value = self._moves[message]
        if self._studio.controls[name].toggles:
            return (Wear(when, name, self._life[name]),)
        at_rest = self._studio.controls[name].at_rest
        stood = self._stands.get(name, at_rest)
        self._stands[name] = value
        return () if stood == value else (Wear(when, name, self._life[name]),)

    def told(
        self, tell: Tell, now: float, when: float, belief: Belief
    ) -> tuple[Record, ...]:
        """The machine told this; `belief` as it is now."""
        request = self._request_of(tell, now)
        if tell.told is Told.PORT_LOST:
            for name in tell.controls:
                self._stands.pop(name, None)
        entry = Entry(
            when,
            tell.told.value,
            tell.words,
            tell.scene,
            tell.controls,
            tell.rules,
            tell.people,
            tell.cure,
        )
        if request is not None and tell.told in ENDS:
            entry = _with_figures(entry, request, now)
        return (entry, *self._changed(belief, when))

    def _request_of(self, tell: Tell, now: float) -> _Request | None:
        """The request that begins or ends with this record, if it does."""
        under_way = self._request
        match tell.told:
            case Told.CROSSING:
                self._request = _Request(tell.scene, self._since(now))
                return self._request
            case Told.SUPERSEDED if under_way is None or under_way.scene != tell.scene:
                return None  # a wish that waited: nothing was sent for it
            case Told.REFUSED if under_way is not None:
                self._press = None
                return None  # a wish on the way; the crossing goes on
            case Told.SUPERSEDED | Told.REFUSED | Told.ARRIVED | Told.HALTED:
                self._request = None
                return under_way or _Request(tell.scene, self._since(now))
            case _:
                return None

    def _since(self, now: float) -> float:
        """When what begins now was asked for."""
        press, self._press = self._press, None
        if press is None or not (self._is_waiting or now - press <= AT_ONCE_S):
            return now
        return press

    def _changed(self, belief: Belief, when: float) -> tuple[Held, ...]:
        words = {
            name: " or ".join(sorted(value_words(value) for value in values))
            for name, values in belief.items()
        }
        new = {n: said for n, said in words.items() if self._held.get(n) != said}
        self._held |= new
        return tuple(Held(when, name, said) for name, said in new.items())


def _with_figures(entry: Entry, request: _Request, now: float) -> Entry:
    first = request.first
    return replace(
        entry,
        wire_ms=None if first is None else _ms(first - request.since),
        end_ms=_ms(now - request.since),
        messages=tuple(request.messages),
        sent=request.sent,
    )


def _ms(seconds: float) -> float:
    return round(seconds * 1000, 3)
