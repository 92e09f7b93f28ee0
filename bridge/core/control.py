"""Controls: what changes the flow of sound, and the scenes that set them.

A control is known by its full name ("desk: in 1 to monitor") wherever it is a key, and
shown by its `label` ("mic to monitor").
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from bridge.core.finding import Place
from bridge.core.wire import Message, Value

NOWHERE = ""
"""The position of a selector that has left one place and not yet reached the next."""


class Kind(Enum):
    """What sort of thing a control is."""

    SWITCH = "switch"
    SELECTOR = "selector"
    LEVEL = "level"


class Reach(Enum):
    """Who can set a control."""

    REMOTE = "remote"
    HAND = "hand"
    FIXED = "fixed"


ASK_AGAIN_S = 10.0
"""At rest, between two questions to one control. A hand whose notice was lost and
gear that died without a word are noticed this late; a desk of 100 controls is asked
10 times a second, 1 % of a 31 250 baud wire's 1000 messages."""


@dataclass(frozen=True, slots=True)
class Control:
    """One thing that changes the flow.

    values: every value it can be given; for a level the quietest, the loudest and
        each one that the studio uses, in rising order.
    at_power_up: the value its gear guarantees after power comes on, or None.
    messages: what to send for each value; empty for hand and fixed controls.
    toggles: one message turns it over, whatever it was; see `core.toggling`.
    told: what the gear says for each value, if that is not what is sent for it.
    rungs: levels, rising, by which it goes from one of its values to another, at most
        step_db apart; step_ms: the time between two of them; see `core.ramping`.
    ask: what to send to be told the present value; empty if the gear cannot answer.
    ask_every_ms: between two questions while nothing happens.
    settle_ms: after the last message, when the sound has surely followed.
    settle_to_ms: the same for single values that take their own time (a relay that
        is pulled, and one that falls); see `settles_in_ms`.
    hold_off_ms: how long an old message may still arrive (0 on a serial wire).
    gap: a selector that breaks before it makes passes NOWHERE.
    overlap: a selector that makes before it breaks has both positions for a moment.
    hand_words: for hand controls, what the person does, for each value.
    """

    name: str
    label: str
    gear: str
    kind: Kind
    values: tuple[Value, ...]
    reach: Reach = Reach.REMOTE
    at_power_up: Value | None = None
    at_rest: Value | None = None
    messages: Mapping[Value, tuple[Message, ...]] = field(default_factory=dict)
    ask: tuple[Message, ...] = ()
    settle_ms: float = 0.0
    hold_off_ms: float = 0.0
    gap: bool = False
    overlap: bool = False
    hand_words: Mapping[Value, str] = field(default_factory=dict)
    place: Place | None = None
    settle_to_ms: Mapping[Value, float] = field(default_factory=dict)
    toggles: bool = False
    ask_every_ms: float = 1000 * ASK_AGAIN_S
    told: Mapping[Value, tuple[Message, ...]] = field(default_factory=dict)
    rungs: tuple[float, ...] = ()
    step_db: float = 0.0
    step_ms: float = 0.0

    def said_for(self, value: Value) -> tuple[Message, ...]:
        """What its gear says when it has this value."""
        return (self.told if self.toggles or self.told else self.messages).get(
            value, ()
        )

    def settles_in_ms(self, value: Value) -> float:
        """How long after its message the sound has surely followed to this value."""
        return self.settle_to_ms.get(value, self.settle_ms)


def ports_of(control: Control) -> frozenset[str]:
    """The ports that a control's messages and questions go to."""
    messages = [m for sent in control.messages.values() for m in sent]
    return frozenset(message.port for message in (*messages, *control.ask))


@dataclass(frozen=True, slots=True)
class Scene:
    """A named setting of some or all controls (by full control name).

    is_named: a scene of the studio; else a setting that nobody can ask for, and that
        is always allowed (where contacts are let go, what cures a breach).
    """

    name: str
    values: Mapping[str, Value]
    place: Place | None = None
    is_named: bool = True
