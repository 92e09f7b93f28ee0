"""A service for the panel: the real machine, a desk that answers, no port and no wire.

The clock is the event loop's. What is sent is noted in `wire`.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Mapping

from bridge.core.button import Gesture
from bridge.core.cures import value_words
from bridge.core.effects import (
    ENDS,
    Began,
    Done,
    Effect,
    PortFound,
    Pressed,
    Said,
    Send,
    Tell,
    Wanted,
)
from bridge.core.judge import HouseJudge
from bridge.core.machine import Machine
from bridge.core.plans import navigator_for
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Message, Osc, Value
from bridge.faces.panel.snapshot import Snapshot, look_at

ANSWER_S = 0.002
"""How long the desk takes to answer."""


class FakeBench:
    """The machine in an event loop. `answers` False: the desk is silent."""

    def __init__(self, studio: Studio, told: Callable[[Tell, float], None]) -> None:
        self._loop = asyncio.get_running_loop()
        judge = HouseJudge(studio)
        self.machine = Machine(studio, judge, navigator_for(judge), self._loop.time())
        self._told = told
        self.changed: Callable[[], None] = lambda: None
        self.wire: list[Message] = []
        self.answers = True
        self._desk: dict[str, tuple[object, ...]] = {}
        self._timer: asyncio.TimerHandle | None = None
        self._replies: dict[int, Callable[[str], None]] = {}

    def begin(self) -> None:
        """Everything is found, and the service starts."""
        self.handle(Began())
        for connection in self.machine.studio.connections:
            self.handle(PortFound(connection.name))

    def look(self) -> Snapshot:
        return look_at(self.machine, self._loop.time())

    def dropped(self) -> Mapping[str, int]:
        return {}

    def ask(self, words: tuple[str, ...], reply: Callable[[str], None]) -> None:
        ticket = len(self._replies) + 1
        self._replies[ticket] = reply
        match words:
            case ("press", button, gesture):
                self.handle(Pressed(button, Gesture(gesture), ticket))
            case ("go", scene):
                self.handle(Wanted(scene, ticket))
            case ("done",):
                self.handle(Done(ticket))
            case ("hand", name, value):
                control = self.machine.studio.controls[name]
                known = {value_words(v): v for v in control.values}
                self.handle(Said(name, known[value]))
                reply(json.dumps({"noted": "hand"}))
            case _:
                reply(json.dumps({"words": "not understood"}))

    def press(self, button: str, gesture: Gesture) -> None:
        """The pedal itself."""
        self.handle(Pressed(button, gesture))

    def move(self, control: str, value: Value) -> None:
        """A hand on the desk, which remembers it and tells it."""
        for message in self.machine.studio.controls[control].messages[value]:
            if isinstance(message, Osc):
                self._desk[message.address] = message.arguments
                self._hear(message)

    def handle(self, event: object) -> None:
        self._do(self.machine.handle(event, self._loop.time()))  # type: ignore[arg-type]

    def close(self) -> None:
        if self._timer is not None:
            self._timer.cancel()

    def _do(self, effects: tuple[Effect, ...]) -> None:
        for effect in effects:
            if isinstance(effect, Send):
                self._send(effect.message)
            elif isinstance(effect, Tell):
                self._told(effect, self._loop.time())
                if effect.told in ENDS and effect.ticket is not None:
                    ended = {"ended": effect.told.value, "words": effect.words}
                    self._replies[effect.ticket](json.dumps(ended))
        self.changed()
        if self._timer is not None:
            self._timer.cancel()
        at = self.machine.deadline
        self._timer = None if at is None else self._loop.call_at(at, self._wake)

    def _wake(self) -> None:
        self._do(self.machine.wake(self._loop.time()))

    def _send(self, message: Message) -> None:
        self.wire.append(message)
        if isinstance(message, Contact) or not self.answers:
            return
        if isinstance(message, Osc):
            if message.arguments:
                self._desk[message.address] = message.arguments
            held = self._desk.get(message.address, (0.0,))
            answer = Osc(message.port, message.address, held)  # type: ignore[arg-type]
            self._loop.call_later(ANSWER_S, self._hear, answer)

    def _hear(self, message: Message) -> None:
        now = self._loop.time()
        self._do(self.machine.hear(message, now, now))
