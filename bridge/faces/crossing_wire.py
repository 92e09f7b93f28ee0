"""What a crossing puts on the wires: messages in order, their bytes, and the time.

The bytes come from the same codec that puts them on the wire.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bridge.core.connection import MidiDevice
from bridge.core.control import Control
from bridge.core.leg import Change, Crossing, Leg, Step
from bridge.core.recall import Recall
from bridge.core.studio import Studio
from bridge.core.wire import Coil, Contact, Keystroke, Message, Midi, Osc
from bridge.faces.crossing_notes import values_of
from bridge.wiring.door import packet

MIDI_BYTE_MS = 0.32
"""10 bits at 31 250 baud: MIDI 1.0, electrical specification."""


@dataclass(frozen=True, slots=True)
class Sent:
    """One message of a crossing, in words and in bytes."""

    step: Step
    message: Message
    labels: tuple[str, ...]
    is_end: bool = True  # of a level that goes in steps only the last is shown

    @property
    def bytes(self) -> bytes | None:
        """What goes over the wire; of Modbus the PDU, and None for a contact."""
        match self.message:
            case Midi(_, data):
                return data
            case Osc():
                return packet(self.message)
            case Coil():
                return self.message.pdu
            case Contact() | Keystroke():
                return None

    @property
    def wire_ms(self) -> float:
        """How long a serial wire is busy with it; a network takes microseconds."""
        if isinstance(self.message, Midi):
            return len(self.message.data) * MIDI_BYTE_MS
        return 0.0


def sent_in(studio: Studio, leg: Leg) -> tuple[Sent, ...]:
    """The messages of a leg in order; steps by hand have none."""
    return tuple(sent for step in leg.steps for sent in _sent_by(studio, step))


def _sent_by(studio: Studio, step: Step) -> Iterator[Sent]:
    messages, names = step.messages(studio.controls), _names(studio, step)
    ends_at = len(messages) - _last(studio, step, messages)
    for at, message in enumerate(messages):
        yield Sent(step, message, names, is_end=at >= ends_at)


def _last(studio: Studio, step: Step, messages: Sequence[Message]) -> int:
    """How many of its messages set the value itself."""
    change = step.changes[0]
    if step.recall is not None or not change.via:
        return len(messages)
    return len(studio.controls[change.control].messages[change.value])


def _names(studio: Studio, step: Step) -> tuple[str, ...]:
    """What a step sets, in words; of a recall only its name."""
    return (
        tuple(values_of(studio, step)) if step.recall is None else (step.recall.name,)
    )


def time_ms(studio: Studio, found: Crossing) -> float:
    """How long it takes if nothing is lost: wires and settling, leg after leg.

    Gear that answers ends its leg when it has answered; its answer, a millisecond or
    so, is not in here.
    """
    return sum(leg_ms(studio, leg) for leg in found.legs)


def leg_ms(studio: Studio, leg: Leg) -> float:
    """How long one leg takes if nothing is lost: the busiest wire, then settling."""
    spacing = {
        c.name: c.spacing_ms for c in studio.connections if isinstance(c, MidiDevice)
    }
    busy: dict[str, float] = {}
    for sent in sent_in(studio, leg):
        port = sent.message.port
        busy[port] = busy.get(port, 0.0) + max(sent.wire_ms, spacing.get(port, 0.0))
    settling = [
        _settling_ms(studio.controls[change.control], change, step.recall)
        for step in leg.steps
        for change in step.carried
    ]
    return max(busy.values(), default=0.0) + max(settling, default=0.0)


def _settling_ms(control: Control, change: Change, recall: Recall | None) -> float:
    """From its message until it is over, the time of an answer not counted."""
    settle = control.settles_in_ms(change.value)
    if recall is not None:
        settle = max(settle, recall.settle_ms)
    steps = len(change.via) * control.step_ms
    if change.is_asked_first and control.ask:
        return steps + max(2 * control.hold_off_ms, control.hold_off_ms + settle)
    return steps + settle + (0.0 if control.ask else control.hold_off_ms)
