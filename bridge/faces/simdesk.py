"""A simulated desk: a process of its own that hears, answers and remembers.

Rules of this file: it uses nothing of the service, and no library, so what it
says about a message is a second opinion. It believes only what comes in on the wire.

Strategy: a table of addresses and values comes as one JSON text; it may also name
addresses that turn another one over, whatever they are sent, and numbers at an address
that bring many values back in one instant. A message with one
argument sets an address, one without asks for it. Every change goes to standard
output as a line of JSON; faults and a hand on the desk come in on standard input in
the same way, and its end is the end of the desk. Control changes are heard through a
program that prints them (see `MidiEars`), so they come over real MIDI.
"""

from __future__ import annotations

import heapq
import json
import os
import selectors
import socket
import struct
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from bridge.faces.simnews import News, news_of
from bridge.faces.simwire import Value, messages, packet_of

PACKET_BYTES = 8192


@dataclass
class Faults:
    """What goes wrong: how many packets are lost or doubled, and how late they are."""

    lose: int = 0
    duplicate: int = 0
    delay_ms: float = 0.0
    mute: bool = False


@dataclass
class Desk:
    """The switches, what is told of them, and the faults of the wire to them."""

    state: dict[str, Value]
    say: Callable[[dict[str, object]], None]
    tell: Callable[[bytes, tuple[str, int]], None]
    faults: Faults = field(default_factory=Faults)
    news: News = field(default_factory=News)
    toggles: dict[str, str] = field(default_factory=dict)
    recalls: dict[tuple[str, Value], dict[str, Value]] = field(default_factory=dict)

    def hear(self, packet: bytes, sender: tuple[str, int]) -> None:
        """Act on one packet: set, answer, or note what it was."""
        self.news.spoke(sender, "")
        try:
            for address, values in list(messages(packet)):
                if self.news.spoke(sender, address):
                    self.say({"by": "message", "followed": address})
                else:
                    self._act(address, values, sender)
        except (ValueError, struct.error, RecursionError):
            self.say({"by": "message", "bad": packet.hex()})

    def _act(self, address: str, values: list[Value], sender: tuple[str, int]) -> None:
        if address in self.toggles and len(values) == 1:
            over = self.toggles[address]
            self.put(over, 0 if self.state[over] else 1, "message")
        elif len(values) == 1 and (address, values[0]) in self.recalls:
            for there, value in self.recalls[address, values[0]].items():
                self.put(there, value, "message")  # nothing is answered in between
        elif not values and (address in self.state or address in self.news.asks):
            self._answer(address, sender)
        elif address not in self.state:
            self.say({"by": "message", "unknown": address, "values": values})
        elif len(values) == 1:
            self.put(address, values[0], "message")
        else:
            self.say({"by": "message", "unknown": address, "values": values})

    def _answer(self, question: str, sender: tuple[str, int]) -> None:
        self.say({"by": "message", "asked": question})
        address, told = self.news.asks.get(question, (question, question))
        if not self.faults.mute and self.news.may_hear(sender):
            self.tell(packet_of(told, self.state[address]), sender)

    def put(self, address: str, value: Value, by: str) -> None:
        """Set a switch and note it."""
        old, self.state[address] = self.state.get(address), value
        self.say({"by": by, "address": address, "value": value, "old": old})

    def hand(self, address: str, value: Value) -> None:
        """Somebody presses a button on the desk; the desk tells whom it knows."""
        self.put(address, value, "hand")
        for listener in self.news.listeners():
            self.tell(packet_of(self.news.told_at(address), value), listener)


class MidiEars:
    """Control changes heard by a program that prints what arrives at its port.

    `command` is `aseqdump` (ALSA) or `python -m bridge.faces.simears NAME` (JACK). The
    desk's address for a control change is "cc CHANNEL CONTROLLER", channel 1..16 and
    controller 0..127, its value the data byte.
    """

    def __init__(self, command: Sequence[str]) -> None:
        # Without a terminal such programs keep their lines to themselves.
        self._program = subprocess.Popen(
            ["stdbuf", "-oL", *command],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
        )
        assert self._program.stdout is not None
        self.stdout = self._program.stdout
        self._begun = b""

    def read(self) -> Iterator[tuple[str, int]]:
        """Return address and value of each control change that was printed."""
        *lines, self._begun = (self._begun + self.stdout.read(65536)).split(b"\n")
        for line in lines:
            heard = control_change(line.decode("ascii", "replace"))
            if heard is not None:
                yield heard

    def close(self) -> None:
        """End the program, as its standard input does too."""
        self._program.kill()
        self._program.wait()


def control_change(line: str) -> tuple[str, int] | None:
    """Read a line: "b0 14 7f", or "24:0 Control change 0, controller 20, value 127"."""
    words = line.replace(",", " ").split()
    if "Control" in words:  # source, words, channel from 0, controller, value
        numbers = [int(word) for word in words if word.isdecimal()][-3:]
        return f"cc {numbers[0] + 1} {numbers[1]}", numbers[2]
    if len(words) == 3 and len(words[0]) == 2 and words[0].startswith("b"):
        status, which, value = (int(byte, 16) for byte in words)
        return f"cc {(status & 15) + 1} {which}", value
    return None


class Simulation:
    """One desk with its socket, its MIDI ears and its two streams of JSON lines."""

    def __init__(self, table: dict[str, object]) -> None:
        state = table["state"]
        assert isinstance(state, dict)
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.bind(("127.0.0.1", int(str(table.get("port", 0)))))
        self._socket.settimeout(0)
        self._late: list[tuple[float, int, bytes, tuple[str, int]]] = []
        self._count = 0
        self._ends = False
        self._typed = b""
        toggles, recalls = table.get("toggles", {}), table.get("recalls", [])
        assert isinstance(toggles, dict)
        assert isinstance(recalls, list)
        self._desk = Desk(
            dict(state),
            self._say,
            self._tell,
            toggles=toggles,
            recalls={(where, number): brought for where, number, brought in recalls},
            news=news_of(table),
        )
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._socket, selectors.EVENT_READ, self._packet)
        self._selector.register(sys.stdin, selectors.EVENT_READ, self._order)
        self._ears: MidiEars | None = None
        ears = table.get("midi")
        if isinstance(ears, list):
            self._ears = MidiEars([str(word) for word in ears])
            self._selector.register(self._ears.stdout, selectors.EVENT_READ, self._midi)

    def run(self) -> None:
        """Say where it listens, then live until standard input ends."""
        self._say({"ready": self._socket.getsockname()[1]})
        try:
            while not self._ends:
                now = time.monotonic()
                while self._late and self._late[0][0] <= now:
                    _, _, packet, sender = heapq.heappop(self._late)
                    self._desk.hear(packet, sender)
                wait = self._late[0][0] - now if self._late else None
                for key, _ in self._selector.select(wait):
                    key.data()
        finally:
            if self._ears is not None:
                self._ears.close()
            self._socket.close()

    def _say(self, line: dict[str, object]) -> None:
        # Monotonic time is one for all processes of a machine.
        at = round(time.monotonic(), 6)
        sys.stdout.write(json.dumps({"at": at, **line}) + "\n")
        sys.stdout.flush()

    def _tell(self, packet: bytes, to: tuple[str, int]) -> None:
        self._socket.sendto(packet, to)

    def _packet(self) -> None:
        try:
            packet, sender = self._socket.recvfrom(PACKET_BYTES)
        except OSError:
            return  # somebody we told something is not there any more
        faults = self._desk.faults
        if faults.lose > 0:
            faults.lose -= 1
            self._say({"by": "message", "lost": packet.hex()})
            return
        copies = 2 if faults.duplicate > 0 else 1
        faults.duplicate = max(0, faults.duplicate - 1)
        for _ in range(copies):
            self._count += 1
            due = time.monotonic() + faults.delay_ms / 1000
            heapq.heappush(self._late, (due, self._count, packet, sender))

    def _midi(self) -> None:
        assert self._ears is not None
        for address, value in self._ears.read():
            if address in self._desk.state:
                self._desk.put(address, value, "message")
            else:
                self._say({"by": "message", "unknown": address, "values": [value]})

    def _order(self) -> None:
        typed = os.read(sys.stdin.fileno(), 65536)
        self._ends = not typed
        *lines, self._typed = (self._typed + typed).split(b"\n")
        for line in lines:
            match json.loads(line):
                case {"hand": str(address), "value": value}:
                    self._desk.hand(address, value)
                case {"state": True}:
                    self._say({"state": self._desk.state})
                case faults:
                    self._desk.faults = replace(self._desk.faults, **faults)


def main() -> None:
    """Read the table from the first argument and be that desk."""
    Simulation(json.loads(sys.argv[1])).run()


if __name__ == "__main__":
    main()
