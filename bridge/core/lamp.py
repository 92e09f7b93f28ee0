"""A lamp as a value: what it tells, and how it looks when it does.

A lamp tells by its rhythm alone, so that it is understood without colours, and on a pad
that has none; a profile may give colours to that. Slow and fast are the two rates that
IEC 60073 keeps apart, 24 to 48 and 84 to 168 flashes a minute (from memory); what is
faster calls louder there as here. WCAG 2.3.1 wants three flashes a second at the most.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from bridge.core.wire import Message


class Sign(Enum):
    """What a lamp tells; the value is the word for it in a profile."""

    DARK = "dark"
    LIT = "lit"
    COMING = "coming"
    UNSURE = "unsure"
    FAULT = "fault"


RHYTHMS: Mapping[Sign, tuple[float, float]] = {
    Sign.COMING: (2.0, 1.0),  # 30 a minute, half of it lit
    Sign.UNSURE: (2.0, 0.25),  # 30 a minute, a short wink
    Sign.FAULT: (0.5, 0.25),  # 120 a minute
}
"""For each sign that blinks: how long one turn takes and is lit, in seconds."""


class Shows(Enum):
    """What a lamp is about; the value is the word for it in a studio file."""

    SCENES = "scenes"
    EVERYTHING = "everything"
    TROUBLE = "trouble"


@dataclass(frozen=True, slots=True)
class Lamp:
    """One lamp of the studio.

    name: unique ("pads.light 1"). port: where its messages go. scenes: if it shows
    scenes, any of which may be in force. messages: what makes it look so, for DARK and
    LIT at least; a sign without messages of its own looks as LIT while it is lit.
    """

    name: str
    port: str
    shows: Shows
    scenes: tuple[str, ...]
    messages: Mapping[Sign, tuple[Message, ...]]

    def messages_for(self, sign: Sign, *, lit: bool) -> tuple[Message, ...]:
        """What to send while this sign is in its lit or its dark part."""
        if not lit or sign is Sign.DARK:
            return self.messages[Sign.DARK]
        return self.messages.get(sign, self.messages[Sign.LIT])


def is_lit(sign: Sign, seconds: float) -> bool:
    """Whether a sign is in its lit part, so long after it began. It begins lit."""
    if sign not in RHYTHMS:
        return sign is Sign.LIT
    turn, lit = RHYTHMS[sign]
    return seconds % turn < lit


def turns_in(sign: Sign, seconds: float) -> float | None:
    """In how many seconds it changes, so long after it began; None: never."""
    if sign not in RHYTHMS:
        return None
    turn, lit = RHYTHMS[sign]
    part = seconds % turn
    return (lit if part < lit else turn) - part
