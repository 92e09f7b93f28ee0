"""An engine with fake ports and a fake service manager on a simulated clock."""

import json
from collections.abc import Callable
from typing import Any

from bridge.core.effects import Tell, Told
from bridge.core.machine import Machine
from bridge.core.studio import Studio
from bridge.core.wire import Message, Midi, Osc
from bridge.engine.loop import Engine
from tests.fakes.clock import SimulatedClock
from tests.fakes.port import FakePort
from tests.fakes.studio import JUDGE, navigator, studio

DOWN, UP = Midi("pedal", b"\xb0\x40\x7f"), Midi("pedal", b"\xb0\x40\x00")
NAMES = ("desk", "strip", "relay", "pedal")


class FakeManager:
    """A service manager that writes down what it is told, and when."""

    def __init__(self, clock: SimulatedClock, ping_s: float | None = None) -> None:
        self._clock, self._ping_s = clock, ping_s
        self.told: list[tuple[float, str]] = []
        self.lines: list[str] = []

    @property
    def ping_s(self) -> float | None:
        return self._ping_s

    def ready(self) -> None:
        self.told.append((self._clock.now(), "ready"))

    def alive(self) -> None:
        self.told.append((self._clock.now(), "alive"))

    def stopping(self) -> None:
        self.told.append((self._clock.now(), "stopping"))

    def status(self, words: str) -> None:
        if words not in self.lines[-1:]:
            self.lines.append(words)

    def times(self, what: str) -> list[float]:
        return [at for at, said in self.told if said == what]


class Rig:
    """A studio's engine, all of whose gear is in the test's hand."""

    def __init__(
        self,
        of: Studio | None = None,
        ping_s: float | None = None,
        without: tuple[str, ...] = (),
    ) -> None:
        self.clock = SimulatedClock()
        of = of or studio(start="quiet")
        self.ports = {
            name: FakePort(name, self.clock) for name in NAMES if name not in without
        }
        self.held: dict[str, Message] = {}
        if "desk" in self.ports:
            self.ports["desk"].answer = self.desk
        machine = Machine(of, JUDGE, navigator(of, JUDGE), self.clock.now())
        self.manager = FakeManager(self.clock, ping_s)
        self.told: list[Tell] = []
        self.answers: dict[str, dict[str, Any]] = {}
        self.shown = 0
        self.engine = Engine(
            machine,
            self.ports.values(),
            self.clock,
            self.manager,
            lambda tell, _: self.told.append(tell),
            self.show,
        )

    def desk(self, message: Message) -> list[Message]:
        """The desk keeps what it is told, and answers when it is asked."""
        assert isinstance(message, Osc)
        if message.arguments:
            self.held[message.address] = message
            return []
        off = Osc("desk", message.address, (0.0,))
        return [self.held.get(message.address, off)]

    def show(self) -> None:
        self.shown += 1

    def after(self, seconds: float, happens: Callable[[], None]) -> None:
        self.clock.after(seconds, happens)

    def ask(self, seconds: float, *words: str) -> None:
        """Ask at this time; the answer is kept by its words."""
        said = " ".join(words)

        def reply(text: str) -> None:
            assert said not in self.answers, "answered twice"
            self.answers[said] = json.loads(text)

        self.after(seconds, lambda: self.engine.ask(words, reply))

    def press(self, seconds: float) -> None:
        self.after(seconds, lambda: self.ports["pedal"].says(DOWN))
        self.after(seconds + 0.1, lambda: self.ports["pedal"].says(UP))

    async def run(self, seconds: float) -> None:
        """Run so long, then stop."""
        self.after(seconds, self.engine.stop)
        await self.engine.run()

    def words(self, told: Told) -> list[str]:
        return [tell.words for tell in self.told if tell.told is told]
