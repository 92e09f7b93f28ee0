"""What gear keeps in a memory, and brings back with one message."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.core.wire import Message, Value


@dataclass(frozen=True, slots=True)
class Recall:
    """One message that sets several controls of a piece of gear at once.

    values: every control that it sets (also those that it would leave as they are).
    messages: what to send; it is done with the last of them.
    atomic: the gear surely applies all of them in the same instant.
    settle_ms: when the sound has surely followed, if later than its controls say.
    """

    name: str
    values: Mapping[str, Value]
    messages: tuple[Message, ...]
    atomic: bool = False
    settle_ms: float = 0.0
