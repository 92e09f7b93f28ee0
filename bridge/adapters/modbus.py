"""A relay board on a Modbus line: coils set, and believed when they were read back.

What a board holds is asked of it when the service asks, and every two seconds besides:
so a coil that another program has moved is heard soon, and a board that has lost its
power is missed. A board is found when it tells how its coils stand. It is lost when the
line is gone, when it does not answer twice, or when it refuses what the profile says.
"""

from __future__ import annotations

import asyncio
from typing import Final

from bridge.adapters.modbus_line import Line
from bridge.adapters.modbus_speaker import (
    Coils,
    Gone,
    Outcome,
    Read,
    Refused,
    Silent,
    Stale,
    Write,
)
from bridge.adapters.presence import Adapter
from bridge.core.connection import ModbusBoard, SerialLine, TcpAddress
from bridge.core.wire import Coil, Message
from bridge.engine.ports import Deliver

WATCH_S: Final = 2.0
"""Between two looks at a board that is there: a coil moved by somebody else is known
before a person has turned round, and at 9600 baud it takes 1 % of the line."""

AGAIN_S: Final = 5.0
"""Between two looks for a board that is lost: one that is silent keeps the line, which
others may share, for half a second each time."""

MISSES: Final = 2
"""Answers that may fail one after the other before the board counts as lost: one may be
spoilt by noise on the cable."""

MOST_READ: Final = 2000
"""Coils that one message may ask for (Modbus V1.1b3, 6.1)."""

BUSY: Final = frozenset({5, 6})
"""It does it, or will when asked again (Modbus V1.1b3, 7: acknowledge, device busy)."""

_CODES: Final = {
    1: "it does not know how to set or read coils: it is another kind of board",
    2: "it has no such coil: mend the profile; coils are counted from 0",
    3: "it does not take this number of coils: mend the profile",
    4: "it has failed: switch its power off and on",
    10: "the gateway has no way to it: see the gateway's settings, and the unit",
    11: "nobody answers the gateway: see that the board is on, and its unit",
}


_UNHEARD: Final = {
    SerialLine: "see that it is on, its cable (A and B not exchanged), its unit, and "
    "the line's speed and parity",
    TcpAddress: "see that it is on, and its unit; switch it off and on if it hangs",
}


class ModbusPort(Adapter):
    """One board; several may share a line."""

    def __init__(self, board: ModbusBoard, line: Line) -> None:
        super().__init__(board.name)
        self._board, self._line = board, line
        self._first = min(first for first, _ in board.coils)
        last = max(sum(coil) for coil in board.coils)
        self._count = min(last - self._first, MOST_READ)
        self._stands: tuple[bool, ...] = ()
        self._misses = 0
        self._is_open = False
        self._timer: asyncio.TimerHandle | None = None

    async def open(self, deliver: Deliver) -> None:
        """Look for the board; says `Found` or `Lost`, and looks again."""
        self._presence.begin(deliver, asyncio.get_running_loop().time)
        if not self._is_open:
            self._is_open = True
            self._line.open()
        self._look()

    def send(self, message: Message) -> None:
        """Set a coil, or ask for it. Raises PortGone."""
        presence = self._presence
        if not presence.is_found:
            presence.refuse("sent while lost", presence.why)
        if not isinstance(message, Coil):
            presence.refuse("not a coil", f"a relay board cannot be sent {message}")
        unit, number, count = self._board.unit, message.number, message.count
        job = (
            Read(unit, number, count)
            if message.on is None
            else Write(unit, number, count, message.on)
        )
        if self._line.has_waiting(job):
            presence.drops["sent again while the first waits"] += 1
            return
        if not self._line.ask(job, lambda outcome: self._answered(message, outcome)):
            presence.refuse("line too busy", f"too much waits on {self._board.line}")

    async def close(self) -> None:
        """Let go of the line. Safe to call twice."""
        self._presence.hush()
        if self._timer is not None:
            self._timer.cancel()
        if self._is_open:
            self._is_open = False
            await self._line.close()

    # Looking

    def _look(self) -> None:
        """Ask how the coils stand, unless the line has better things to do."""
        if not self._is_open:
            return
        loop = asyncio.get_running_loop()
        is_found = self._presence.is_found
        self._timer = loop.call_later(WATCH_S if is_found else AGAIN_S, self._look)
        if self._line.is_stuck(loop.time()):
            self._lost(
                f"{self._board.line} hangs: pull the adapter out and put it in again"
            )
        elif self._line.is_idle or not is_found:
            self._line.ask(Read(self._board.unit, self._first, self._count), self._seen)

    def _seen(self, outcome: Outcome) -> None:
        """The answer to a look: what stands otherwise than before is said."""
        if not self._is_there(outcome) or not isinstance(outcome, Coils):
            return
        before, self._stands = self._stands, outcome.bits
        self._presence.found()
        if before in ((), outcome.bits):
            return
        for number, count in self._board.coils:
            place = number - self._first
            if place + count <= self._count:  # what lies beyond is asked by itself
                self._say(number, outcome.bits[place : place + count])

    def _say(self, number: int, bits: tuple[bool, ...]) -> None:
        """Say how a coil stands, or a group of them if they all stand alike."""
        if len(set(bits)) == 1:
            self._presence.heard(Coil(self.name, number, bits[0], len(bits)))
        else:
            self._presence.drops["relays of a pair that differ"] += 1

    # Answers

    def _answered(self, message: Coil, outcome: Outcome) -> None:
        if not self._is_there(outcome) or not isinstance(outcome, Coils):
            return
        if message.on is not None:
            return  # what it says of a write is what was asked; reading it back tells
        self._say(message.number, outcome.bits)

    def _is_there(self, outcome: Outcome) -> bool:
        """Whether the board has answered as it should; if not, see what that means."""
        if not self._is_open:
            return False
        match outcome:
            case Coils():
                self._misses = 0
                return True
            case Stale():
                self._presence.drops["not done, as it waited too long"] += 1
            case Silent():
                self._missed()
            case Refused(code) if code in BUSY:
                self._presence.drops["the board was busy"] += 1
            case Refused(code):
                known = _CODES.get(code, "its manual may tell why")
                self._presence.drops["refused by the board"] += 1
                self._lost(f"{self._where} refuses (exception code {code}): {known}")
            case Gone(why):
                self._lost(why)
        return False

    def _missed(self) -> None:
        self._presence.drops["not answered in time"] += 1
        self._misses += 1
        if self._misses >= MISSES or not self._presence.is_found:
            self._lost(
                f"{self._where} does not answer: {_UNHEARD[type(self._line.place)]}"
            )

    def _lost(self, why: str) -> None:
        self._line.forget(self._board.unit)
        self._stands = ()
        if self._presence.is_found:
            loop = asyncio.get_running_loop()
            if self._timer is not None:
                self._timer.cancel()
            self._timer = loop.call_later(AGAIN_S, self._look)
        self._presence.lost(why)

    @property
    def _where(self) -> str:
        return f"unit {self._board.unit} on {self._board.line}"
