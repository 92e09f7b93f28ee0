"""OSC as a simulated desk reads and writes it: a part of simdesk, free of all else.

It shares nothing with the service's own codec, so it is a second opinion.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

Value = bool | int | float | str


def read_string(packet: bytes, at: int) -> tuple[str, int]:
    """Return a string and where the next thing begins (4-byte steps, NUL padded)."""
    end = packet.index(b"\0", at)
    return packet[at:end].decode("ascii"), at + (end - at) // 4 * 4 + 4


def messages(packet: bytes) -> Iterator[tuple[str, list[Value]]]:
    """Take an OSC 1.0 packet apart. Raises ValueError or struct.error."""
    if packet[:8] == b"#bundle\0":
        at = 16
        while at < len(packet):
            (size,) = struct.unpack_from(">i", packet, at)
            if not 0 < size <= len(packet) - at - 4:
                raise ValueError(size)
            yield from messages(packet[at + 4 : at + 4 + size])
            at += 4 + size
        return
    address, at = read_string(packet, 0)
    tags, at = read_string(packet, at) if at < len(packet) else (",", at)
    values: list[Value] = []
    for tag in tags[1:]:
        if tag in "TF":
            values.append(tag == "T")
        elif tag in "if":
            values.append(struct.unpack_from(">" + tag, packet, at)[0])
            at += 4
        elif tag == "s":
            text, at = read_string(packet, at)
            values.append(text)
        else:
            raise ValueError(tag)
    yield address, values


def packet_of(address: str, value: Value) -> bytes:
    """Build the packet that tells the value at an address."""

    def padded(text: str) -> bytes:
        return text.encode("ascii") + bytes(4 - len(text) % 4)

    match value:
        case bool():
            return padded(address) + padded(",T" if value else ",F")
        case int():
            return padded(address) + padded(",i") + struct.pack(">i", value)
        case float():
            return padded(address) + padded(",f") + struct.pack(">f", value)
        case str():
            return padded(address) + padded(",s") + padded(value)
