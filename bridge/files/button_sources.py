"""Where a button's messages come from, and from which number on it is down."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from bridge.core.keys import NAMES, key_code, key_name
from bridge.core.wire import OWN_DOOR, WHOLE, Key, Midi
from bridge.files.parts import keys_of
from bridge.files.schema_buttons import SourcePart
from bridge.files.shapes import unknown_name
from bridge.files.spoken import CONTROL, NOTE_ON, PROGRAM, is_osc_address
from bridge.files.spoken_whole import read_messages
from bridge.files.studio_draft import Draft
from bridge.files.studio_ports import Ports
from bridge.files.tree import Text

FORMS = (
    '{midi: "Pedal", control: 64}',
    '{midi: "Pads", note: 36}',
    '{midi: "Pads", program: 5}',
    '{midi: "Show", message: show control go cue 12 to device 1 as sound}',
    "{osc: /pedal} from this computer",
    "{osc: /pedal, sender: 192.168.4.21, listen: 9721}",
    "{line: 27}",
    '{keyboard: "Foot Switch", key: page down}',
)
"""The ways to say where a button's messages come from."""

Source = tuple[Key, float]
"""What a button's messages are about, and from which number on it is down."""


def read_source(
    draft: Draft, ports: Ports, name: str, part: SourcePart
) -> Source | None:
    """Read `from:`; notes what is wrong and returns None."""
    given = {
        key.name for attribute, key in keys_of(SourcePart) if _has(part, attribute)
    }
    for (needed, allowed), read in _READERS.items():
        if set(needed) <= given <= {*needed, *allowed}:
            return read(draft, ports, name, part)
    draft.notes.error(
        "button-unclear",
        f"{name}: from: must say one thing in full, got {', '.join(sorted(given))}"
        if given
        else f"{name}: from: is empty",
        part.place,
        note=f"the ways to say it: {'; '.join(FORMS)}",
    )
    return None


def _has(part: SourcePart, attribute: str) -> bool:
    return getattr(part, attribute) is not None


def _control(_: Draft, ports: Ports, name: str, part: SourcePart) -> Source | None:
    assert part.control is not None
    return _midi(ports, name, part, CONTROL, part.control.value), 64.0


def _note(_: Draft, ports: Ports, name: str, part: SourcePart) -> Source | None:
    assert part.note is not None
    return _midi(ports, name, part, NOTE_ON, part.note.value), 1.0


def _midi(ports: Ports, name: str, part: SourcePart, kind: int, number: int) -> Key:
    assert part.midi is not None
    channel = part.channel.value - 1 if part.channel else 0
    port = ports.midi(name, part.midi, part.nth)
    return port, "midi", bytes((kind | channel, number))


def _own_osc(draft: Draft, _: Ports, name: str, part: SourcePart) -> Source | None:
    """A program of this computer presses it at the service's own address."""
    assert part.osc is not None
    is_address = _is_address(draft, name, part.osc)
    return ((OWN_DOOR, "osc", part.osc.value), 0.5) if is_address else None


def _program(_: Draft, ports: Ports, name: str, part: SourcePart) -> Source | None:
    assert part.midi is not None
    assert part.program is not None
    channel = part.channel.value - 1 if part.channel else 0
    port = ports.midi(name, part.midi, part.nth)
    return (port, WHOLE, bytes((PROGRAM | channel, part.program.value))), 0.0


def _message(draft: Draft, ports: Ports, name: str, part: SourcePart) -> Source | None:
    """Any one MIDI message, as profiles write them, is a press and nothing more."""
    assert part.midi is not None
    assert part.message is not None
    messages = read_messages(part.message, draft.notes)
    match messages:
        case ():
            return None
        case (Midi(_, data),):
            return (ports.midi(name, part.midi, part.nth), WHOLE, data), 0.0
        case _:
            draft.notes.error(
                "wrong-value",
                f"{name}: this must be one MIDI message",
                part.message.place,
                cure="a program change, a system exclusive or a show control message",
            )
            return None


def _osc(draft: Draft, ports: Ports, name: str, part: SourcePart) -> Source | None:
    assert part.osc is not None
    assert part.sender is not None
    assert part.listen is not None
    if not _is_address(draft, name, part.osc):
        return None
    heard = ports.osc_sender(name, part.sender, part.listen, part.over)
    return None if heard is None else ((heard, "osc", part.osc.value), 0.5)


def _is_address(draft: Draft, name: str, osc: Text) -> bool:
    if not is_osc_address(osc.value):
        what = f'this must be an OSC address, got "{osc.value}"'
        note = "it begins with / and has no blank and none of # * , ? [ ] { }"
    elif osc.value.startswith("/treadle/"):
        what = "addresses that begin with /treadle/ are the service's own"
        note = "at these it is asked, such as by treadle status"
    else:
        return True
    place, cure = osc.place, "write one like /pedal"
    draft.notes.error("wrong-value", f"{name}: {what}", place, note=note, cure=cure)
    return False


def _line(_: Draft, ports: Ports, name: str, part: SourcePart) -> Source | None:
    assert part.line is not None
    return (ports.input(name, part.line, part.chip), "line", ""), 1.0


def _key(draft: Draft, ports: Ports, name: str, part: SourcePart) -> Source | None:
    assert part.keyboard is not None
    assert part.key is not None
    code = key_code(part.key.value)
    if code is None:
        word, place = part.key.value, part.key.place
        known = tuple(NAMES.values())
        unknown_name(draft.notes, "unknown-key-name", "the key", word, place, known)
        return None
    port = ports.keyboard(name, part.keyboard, part.nth)
    return (port, "key", key_name(code)), 1.0


_Reader = Callable[[Draft, Ports, str, SourcePart], Source | None]

_READERS: Mapping[tuple[tuple[str, ...], tuple[str, ...]], _Reader] = {
    (("midi", "control"), ("nth", "channel")): _control,
    (("midi", "note"), ("nth", "channel")): _note,
    (("osc",), ()): _own_osc,
    (("midi", "program"), ("nth", "channel")): _program,
    (("midi", "message"), ("nth",)): _message,
    (("osc", "sender", "listen"), ("over",)): _osc,
    (("line",), ("chip",)): _line,
    (("keyboard", "key"), ("nth",)): _key,
}
"""Which keys go together: those that are needed, and those that may be there too."""
