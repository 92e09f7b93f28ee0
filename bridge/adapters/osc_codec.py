"""OSC 1.0 packets to messages and back; python-osc does the bytes.

Rules of this file: nothing that comes from outside raises; a message is taken whole
or not at all; addresses are exact, and time tags are ignored. A cause of a drop is
one of a fixed set of words, so that it can be counted.
"""

import math
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from pythonosc.osc_message import OscMessage
from pythonosc.osc_message_builder import BuildError, OscMessageBuilder
from pythonosc.parsing import osc_types

from bridge.core.wire import Osc, OscArgument

PACKET_BYTES: Final = 8192
"""Longest packet taken or made. A control message has tens of bytes and a status
answer some thousands; the parser takes 2 ms for the worst one."""

SHORT_BYTES: Final = 128
"""Longest packet whose meaning is remembered: a message with a long address. So what
strangers send costs 200 kB at the very most."""

NESTING: Final = 4
"""Bundles within bundles. Senders use one; deeper is refused before recursion hurts."""

MESSAGES: Final = 64
"""Messages in one packet: four for each of sixteen channels, the largest sane burst."""

ARGUMENTS: Final = 64
"""Arguments of one message. Messages that we understand have one or two; the parser
takes longer than its size would suggest with thousands."""

_BUNDLE: Final = b"#bundle\0"
NOTHING: Final = _BUNDLE + bytes(7) + b"\x01"
"""A bundle without elements, dated "immediately": by the standard it does nothing."""

_NOT_IN_A_NAME: Final = frozenset(" #*,?[]{}")
_TAGS_TAKEN: Final = frozenset("ifsTFhd")
_INT_32: Final = range(-(2**31), 2**31)


@dataclass(frozen=True, slots=True)
class Dropped:
    """A packet, or one message of it, that was not taken, and the cause."""

    cause: str


def encode(message: Osc) -> bytes | Dropped:
    """Build the packet of one message.

    The type of an argument is that of its Python value: bool T or F, int i (32 bits),
    float f, str s.
    """
    # As values 1, 1.0 and True are equal; as text beside their type they are not.
    exactly = tuple((type(argument), str(argument)) for argument in message.arguments)
    return _encoded(message, exactly)


@lru_cache(maxsize=4096)  # all messages of a large desk; a press must not wait for this
def _encoded(
    message: Osc,
    exactly: tuple[tuple[type, str], ...],  # noqa: ARG001  part of the key
) -> bytes | Dropped:
    if cause := _bad_address(message.address):
        return Dropped(cause)
    tags = [_tag(argument) for argument in message.arguments]
    if "" in tags:
        return Dropped("number that OSC cannot carry")
    try:
        packet = _build(message.address, "".join(tags), message.arguments)
    except BuildError:
        return Dropped("text that OSC cannot carry")
    return Dropped("packet too long") if len(packet) > PACKET_BYTES else packet


def decode(packet: bytes, port: str) -> tuple[Osc | Dropped, ...]:
    """Take a packet apart: its messages in order, and what had to be dropped."""
    if len(packet) > PACKET_BYTES:
        return (Dropped("packet too long"),)
    if len(packet) <= SHORT_BYTES:
        return _decoded(packet, port)
    return _decoded.__wrapped__(packet, port)


@lru_cache(maxsize=1024)  # a button says the same each time, and so do answers
def _decoded(packet: bytes, port: str) -> tuple[Osc | Dropped, ...]:
    taken: list[Osc | Dropped] = []
    for element in _elements(packet, NESTING):
        if len(taken) == MESSAGES:
            taken.append(Dropped("too many messages in one packet"))
            break
        taken.append(
            element if isinstance(element, Dropped) else _message(element, port)
        )
    return tuple(taken)


def _elements(packet: bytes, depth: int) -> Iterator[bytes | Dropped]:
    """Walk the bundles down to the bytes of single messages."""
    if not packet.startswith(_BUNDLE):
        yield packet
        return
    if depth == 0:
        yield Dropped("bundles nested too deep")
        return
    place = len(NOTHING)
    if len(packet) < place:
        yield Dropped("bundle cut short")
    while place < len(packet):
        size = int.from_bytes(packet[place : place + 4])
        element = packet[place + 4 : place + 4 + size]
        if size == 0 or size % 4 or len(element) < size:
            yield Dropped("bundle cut short")
            return
        yield from _elements(element, depth - 1)
        place += 4 + size


def _message(packet: bytes, port: str) -> Osc | Dropped:
    if not packet.startswith(b"/"):
        return Dropped("not an OSC message")
    try:
        address, tags = _head(packet)
        if cause := _bad_address(address):
            return Dropped(cause)
        if len(tags) > ARGUMENTS:
            return Dropped("too many arguments")
        if not _TAGS_TAKEN.issuperset(tags):
            return Dropped("argument of a type that is not used here")
        arguments = tuple(OscMessage(packet).params)
        if any(isinstance(a, float) and not math.isfinite(a) for a in arguments):
            return Dropped("number that is not finite")
        # The parser pads short packets and overlooks long ones; building does not.
        whole = _build(address, tags, arguments)
        if packet != whole and (tags or packet != whole.removesuffix(b",\0\0\0")):
            return Dropped("not an OSC message")
    except Exception:  # noqa: BLE001  the library lets several kinds escape
        return Dropped("not an OSC message")
    return Osc(port, address, arguments)


def _head(packet: bytes) -> tuple[str, str]:
    """Return address and type tags; old senders leave the tags out."""
    address, place = osc_types.get_string(packet, 0)
    if place == len(packet):
        return address, ""
    tags, _ = osc_types.get_string(packet, place)
    if not tags.startswith(","):
        raise osc_types.ParseError(tags)
    return address, tags[1:]


def _bad_address(address: str) -> str:
    """Say why this is no exact address, or return nothing."""
    if not address.startswith("/") or not address.isascii():
        return "not an OSC address"
    if not address.isprintable():
        return "not an OSC address"
    return "address pattern" if _NOT_IN_A_NAME & set(address) else ""


def _tag(argument: OscArgument) -> str:
    match argument:
        case bool():
            return "T" if argument else "F"
        case int():
            return "i" if argument in _INT_32 else ""
        case float():
            return "f" if _fits(argument) else ""
        case str():
            return "s" if "\0" not in argument else ""


def _fits(number: float) -> bool:
    """Tell whether a number is finite and still is as 32-bit float."""
    try:
        return math.isfinite(struct.unpack(">f", struct.pack(">f", number))[0])
    except OverflowError:
        return False


def _build(address: str, tags: str, arguments: tuple[OscArgument, ...]) -> bytes:
    builder = OscMessageBuilder(address)
    for tag, argument in zip(tags, arguments, strict=True):
        builder.add_arg(argument, tag)
    return builder.build().dgram
