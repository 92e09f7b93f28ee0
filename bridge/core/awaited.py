"""One message that waits for its port, and one control that is under way, as values."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from bridge.core.control import Control
from bridge.core.leg import Change, Step
from bridge.core.wire import Message, Midi

MIDI_WAIT_S = 0.012
"""How long a MIDI message may wait in a sound server before it goes: two periods of 256
frames at 48 kHz are 10.7 ms. Gear on such a wire seldom answers, so this is waited."""


@dataclass(frozen=True, slots=True)
class Parcel:
    """One message that waits for its port.

    changes: what it may change; empty for a question. not_before: hold-off.
    at_once: the gear surely applies all changes in one instant.
    paced_s: how long after it the next of its step may go; 0 if it may at once.
    controls: whom it is about. last: nothing more of its step or question follows.
    """

    message: Message
    controls: tuple[str, ...]
    changes: tuple[Change, ...]
    not_before: float
    last: bool
    at_once: bool = False
    paced_s: float = 0.0


@dataclass(slots=True)
class Awaited:
    """One control that is under way.

    step: what to send again; None where the gear is only asked.
    change: what this control is to become; None where it is only asked.
    tries: how often it was sent or asked. answer_by: when the present try has failed.
    settle_at: when its sound has surely followed.
    is_back: the gear has said that it is not there yet, so it may be sent again.
    """

    control: Control
    step: Step | None = None
    change: Change | None = None
    tries: int = 0
    answer_by: float = inf
    settle_at: float = inf
    is_confirmed: bool = False
    is_back: bool = False

    @property
    def is_asked_first(self) -> bool:
        """Whether it may be sent again only when the gear has said where it is."""
        return self.change is not None and self.change.is_asked_first

    @property
    def is_by_hand(self) -> bool:
        """Whether a person is to do it."""
        return self.step is not None and self.step.by_hand

    @property
    def settle_s(self) -> float:
        """How long after its message the sound has surely followed."""
        if self.change is None:
            return 0.0
        settle = self.control.settles_in_ms(self.change.value) / 1000
        messages = self.control.messages.get(self.change.value, ())
        recall = self.step.recall if self.step is not None else None
        if recall is not None:
            settle, messages = max(settle, recall.settle_ms / 1000), recall.messages
        by_midi = any(isinstance(message, Midi) for message in messages)
        return settle + (MIDI_WAIT_S if by_midi else 0.0)

    def all_sent(self, now: float) -> None:
        """The last of its messages has gone: its sound follows, and then its answer."""
        life = self.control.hold_off_ms / 1000
        self.settle_at = now + life + self.settle_s
        if self.is_asked_first and self.control.ask:
            self.answer_by = now + 2 * life  # it is clear: ask

    def is_over(self, now: float) -> bool:
        """Whether nothing more is waited for."""
        if self.step is None:
            return self.is_confirmed
        needs_word = bool(self.control.ask) or self.step.by_hand
        return self.settle_at <= now and (self.is_confirmed or not needs_word)
