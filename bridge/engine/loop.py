"""The one task that owns the state: arrivals in, effects out, one after the other.

Rules of this file: nothing else touches the machine; nothing here waits but for the
mailbox; and the service manager is told that we are alive only after a whole round,
so a loop that is stuck is noticed.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Iterable, Mapping
from typing import Final, assert_never

from bridge.core.desk import NOT_OPENED
from bridge.core.effects import (
    Began,
    Effect,
    Event,
    Light,
    NotSent,
    Owe,
    PortFound,
    PortLost,
    Send,
    Stop,
    Tell,
    Told,
)
from bridge.core.entries import Worn
from bridge.core.machine import Machine
from bridge.core.table import State
from bridge.core.wire import Message, Value
from bridge.engine.answers import Answers
from bridge.engine.clock import Clock
from bridge.engine.lights import Lights
from bridge.engine.mailbox import Mailbox
from bridge.engine.open_ports import OpenPorts
from bridge.engine.ports import (
    Arrival,
    Asked,
    Found,
    Heard,
    Lost,
    Manager,
    Port,
    PortGone,
    Witness,
)
from bridge.engine.pulse import Pulse
from bridge.engine.status import Figures, Json, in_json, status
from bridge.engine.succession import Next

AT_ONCE: Final = 64
"""Arrivals taken before what is due is done. What came before it counts first, as an
edge that ends a press does; but a desk that talks without end must not hold it up."""

IDLE_S: Final = 0.001
"""Between two plans that are made ahead, so that whatever arrives comes first."""


class Engine:
    """Runs one machine with its ports until it has stopped.

    record: gets everything that is told, with its time. changed: called after every
    round in which something was done, for whoever shows what is. witness: for whoever
    keeps a journal. keep: keeps what helpers owe where a kill does not reach it, and
    says what went wrong, if anything.
    """

    def __init__(
        self,
        machine: Machine,
        ports: Iterable[Port],
        clock: Clock,
        manager: Manager,
        record: Callable[[Tell, float], None],
        changed: Callable[[], None] = lambda: None,
        witness: Witness | None = None,
        keep: Callable[[Mapping[str, Value]], str] = lambda _: "",
    ) -> None:
        self.machine = machine
        self.mailbox = Mailbox(clock, self._is_press)
        self.figures = Figures()
        self._next: Next | None = None
        self._ports = OpenPorts(ports, self.mailbox.put)
        self._lights = Lights()
        self._clock, self._pulse = clock, Pulse(manager, clock.now())
        self._record, self._changed, self._witness = record, changed, witness
        self._keep = keep
        self._answers = Answers(self.figures, witness)
        self._taken = 0
        self._stops = 0
        names = (port.name for port in self._ports)
        self.figures.why_absent.update(dict.fromkeys(names, NOT_OPENED))

    # From the event loop, at any time

    def stop(self) -> None:
        """Let the service end in good order; a second time: at once."""
        self._stops += 1
        self.mailbox.wake()

    def take_over(self, following: Next) -> None:
        """Go on with another studio once nothing is under way; the newest wins."""
        self._next = following
        self.mailbox.wake()

    def drop_next(self) -> None:
        """Let no other studio take over: its file has changed again."""
        self._next = None

    def tell(self, record: Tell) -> None:
        """Tell what others than the machine have to tell."""
        self._tell(record)
        self._changed()

    def ask(self, words: tuple[str, ...], reply: Callable[[str], None]) -> None:
        """Ask as any program may; `reply` gets one line of JSON when it has ended."""
        self.mailbox.put(Asked(words, reply, self._clock.now()))

    def status(self) -> Json:
        """How the service stands; see `engine.status`."""
        drops = {**self.mailbox.drops, **self._lights.drops}
        now = self._clock.now()
        return status(self.machine, self._ports, drops, self.figures, now, self.worn)

    @property
    def worn(self) -> tuple[Worn, ...]:
        """The relays of this studio whose operations are counted, with their counts."""
        if self._witness is None:
            return ()
        controls = self.machine.studio.controls
        return tuple(worn for worn in self._witness.worn if worn.control in controls)

    def dropped(self) -> Mapping[str, int]:
        """What was dropped so far, by port and cause in words."""
        found = {f"mailbox: {kind}": n for kind, n in self.mailbox.drops.items()}
        found |= self._lights.drops
        for port in self._ports:
            found |= {f"{port.name}: {cause}": n for cause, n in port.drops.items()}
        return found

    # The task

    async def run(self) -> None:
        """Open the ports, go round until the machine has stopped, close the ports."""
        try:
            self._do(Began())
            async with asyncio.TaskGroup() as group:
                settling = self._ports.settle(group)
                while self.machine.state is not State.STOPPED:
                    settling = [task for task in settling if not task.done()]
                    if await self._go_round():
                        settling += self._ports.settle(group)
                self._lights.send_all(self._ports)
                for task in settling:
                    task.cancel()
        finally:
            await self._ports.close()

    async def _go_round(self) -> bool:
        """One round; True if another studio has taken over, and ports must settle."""
        arrival = await self.mailbox.get(self._patience())
        if arrival is not None:
            self._taken += 1
            self._take(arrival)
        while self._stops:
            self._stops -= 1
            self._pulse.stopping()
            self._do(Stop())
        self._wake()
        has_changed = self._next is not None and self.machine.is_between
        if has_changed:
            self._succeed()
        if not len(self.mailbox):
            self._lights.send(self._ports, self._clock.now())
        self._pulse.round_over(self.machine, self._clock.now())
        return has_changed

    def _succeed(self) -> None:
        """Let the studio that waits take over, now that nothing is under way."""
        following, self._next = self._next, None
        assert following is not None
        exchange = self._ports.replace(following.ports())
        self.mailbox.discard(exchange.gone)
        why = self.figures.why_absent
        for port in exchange.gone:
            why.pop(port, None)
        why.update(dict.fromkeys(exchange.fresh, NOT_OPENED))
        old, self.machine = self.machine, following.machine(self._clock.now())
        following.adopted()
        kept = {port: why.get(port, "") for port in exchange.kept}
        self._perform(self.machine.take_over(old, kept))

    def _is_press(self, message: Message) -> bool:
        return self.machine.reception.is_press(message)

    def _patience(self) -> float | None:
        """For how long nothing need be done, in seconds; None: for ever."""
        if len(self.mailbox):
            return 0.0
        if self.machine.prepare():
            return IDLE_S
        times = (self.machine.deadline, self._lights.due, self._pulse.due)
        due = [at for at in times if at is not None]
        return max(0.0, min(due) - self._clock.now()) if due else None

    def _wake(self) -> None:
        """Do what is due, after what arrived before it."""
        if len(self.mailbox) and self._taken < AT_ONCE:
            return
        self._taken = 0
        now, due = self._clock.now(), self.machine.deadline
        ping = self._pulse.due
        if (ping is not None and ping <= now) or (due is not None and due <= now):
            self._perform(self.machine.wake(now))

    # Arrivals

    def _take(self, arrival: Arrival) -> None:
        match arrival:
            case Heard(message, at):
                is_press = self.machine.reception.is_press(message)
                if is_press and self._witness is not None:
                    self._witness.pressed(message, at)
                effects = self.machine.hear(message, at, self._clock.now())
                self._perform(effects)
                if is_press and any(isinstance(effect, Send) for effect in effects):
                    self.figures.pressed(self._clock.now() - at)
            case Asked():
                self._answer(arrival)
            case Lost(port, why):
                self.figures.why_absent[port] = why
                self._do(PortLost(port, why))
            case Found(port):
                self.figures.why_absent.pop(port, None)
                self._do(PortFound(port))
            case _:
                assert_never(arrival)

    def _answer(self, asked: Asked) -> None:
        if asked.words == ("status",):
            asked.reply(in_json(self.status()))
            return
        events, words = self._answers.take(asked, self.machine)
        for event in events:
            self._do(event)
        if words:
            asked.reply(words)

    # Effects

    def _do(self, event: Event) -> None:
        self._perform(self.machine.handle(event, self._clock.now()))

    def _perform(self, effects: Iterable[Effect]) -> None:
        """Do all of it, and what comes of a message that was not taken."""
        todo = deque(effects)
        while todo:
            match todo.popleft():
                case Send(message):
                    todo += self._send(message)
                case Tell() as record:
                    self._tell(record)
                case Owe(owed):
                    self._owe(dict(owed))
                case Light() as light:
                    self._lights.put(light)
                case effect:
                    assert_never(effect)
        self._changed()

    def _owe(self, owed: Mapping[str, Value]) -> None:
        """Keep what is owed; if that fails it is told, and the crossing goes on."""
        trouble = self._keep(owed)
        if trouble:
            self._tell(Tell(Told.LEFT_BEHIND, trouble))

    def _send(self, message: Message) -> tuple[Effect, ...]:
        port = self._ports.get(message.port)
        if port is None:
            why = f"{message.port}: the studio has no such connection"
        else:
            try:
                port.send(message)
            except PortGone as gone:
                why = str(gone)
            else:
                self.figures.sent += 1
                if self._witness is not None:
                    self._witness.sent(message, self._clock.now())
                return ()
        return self.machine.handle(NotSent(message.port, why), self._clock.now())

    def _tell(self, record: Tell) -> None:
        now = self._clock.now()
        self.figures.told(record)
        self._record(record, now)
        ticket = record.ticket
        if ticket is not None and ticket in self._answers.waiting:
            self._answers.ended(record, ticket, now)
