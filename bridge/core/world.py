"""Imagined gear: what the studio's gear truly does, on a clock that is a number.

It knows nothing of beliefs, plans or proofs: messages come in and controls move, a
relay is nowhere for a moment, what is asked is answered, and the network in between
loses, delays and doubles what it carries. A wire that keeps its order (a contact, a
serial line) only loses what is sent while its plug is out.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bridge.core.control import NOWHERE, Control
from bridge.core.recall import Recall
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Key, Message, Osc, Value, key_and_number

Fate = Callable[[], tuple[float, ...]]
"""For one packet: after how many seconds each copy arrives; empty: it is lost."""

GAP_SHARE = 0.25
"""How much of its settle time a relay is nowhere; what is left is margin."""


ONE_BY_ONE_S = 0.001
"""Between two controls that a recall sets bit by bit."""


@dataclass(frozen=True, slots=True)
class Change:
    """A control truly moved, at a moment in seconds."""

    at: float
    control: str
    value: Value


class World:
    """All gear of a studio and the network to it."""

    def __init__(self, studio: Studio, true: Mapping[str, Value], fate: Fate) -> None:
        self.studio = studio
        self.true = dict(true)
        self.fate = fate
        self.out: set[str] = set()
        self.changes: list[Change] = []
        self._way: list[tuple[float, int, Message | Change, bool]] = []
        self._count = 0
        self._aims: dict[str, Value] = {}
        self._asked: dict[Message, list[Control]] = {}
        self._moved: dict[Key, list[Control]] = {}
        for control in studio.controls.values():
            for message in control.ask:
                self._asked.setdefault(message, []).append(control)
            for messages in control.messages.values():
                for message in messages:
                    found = key_and_number(message)
                    if found is not None:
                        there = self._moved.setdefault(found[0], [])
                        if control not in there:
                            there.append(control)

    @property
    def next_at(self) -> float | None:
        """When something arrives or moves next, in seconds."""
        return self._way[0][0] if self._way else None

    def send(self, message: Message, now: float) -> None:
        """The service sends this."""
        if message.port in self.out:
            return
        if isinstance(message, Osc):
            for delay in self.fate():
                self._later(now + delay, message, to_gear=True)
        else:
            self._receive(message, now)

    def pass_time(self, now: float) -> list[Message]:
        """Let happen what is due by now; returns what reaches the service."""
        heard: list[Message] = []
        while self._way and self._way[0][0] <= now:
            at, _, what, to_gear = heapq.heappop(self._way)
            match what:
                case Change(_, name, value):
                    if self._aims.get(name) == value:  # else it was turned round
                        self._move(name, value, at)
                case _ if what.port in self.out:
                    pass
                case _ if to_gear:
                    self._receive(what, at)
                case _:
                    heard.append(what)
        return heard

    def hand(self, name: str, value: Value, now: float) -> None:
        """A hand moves a control; gear that tells, tells."""
        self._move(name, value, now)
        self._tell(self.studio.controls[name], now)

    def power_up(self, gear: str, now: float) -> None:
        """The gear was without power: its controls are what it guarantees."""
        for name, control in self.studio.controls.items():
            if control.gear == gear and control.at_power_up is not None:
                self._move(name, control.at_power_up, now)

    def release_contacts(self, now: float, port: str | None = None) -> None:
        """The service (or this port) is gone: lines are not driven, relays fall."""
        for name, control in self.studio.controls.items():
            by_line = any(
                isinstance(message, Contact) and port in (None, message.port)
                for messages in control.messages.values()
                for message in messages
            )
            if by_line and control.at_rest is not None:
                self._aims[name] = control.at_rest
                self._move(name, control.at_rest, now)

    def _later(self, at: float, what: Message | Change, *, to_gear: bool) -> None:
        self._count += 1
        heapq.heappush(self._way, (at, self._count, what, to_gear))

    def _receive(self, message: Message, now: float) -> None:
        for control in self._asked.get(message, ()):
            self._tell(control, now)
        for recall in self.studio.recalls:
            if recall.messages[-1] == message:
                self._recall(recall, now)
        found = key_and_number(message)
        for control in self._moved.get(found[0], ()) if found else ():
            if control.toggles:
                self._turn_over(control, message, now)
                continue
            for value, messages in control.messages.items():
                if message in messages:
                    self._set(control, value, now)

    def _recall(self, recall: Recall, now: float) -> None:
        """All in one instant, or one after the other."""
        for number, (name, value) in enumerate(recall.values.items()):
            control = self.studio.controls[name]
            if recall.atomic or number == 0:
                self._set(control, value, now)
            else:
                self._aims[name] = value
                at = now + number * ONE_BY_ONE_S
                self._later(at, Change(at, name, value), to_gear=True)

    def _turn_over(self, control: Control, message: Message, now: float) -> None:
        """To the other value; while it moves, back to where it came from."""
        here = self.true[control.name]
        here = self._aims[control.name] if here == NOWHERE else here
        (other,) = (value for value in control.values if value != here)
        if message in control.messages[other]:
            self._set(control, other, now)

    def _set(self, control: Control, value: Value, now: float) -> None:
        self._aims[control.name] = value
        if control.gap and self.true[control.name] != value:
            self._move(control.name, NOWHERE, now)
            there = now + control.settles_in_ms(value) / 1000 * GAP_SHARE
            self._later(there, Change(there, control.name, value), to_gear=True)
        else:
            self._move(control.name, value, now)

    def _move(self, name: str, value: Value, now: float) -> None:
        if self.true[name] != value:
            self.true[name] = value
            self.changes.append(Change(now, name, value))

    def _tell(self, control: Control, now: float) -> None:
        """Gear that can be asked tells the value that it holds.

        A relay on its way is told as where it goes: a board reads back its coil, and
        does not feel the contacts.
        """
        if not control.ask:
            return
        here = self.true[control.name]
        holds = self._aims[control.name] if here == NOWHERE else here
        for message in control.said_for(holds):
            if isinstance(message, Osc):
                for delay in self.fate():
                    self._later(now + delay, message, to_gear=False)
            else:
                self._later(now, message, to_gear=False)


def as_found(studio: Studio) -> dict[str, Value]:
    """Every control as its gear wakes up; where nothing is guaranteed, its first."""
    return {
        name: control.at_rest
        if control.at_rest is not None
        else control.at_power_up
        if control.at_power_up is not None
        else control.values[0]
        for name, control in studio.controls.items()
    }
