"""MIDI 1.0 messages made from numbers, each whole and in range.

Channels are 1 to 16, as printed on gear; on the wire they are 0 to F. Everything else
is numbered as on the wire. Every function raises ValueError that says what is wrong.
"""

from typing import Final

from bridge.core.midi_stream import EXCLUSIVE_BYTES

_FIRST_MODE: Final = 120
"""Controllers 120 to 127 are channel mode messages (all notes off, omni on, ...)."""

_SHOW_CONTROL_BYTES: Final = 128
"""Longest MIDI Show Control message (its specification 1.1.1)."""

_NULL_PARAMETER: Final = (0x7F, 0x7F)

ALL_CALL: Final = 0x7F
"""The device number that every receiver of a universal message obeys."""


def control_change(channel: int, number: int, value: int) -> bytes:
    """Set a controller. 120 and above are refused: they silence or reset a receiver."""
    if number >= _FIRST_MODE:
        msg = (
            f"control must be in 0..{_FIRST_MODE - 1}, got {number}: "
            "120 and above are mode messages, not controls"
        )
        raise ValueError(msg)
    return bytes((_on(0xB0, channel), _data("control", number), _data("value", value)))


def note_on(channel: int, note: int, velocity: int) -> bytes:
    """Start a note; velocity 0 ends it."""
    return bytes((_on(0x90, channel), _data("note", note), _data("velocity", velocity)))


def note_off(channel: int, note: int, velocity: int = 64) -> bytes:
    """End a note; 64 is what a sender without release velocity sends."""
    return bytes((_on(0x80, channel), _data("note", note), _data("velocity", velocity)))


def program_change(channel: int, program: int) -> bytes:
    """Choose a program, 0 to 127 (often printed as 1 to 128)."""
    return bytes((_on(0xC0, channel), _data("program", program)))


def nrpn(channel: int, parameter: int, value: int) -> tuple[bytes, ...]:
    """Set a non-registered parameter: number and value are 14 bits, 0 to 16383.

    Both halves of the number each time, then the value, then the null parameter, so
    that a later stray data entry changes nothing.
    """
    high, low = _two("parameter", parameter)
    coarse, fine = _two("value", value)
    steps = ((99, high), (98, low), (6, coarse), (38, fine))
    null = zip((101, 100), _NULL_PARAMETER, strict=True)
    return tuple(control_change(channel, *step) for step in (*steps, *null))


def exclusive(body: bytes) -> bytes:
    """Frame a system exclusive body: identification first, 7-bit bytes throughout."""
    if not body or any(byte & 0x80 for byte in body):
        msg = f"an exclusive body must be bytes in 0..127, at least one, got {body!r}"
        raise ValueError(msg)
    framed = b"\xf0" + body + b"\xf7"
    return _not_over(EXCLUSIVE_BYTES, framed)


def checked_by_sum(head: bytes, body: bytes) -> bytes:
    """Frame head and body with a checksum behind: the seven-bit sum with it is 0.

    The head (identification, model) is not summed. Common practice, no source.
    """
    return exclusive(head + body + bytes((-sum(body) % 128,)))


def identity_request(device: int = ALL_CALL) -> bytes:
    """Ask a device what it is (universal, non-real-time)."""
    return exclusive(bytes((0x7E, _data("device", device), 0x06, 0x01)))


def show_control(device: int, form: int, command: int, data: bytes = b"") -> bytes:
    """Make a MIDI Show Control message, e.g. sound GO: form 0x10, command 0x01.

    The extension prefixes (form 0, command 0) are refused.
    """
    for what, number in (("format", form), ("command", command)):
        if not _data(what, number):
            msg = f"{what} must be in 1..127, got 0"
            raise ValueError(msg)
    head = bytes((0x7F, _data("device", device), 0x02, form, command))
    return _not_over(_SHOW_CONTROL_BYTES, exclusive(head + data))


def cue(number: str, cue_list: str = "", path: str = "") -> bytes:
    """Return the data of a show control GO: texts of digits and points, in ASCII."""
    texts = [number, cue_list, path]
    while len(texts) > 1 and not texts[-1]:
        texts.pop()
    for text in texts:
        if not text or not set(text) <= set("0123456789."):
            msg = f"a cue must be digits and points, got {text!r}"
            raise ValueError(msg)
    return b"\0".join(text.encode("ascii") for text in texts)


def _on(status: int, channel: int) -> int:
    return status | _within("channel", channel, 1, 16) - 1


def _data(what: str, number: int) -> int:
    return _within(what, number, 0, 127)


def _two(what: str, number: int) -> tuple[int, int]:
    return divmod(_within(what, number, 0, 16383), 128)


def _not_over(limit: int, message: bytes) -> bytes:
    if len(message) > limit:
        msg = f"a message of this kind has at most {limit} bytes, got {len(message)}"
        raise ValueError(msg)
    return message


def _within(what: str, number: int, low: int, high: int) -> int:
    if not low <= number <= high:
        msg = f"{what} must be in {low}..{high}, got {number}"
        raise ValueError(msg)
    return number
