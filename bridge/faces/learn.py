"""Learns a button: listens while it is pressed, and writes its lines.

Strategy: it listens through the same ports as the service, so what is learned here is
what the service will hear. Nothing is sent, and no file is touched.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from bridge.core.connection import Connection, InputLine, Keyboard, MidiDevice, OscPeer
from bridge.core.control import Control, Kind
from bridge.core.graph import Graph
from bridge.core.learning import (
    PROGRAM,
    Learned,
    NotLearned,
    Way,
    learn_button,
    message_words,
)
from bridge.core.studio import Studio
from bridge.core.wire import Message, Osc
from bridge.engine.ports import Arrival, Found, Heard, Lost, Port
from bridge.faces.outcome import CouldNotRunError, Data, Exit, Outcome
from bridge.wiring.ports import build_ports

QUIET_S = 2.0
"""So long after the last movement nothing more is waited for."""

MOST_HEARD = 2000
"""Messages kept: a sliding pedal sends some hundreds in ten presses."""

MOST_PRESSES = 50
MOST_SECONDS = 600.0

CONNECT = "see that it is on and connected, and what name or address it has"
"""The cure where what is listened to, or sent to, is not there."""

Say = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Wire:
    """Where a button's messages come from, by the words of the studio file."""

    midi: str | None = None
    nth: int | None = None
    sender: str | None = None
    listen: int | None = None
    over: str = "udp"
    line: str | None = None
    keyboard: str | None = None
    chip: str | None = None
    ask: int | None = None

    def connection(self) -> Connection:
        """The connection to listen at. Raises CouldNotRunError if it is not whole."""
        osc = self.sender is not None or self.listen is not None
        others = (self.midi, self.line, self.keyboard)
        given = osc + sum(other is not None for other in others)
        if given != 1:
            msg = "say where the button is plugged in, and one place only"
            cure = (
                "--midi NAME, or --sender ADDRESS --listen PORT, or --line LINE, or "
                "--keyboard NAME"
            )
            raise CouldNotRunError(msg, cure)
        if self.midi is not None:
            return MidiDevice("button", self.midi, nth=self.nth)
        if self.keyboard is not None:
            return Keyboard("button", self.keyboard, self.nth)
        if self.line is not None:
            line: int | str = int(self.line) if self.line.isdecimal() else self.line
            return InputLine("button", self.chip or "gpiochip0", line)
        if self.sender is None or self.listen is None:
            msg = "an OSC button needs both the sender's address and our port"
            raise CouldNotRunError(msg, "--sender 192.168.4.30 --listen 9001")
        return OscPeer("button", self.sender, self.ask or 0, self.listen, self.over)


def learn(wire: Wire, name: str, presses: int, seconds: float, say: Say) -> Outcome:
    """Listen to a button and say what it is. Raises CouldNotRunError."""
    if not 1 <= presses <= MOST_PRESSES or not 1.0 <= seconds <= MOST_SECONDS:
        msg = f"presses must be in 1..{MOST_PRESSES}, seconds in 1..{MOST_SECONDS:g}"
        raise CouldNotRunError(msg, "leave them out: 5 presses in a minute")
    heard = asyncio.run(listen(ear(wire), presses, seconds, say, QUIET_S))
    found = learn_button(heard, presses)
    if isinstance(found, NotLearned):
        text = "\n".join((*_arrived(heard), f"{found.why}\n  cure: {found.cure}"))
        data: Data = {"learned": False, "why": found.why, "heard": _data(heard)}
        return Outcome(Exit.FINDINGS, text, data)
    lines = list(button_lines(found, wire, name))
    text = "\n".join((*_told(found), "", "For the studio file:", "", *lines))
    data = {"learned": True, "lines": lines, "heard": _data(heard)}
    return Outcome(Exit.FINE, text, data)


def ear(wire: Wire) -> Port:
    """The port that the service would listen to this button at."""
    return port_of(wire.connection(), asks=wire.ask is not None)


def port_of(connection: Connection, *, asks: bool = False) -> Port:
    """The port that the service would make of a connection.

    asks: it is gear that is sent questions, not only heard.

    Call it before the event loop runs: it looks at what this computer has.
    """
    (port,) = build_ports(_bare(connection, asks=asks), None)
    return port


def _bare(connection: Connection, *, asks: bool) -> Studio:
    """A studio with nothing in it but this connection."""
    question = (Osc(connection.name, "/"),)
    asked = Control("/", "/", "desk", Kind.SWITCH, (False, True), ask=question)
    return Studio(
        name="learning",
        people=(),
        controls={"/": asked} if asks else {},
        graph=Graph((), ()),
        sources=(),
        listeners=(),
        scenes={},
        connections=(connection,),
        door_port=0,
    )


async def listen(
    port: Port, presses: int, seconds: float, say: Say, quiet_s: float
) -> list[tuple[float, Message]]:
    """Collect what a port hears until it is quiet again, or the time is over.

    Raises CouldNotRunError if the thing is not there.
    """
    queue: asyncio.Queue[Arrival] = asyncio.Queue(MOST_HEARD)

    def deliver(arrival: Arrival) -> None:
        if not queue.full():
            queue.put_nowait(arrival)

    heard: list[tuple[float, Message]] = []
    await port.open(deliver)
    try:
        async with asyncio.timeout(seconds):
            while len(heard) < MOST_HEARD:
                patience_s = quiet_s if len(heard) >= presses else None
                await _one(queue, heard, say, patience_s, presses)
    except TimeoutError:
        pass
    finally:
        await port.close()
    return heard


async def _one(
    queue: asyncio.Queue[Arrival],
    heard: list[tuple[float, Message]],
    say: Say,
    patience_s: float | None,
    presses: int,
) -> None:
    """Take one arrival. Raises TimeoutError after so long without one.

    What is pressed before the thing is found is lost: so it is asked for only then.
    """
    async with asyncio.timeout(patience_s):
        arrival = await queue.get()
    match arrival:
        case Heard(message, at):
            heard.append((at, message))
            say(f"  {message_words(message)}")
        case Found():
            say(f"Press the button {presses} times: down and up, about a second each.")
        case Lost(_, why):
            msg = f"it is not there: {why}"
            raise CouldNotRunError(msg, CONNECT)
        case _:
            pass


# What is said


def _told(found: Learned) -> Iterator[str]:
    ways = {
        Way.MOMENTARY: "it comes back when it is let go (momentary)",
        Way.LATCHING: "it stays where it is pushed (latching)",
        Way.NORMALLY_CLOSED: "it is closed until it is pressed (normally closed)",
        Way.ONCE: "it says when it is pressed, not when it is let go: a tap, no hold",
    }
    yield ways[found.way]
    yield (
        f"it bounces for {found.bounce_ms:.0f} ms at the most"
        if found.bounce_ms >= 1.0
        else "no bounce was seen"
    )
    if found.slides:
        yield f"it slides: {len(found.numbers)} different numbers came"
    if found.others:
        yield f"{found.others} messages about something else came, and were left out"


def button_lines(found: Learned, wire: Wire, name: str) -> Iterator[str]:
    """The lines of `buttons:` for this button; the scenes are left to fill in."""
    yield "buttons:"
    yield f"  {name}:"
    yield f"    from: {{{', '.join(_from(found, wire))}}}"
    if found.way in (Way.LATCHING, Way.NORMALLY_CLOSED):
        yield f"    contact: {found.way.value}"
    if found.lockout_ms is not None:
        yield f"    lockout: {found.lockout_ms:g} ms"
    yield "    tap: [talk, aloud]      # your scenes"


_MIDI_WORDS = {0xB0: "control", 0x90: "note", PROGRAM: "program"}
"""What the number after a status is, in the words of the studio file."""


def _from(found: Learned, wire: Wire) -> Iterator[str]:
    _, kind, which = found.key
    if kind == "key":
        yield f'keyboard: "{wire.keyboard}"'
        if wire.nth is not None:
            yield f"nth: {wire.nth}"
        yield f"key: {which!s}"
    elif isinstance(which, bytes):
        yield f'midi: "{wire.midi}"'
        if wire.nth is not None:
            yield f"nth: {wire.nth}"
        word = _MIDI_WORDS[which[0] & 0xF0]
        yield f"{word}: {which[1]}"
        channel = (which[0] & 0x0F) + 1
        if channel != 1:
            yield f"channel: {channel}"
    elif which:
        yield f"osc: {which}"
        yield f"sender: {wire.sender}"
        yield f"listen: {wire.listen}"
        if wire.over != "udp":
            yield f"over: {wire.over}"
    else:
        yield f"line: {wire.line}"
        if wire.chip is not None:
            yield f"chip: {wire.chip}"


def _arrived(heard: Sequence[tuple[float, Message]]) -> Iterator[str]:
    if heard:
        words = dict.fromkeys(message_words(message) for _, message in heard)
        yield f"arrived: {', '.join(words)}"


def _data(heard: Sequence[tuple[float, Message]]) -> list[dict[str, object]]:
    return [{"at": at, "message": message_words(m)} for at, m in heard]
