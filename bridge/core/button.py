"""A button, and the gestures that a person makes with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from bridge.core.finding import Place
from bridge.core.wire import Key


class Gesture(Enum):
    """What a person does with a button."""

    TAP = "tap"
    HOLD = "hold"
    DOUBLE = "double"
    RELEASE = "release"


@dataclass(frozen=True, slots=True)
class Button:
    """A thing the person presses, and where each gesture leads.

    key: what its messages are about; a number of at least `down_from` is down.
    latching: every change of the contact is a press (it stays where it is pushed).
    inverted: a normally-closed contact: low is down.
    rounds: for each gesture the scenes it goes round.
    """

    name: str
    key: Key
    down_from: float
    rounds: Mapping[Gesture, tuple[str, ...]]
    latching: bool = False
    inverted: bool = False
    hold_ms: float = 600.0
    lockout_ms: float = 40.0
    place: Place | None = None
