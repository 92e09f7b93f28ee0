"""Tries one control of a profile on the real gear, after saying what it will do."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.core.connection import (
    Connection,
    MidiDevice,
    ModbusBoard,
    OscPeer,
    Renewal,
    SerialLine,
    TcpAddress,
)
from bridge.core.control import Kind, Reach
from bridge.core.finding import Finding, Place, Severity
from bridge.core.learning import message_words
from bridge.core.wire import Message, Value
from bridge.engine.ports import Arrival, Found, Heard, Lost, Port, PortGone
from bridge.faces.learn import CONNECT, port_of
from bridge.faces.opened import found_outcome
from bridge.faces.outcome import CouldNotRunError, Data, Exit, FoundError, Outcome
from bridge.files.kinds import GAIN
from bridge.files.near import did_you_mean
from bridge.files.notes import Notes
from bridge.files.profile import load_profile
from bridge.files.profile_model import ControlType, Profile
from bridge.files.quantity import quantity
from bridge.files.studio_controls import number_for
from bridge.files.tree import Text

PATIENCE_S = 10.0
"""So long the gear is waited for before we give up."""

SETTLE_S, ANSWER_S = 0.2, 0.5
"""So long the gear may take to follow, and then to answer; it takes milliseconds."""

GEAR = "gear"
"""The name of the connection; nobody sees it."""


@dataclass(frozen=True, slots=True)
class Address:
    """Where the gear is: a MIDI device by its name, or HOST:PORT for OSC.

    modbus: a relay board's serial device (9600 baud, no parity) or HOST:PORT.
    """

    midi: str | None = None
    osc: str | None = None
    over: str = "udp"
    modbus: str | None = None
    unit: int = 1

    def connection(self, renews: tuple[Renewal, ...] = ()) -> Connection:
        """The connection to send to. Raises CouldNotRunError.

        renews: what the gear must be sent again and again.
        """
        places = [p for p in (self.midi, self.osc, self.modbus) if p is not None]
        if len(places) != 1:
            msg = "say where the gear is, and one place only"
            cure = "--midi NAME, --osc 192.168.4.20:9000, or --modbus /dev/ttyUSB0"
            raise CouldNotRunError(msg, cure)
        if self.midi is not None:
            return MidiDevice(GEAR, self.midi, renews=renews)
        if self.modbus is not None and self.modbus.startswith("/"):
            return ModbusBoard(GEAR, SerialLine(self.modbus), self.unit)
        host, _, port = places[0].rpartition(":")
        if not host or not port.isdecimal() or not 1 <= int(port) <= 65535:
            msg = f'"{places[0]}" is not an address and a port'
            raise CouldNotRunError(msg, "write it like 192.168.4.20:9000")
        if self.modbus is not None:
            return ModbusBoard(GEAR, TcpAddress(host, int(port)), self.unit)
        return OscPeer(GEAR, host, int(port), over=self.over, renews=renews)


def trial(
    path: Path,
    control: str,
    value: str,
    address: Address,
    ask: Callable[[str], str] | None,
) -> Outcome:
    """Say what one message does, and send it if the person says yes.

    ask: asks a person; None if nobody is there, and then nothing is sent.
    Raises FoundError and CouldNotRunError.
    """
    profile = _profile(path)
    kind = _control(profile, control)
    messages = _messages(kind, value)
    connection = address.connection(
        tuple(replace(r, message=replace(r.message, port=GEAR)) for r in profile.renews)
    )
    where = address.midi or address.osc or address.modbus
    words = "; ".join(message_words(message) for message in messages)
    told = _follows_words(profile) + (
        f"This sends to {where}: {words}\n{_does(kind, value)} Speakers off, "
        "headphones on the table.\nSend it? yes or no: "
    )
    if ask is None:
        msg = "nobody is here to say yes, and nothing is sent without"
        raise CouldNotRunError(msg, "run it in a terminal")
    try:
        said = ask(told).strip().casefold()
    except EOFError:
        said = ""
    data: Data = {"sent": said == "yes", "messages": [words]}
    questions = profile.questions(kind)
    if said != "yes":
        return Outcome(Exit.FINDINGS, "nothing was sent", data)
    answers = asyncio.run(send(port_of(connection), messages, questions))
    text = "sent; see and hear whether it is what was meant"
    if questions:
        heard = ", ".join(dict.fromkeys(map(message_words, answers))) or "nothing"
        text += f"\nasked how it stands, it says: {heard}"
        data = {**data, "answers": [message_words(answer) for answer in answers]}
    return Outcome(Exit.FINE, text, data)


def _follows_words(profile: Profile) -> str:
    """What the gear is sent before all else, for the person to know."""
    return "".join(
        f"It tells only who follows it: {message_words(r.message)} goes first, and "
        f"again every {r.every_ms / 1000:g} s.\n"
        for r in profile.renews
    )


def _does(control: ControlType, value: str) -> str:
    if control.toggles:
        return f'It turns "{control.name}" over, whatever it was: to {value} or back.'
    return f'It sets "{control.name}" to {value}.'


async def send(
    port: Port, messages: tuple[Message, ...], questions: tuple[Message, ...] = ()
) -> list[Message]:
    """Send these, once the gear is there, then ask; return what it says.

    Raises CouldNotRunError.
    """
    arrivals: asyncio.Queue[Arrival] = asyncio.Queue(64)

    def deliver(arrival: Arrival) -> None:
        if not arrivals.full():
            arrivals.put_nowait(arrival)

    await port.open(deliver)
    try:
        async with asyncio.timeout(PATIENCE_S):
            await _is_there(arrivals)
        for message in messages:
            port.send(replace(message, port=port.name))
        if not questions:
            return []
        await _said_within(arrivals, SETTLE_S)
        for question in questions:
            port.send(replace(question, port=port.name))
        return await _said_within(arrivals, ANSWER_S)
    except TimeoutError:
        msg = f"the gear was not there within {PATIENCE_S:g} s"
        raise CouldNotRunError(msg, "see that it is on, and what name it has") from None
    except PortGone as error:
        msg = f"it could not be sent: {error}"
        raise CouldNotRunError(msg, "see that the gear is on and plugged in") from error
    finally:
        await port.close()


async def _is_there(arrivals: asyncio.Queue[Arrival]) -> None:
    while True:
        arrival = await arrivals.get()
        if isinstance(arrival, Found):
            return
        if isinstance(arrival, Lost):
            msg = f"the gear is not there: {arrival.why}"
            raise CouldNotRunError(msg, CONNECT)


async def _said_within(
    arrivals: asyncio.Queue[Arrival], seconds: float
) -> list[Message]:
    """What the gear says in this time."""
    said: list[Message] = []
    try:
        async with asyncio.timeout(seconds):
            while True:
                arrival = await arrivals.get()
                if isinstance(arrival, Heard):
                    said.append(arrival.message)
    except TimeoutError:
        return said


# What is asked for


def _profile(path: Path) -> Profile:
    notes = Notes()
    profile, text = load_profile(path, str(path), notes)
    wrong = any(finding.severity is Severity.ERROR for finding in notes.findings)
    if profile is None or wrong:
        raise FoundError(found_outcome(notes.findings, {str(path): text}))
    return profile


def _control(profile: Profile, name: str) -> ControlType:
    remote = {
        control.name: control
        for control in profile.controls.values()
        if control.reach is Reach.REMOTE
    }
    if name not in remote:
        msg = f'{profile.name} has no control "{name}" that a message sets'
        known = f"known: {', '.join(remote)}" if remote else "all is set by hand"
        raise CouldNotRunError(msg, did_you_mean(name, remote) or known)
    return remote[name]


def _messages(control: ControlType, word: str) -> tuple[Message, ...]:
    if control.kind is Kind.LEVEL:
        return _level(control, word)
    values: dict[str, Value] = {_word(value): value for value in control.messages}
    if word not in values:
        msg = f'"{control.name}" has no value "{word}"'
        known = f"known: {', '.join(values)}"
        raise CouldNotRunError(msg, did_you_mean(word, values) or known)
    return control.messages[values[word]]


def _level(control: ControlType, word: str) -> tuple[Message, ...]:
    place = Place("the command line", 1, 1, 1 + len(word))
    level = quantity(Text(word, place), GAIN)
    if isinstance(level, Finding):
        raise CouldNotRunError(level.message, level.cure)
    assert control.about is not None  # a remote level has a message
    return control.about.messages(number_for(control, control.about, level))


def _word(value: Value) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return str(value)
