"""Whole messages that are more than one number: NRPN, checksums, show control."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from bridge.core import midi_messages
from bridge.core.wire import Message, Midi
from bridge.files.notes import Notes
from bridge.files.spoken import read_message
from bridge.files.spoken_wide import parameter_of
from bridge.files.tree import Text

_NRPN = re.compile(r"nrpn (\d{1,5})(?:/(\d{1,3}))? on channel (\d{1,2}) = (\d{1,5})")
_BYTES = r"[0-7][0-9A-Fa-f](?: [0-7][0-9A-Fa-f]){0,63}"
_SUMMED = re.compile(rf"sysex ({_BYTES}) \(({_BYTES})\) sum")
_SHOW = re.compile(
    r"show control ([a-z ]+?)(?: cue ([0-9.]+)(?: of list ([0-9.]+))?)?"
    r" to device (\d{1,3}) as ([a-z]+)"
)

COMMANDS: Mapping[str, int] = MappingProxyType(
    {
        "go": 0x01,
        "stop": 0x02,
        "resume": 0x03,
        "load": 0x05,
        "all off": 0x08,
        "restore": 0x09,
        "reset": 0x0A,
        "go off": 0x0B,
    }
)
"""MIDI Show Control 1.1.1, section 4.3: those that carry a cue or nothing."""

FORMATS: Mapping[str, int] = MappingProxyType(
    {"lighting": 0x01, "sound": 0x10, "machinery": 0x20, "video": 0x30, "all": 0x7F}
)
"""MIDI Show Control 1.1.1, section 4.1."""

NO_CUE = ("all off", "restore", "reset")
"""Commands without data."""


def read_messages(text: Text, notes: Notes) -> tuple[Message, ...]:
    """Read a whole message, which may be several on the wire; notes what is wrong.

    The ports are still "". Returns nothing where it could not be read.
    """
    readers = ((_NRPN, _nrpn), (_SUMMED, _summed), (_SHOW, _show))
    for pattern, read in readers:
        hit = pattern.fullmatch(text.value)
        if hit is None:
            continue
        try:
            return tuple(Midi("", data) for data in read(hit))
        except ValueError as error:
            notes.error(
                "wrong-value",
                f"this message cannot be made: {error}",
                text.place,
                cure="mend the number or the word that it names",
            )
            return ()
    return read_message(text, notes)


def _nrpn(hit: re.Match[str]) -> tuple[bytes, ...]:
    """A number of 14 bits, or its halves as charts print them: 2/5."""
    first, second, channel, value = hit.groups()
    parameter = parameter_of(first, second)
    return midi_messages.nrpn(int(channel), parameter, int(value))


def _summed(hit: re.Match[str]) -> tuple[bytes, ...]:
    head, body = (bytes.fromhex(part) for part in hit.groups())
    return (midi_messages.checked_by_sum(head, body),)


def _show(hit: re.Match[str]) -> tuple[bytes, ...]:
    command, cue, cue_list, device, form = hit.groups()
    data = b""
    if command not in COMMANDS:
        msg = f"the command must be one of {', '.join(COMMANDS)}, got {command}"
        raise ValueError(msg)
    if form not in FORMATS:
        msg = f"the format must be one of {', '.join(FORMATS)}, got {form}"
        raise ValueError(msg)
    if cue is not None:
        if command in NO_CUE:
            msg = f"{command} takes no cue"
            raise ValueError(msg)
        data = midi_messages.cue(cue, cue_list or "")
    numbers = (int(device), FORMATS[form], COMMANDS[command])
    return (midi_messages.show_control(*numbers, data),)
