"""Fake gear with a network between it and us, on a clock that is only a number.

The fake speaks physics: it is moved by hand, unplugged, plugged in again; its network
loses, delays and doubles packets. What has no network (a relay, a serial wire) gets
everything at once and in order.
"""

import heapq
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from bridge.core.control import Control
from bridge.core.studio import Studio
from bridge.core.wire import Message, Osc, Value

Fate = Callable[[], tuple[float, ...]]
"""For each packet: after how many seconds a copy arrives; empty: it is lost."""


def at_once() -> tuple[float, ...]:
    """A network as one wishes it."""
    return (0.0,)


@dataclass(frozen=True)
class Packet:
    """Something on its way, and whom to."""

    message: Message
    to_gear: bool


class FakeDesk:
    """All gear of a fake studio. Ask it what `true` holds; tell it what time it is."""

    def __init__(self, studio: Studio, true: dict[str, Value]) -> None:
        self.studio = studio
        self.true = dict(true)
        self.fate: Fate = at_once
        self.is_deaf = False
        self.is_plugged = True
        self.got: list[Message] = []
        self.applied: list[tuple[str, Value]] = []
        self._way: list[tuple[float, int, Packet]] = []
        self._count = 0

    @property
    def next_at(self) -> float | None:
        """When the next packet arrives somewhere."""
        return self._way[0][0] if self._way else None

    def send(self, message: Message, now: float) -> None:
        """We send; what goes by network has its fate."""
        if isinstance(message, Osc):
            self._post(Packet(message, to_gear=True), now)
        else:
            self._receive(message, now)

    def arrive(self, now: float) -> list[Message]:
        """Let arrive what is due; returns what reaches us."""
        heard = []
        while self._way and self._way[0][0] <= now:
            at, _, packet = heapq.heappop(self._way)
            if not self.is_plugged:
                continue
            if packet.to_gear:
                self._receive(packet.message, at)
            else:
                heard.append(packet.message)
        return heard

    def move(self, name: str, value: Value, now: float) -> None:
        """A hand moves a control; gear that can answer tells us so."""
        self.true[name] = value
        if self.studio.controls[name].ask and not self.is_deaf:
            self._post(Packet(self._notice(name), to_gear=False), now)

    def unplug(self) -> None:
        """The network cable is out: what is on its way is gone."""
        self.is_plugged = False
        self._way.clear()

    def plug_in(self) -> None:
        """The network cable is in again."""
        self.is_plugged = True

    def _post(self, packet: Packet, now: float) -> None:
        if self.is_plugged:
            for delay in self.fate():
                self._count += 1
                heapq.heappush(self._way, (now + delay, self._count, packet))

    def _receive(self, message: Message, now: float) -> None:
        self.got.append(message)
        if self.is_deaf and isinstance(message, Osc):
            return
        for control in self.studio.controls.values():
            if message in control.ask:
                self._post(Packet(self._notice(control.name), to_gear=False), now)
            for value in _set_by(control, message):
                self.true[control.name] = value
                self.applied.append((control.name, value))

    def _notice(self, name: str) -> Message:
        (message,) = self.studio.controls[name].said_for(self.true[name])
        return message


def _set_by(control: Control, message: Message) -> Iterable[Value]:
    return (v for v, messages in control.messages.items() if message in messages)
