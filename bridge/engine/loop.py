"""The one task that owns the state: arrivals in, effects out, nothing else decided.

Rules of this file: nothing waits but the mailbox; every effect is performed in order;
a port that fails is an event like any other, never an exception that ends the loop.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, Final, Protocol, assert_never

from bridge.core.effects import (
    Began,
    Effect,
    Event,
    Light,
    NotSent,
    PortFound,
    PortLost,
    Send,
    Stop,
    Tell,
)
from bridge.core.machine import Machine
from bridge.core.table import State
from bridge.core.wire import Message
from bridge.engine.clock import Clock
from bridge.engine.mailbox import Mailbox
from bridge.engine.ports import Arrival, Asked, Found, Heard, Lost, Port, PortGone
from bridge.engine.requests import Requests
from bridge.engine.status import as_json, status_of, words_of

IDLE_S: Final = 60.0
"""The longest wait of a service that nobody watches: it costs nothing and shows, in a
trace, that the loop goes round."""


class Manager(Protocol):
    """Whoever watches over the service (see `adapters.notify`)."""

    @property
    def ping_s(self) -> float | None:
        """How often `alive` must be said; None: never."""
        ...

    def ready(self) -> None:
        """The service does its work now."""
        ...

    def alive(self) -> None:
        """The loop went round."""
        ...

    def stopping(self) -> None:
        """The service is about to end."""
        ...

    def status(self, words: str) -> None:
        """One line on how it is."""
        ...


class Engine:
    """Runs one machine over its ports until it is stopped."""

    def __init__(
        self,
        machine: Machine,
        ports: Sequence[Port],
        mailbox: Mailbox,
        clock: Clock,
        manager: Manager,
        tell: Callable[[Tell], None],
        light: Callable[[tuple[str, ...]], None] = lambda _: None,
    ) -> None:
        """tell, light: told what happens, at once; they must not wait or raise."""
        self.machine = machine
        self._ports = {port.name: port for port in ports}
        self._mailbox = mailbox
        self._clock = clock
        self._manager = manager
        self._tell = tell
        self._light = light
        self._requests = Requests(machine.studio)
        self._sent = 0
        self._stops = 0
        self._is_ready = False
        self._pressed_at: float | None = None
        self._press_to_wire_s: float | None = None

    def stop(self) -> None:
        """End in good order; asked twice, at once. From the event loop only."""
        self._stops += 1
        self._mailbox.wake()

    @property
    def status(self) -> dict[str, Any]:
        """What `treadle status` shows, as plain values (see `engine.status`)."""
        return status_of(
            self.machine,
            self._ports.values(),
            self._mailbox.drops,
            self._clock.now(),
            sent=self._sent,
            press_to_wire_s=self._press_to_wire_s,
        )

    async def run(self) -> None:
        """Open the ports, go round until stopped, close them, contacts first."""
        try:
            self._handle(Began())
            for port in self._ports.values():
                await port.open(self._mailbox.put)
            while self.machine.state is not State.STOPPED:
                await self._round()
        finally:
            self._manager.stopping()
            for port in self._ports.values():
                await port.close()

    async def _round(self) -> None:
        """Wait for one arrival or the next deadline, and do what follows from it."""
        arrival = await self._mailbox.get(self._patience())
        if self._stops:
            self._stops -= 1
            self._handle(Stop())
        if arrival is not None:
            self._take(arrival)
        now = self._clock.now()
        if (due := self.machine.deadline) is not None and due <= now:
            self._perform(self.machine.wake(now))
        if not self._is_ready and self.machine.state is not State.STARTING:
            self._is_ready = True
            self._manager.ready()
        # After a real round, so that a loop that hangs is noticed as such.
        self._manager.alive()
        self._manager.status(words_of(self.machine))

    def _patience(self) -> float:
        """How long nothing needs to be done; no time at all while plans are missing."""
        if self._stops or (not len(self._mailbox) and self.machine.prepare()):
            return 0.0
        wait = IDLE_S if self._manager.ping_s is None else self._manager.ping_s
        if (due := self.machine.deadline) is not None:
            wait = min(wait, max(0.0, due - self._clock.now()))
        return wait

    def _take(self, arrival: Arrival) -> None:
        now = self._clock.now()
        match arrival:
            case Heard(message, at):
                if self.machine.reception.is_press(message):
                    self._pressed_at = at
                self._perform(self.machine.hear(message, at, now))
                self._pressed_at = None
            case Asked(("status",), reply, _):
                reply(as_json(self.status))
            case Asked() as asked:
                event = self._requests.begin(asked, self._sent)
                if event is not None:
                    self._handle(event)
            case Lost(port, why, _):
                self._handle(PortLost(port, why))
            case Found(port, _):
                self._handle(PortFound(port))
            case _:
                assert_never(arrival)

    def _handle(self, event: Event) -> None:
        self._perform(self.machine.handle(event, self._clock.now()))

    def _perform(self, effects: Iterable[Effect]) -> None:
        for effect in effects:
            match effect:
                case Send(message):
                    self._send(message)
                case Tell() as told:
                    self._requests.end(told, self._clock.now(), self._sent)
                    self._tell(told)
                case Light(scenes):
                    self._light(scenes)
                case _:
                    assert_never(effect)

    def _send(self, message: Message) -> None:
        port = self._ports.get(message.port)
        if port is None:
            self._handle(NotSent(message.port, "the studio has no such port"))
            return
        try:
            port.send(message)
        except PortGone as gone:
            self._handle(NotSent(message.port, str(gone)))
            return
        self._sent += 1
        if self._pressed_at is not None:
            self._press_to_wire_s = self._clock.now() - self._pressed_at
            self._pressed_at = None
