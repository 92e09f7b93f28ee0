"""What a button is, from what arrived while it was pressed a few times.

Strategy: the person presses and lets go a known number of times, slowly. Edges that
come close together are one movement that bounces. Twice as many movements as presses
is a contact that comes back; as many is one that stays. Nothing is guessed: if the
count fits neither, we ask again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from bridge.core.wire import (
    WHOLE,
    Coil,
    Contact,
    Key,
    Keystroke,
    Message,
    Midi,
    key_and_number,
)

PRESSES = 5
"""Presses asked for: enough to tell once from twice, few enough to be done."""

PROGRAM, PROGRAM_BYTES = 0xC0, 2
"""The status of a program change, without its channel, and how long it is."""

BOUNCE_S = 0.05
"""Edges closer than this are one movement. Contacts settle in some 10 ms; a foot takes
100 ms and more (common practice, no source)."""

USUAL_LOCKOUT_MS = 40.0
"""The lockout of a button whose file says nothing."""

DOWN_FROM = {
    "midi control": 64.0,
    "midi note": 1.0,
    "osc": 0.5,
    "line": 1.0,
    "key": 1.0,
}
"""From which number on a button is down, as the files' reader has it."""


class Way(Enum):
    """How a contact works, in the words of the studio file where it has one."""

    MOMENTARY = "momentary"
    LATCHING = "latching"
    NORMALLY_CLOSED = "normally closed"
    ONCE = "once"  # it says that it is pressed, never that it is let go


@dataclass(frozen=True, slots=True)
class Learned:
    """A button that was understood.

    numbers: the different numbers that came, at most a few for a switch, many for a
    pedal that slides. bounce_ms: the longest time between the first and the last edge
    of one movement. lockout_ms: None if the usual one is enough. others: how many
    messages about something else came.
    """

    key: Key
    way: Way
    numbers: tuple[float, ...]
    bounce_ms: float
    lockout_ms: float | None
    others: int

    @property
    def slides(self) -> bool:
        """Whether it is a pedal that slides, not a switch."""
        return len(self.numbers) > 2


@dataclass(frozen=True, slots=True)
class NotLearned:
    """Why nothing can be said, and what to do about it."""

    why: str
    cure: str


@dataclass(frozen=True, slots=True)
class _Movement:
    """Edges that are one movement: when it began and ended, and where it led."""

    began: float
    ended: float
    down: bool


def learn_button(
    heard: Sequence[tuple[float, Message]], presses: int = PRESSES
) -> Learned | NotLearned:
    """Say what was pressed. heard: (seconds, message) in order of time."""
    if not heard:
        return NotLearned(
            "nothing arrived",
            "see that it is plugged in, has power, and that the name or port is right",
        )
    numbers: dict[Key, list[tuple[float, float]]] = {}
    for at, message in heard:
        found = key_and_number(message)
        if found is not None and found[1] is not None and _kind(found[0]):
            numbers.setdefault(found[0], []).append((at, found[1]))
    if not numbers and (programs := _programs(heard)):
        return _of_programs(programs, presses, len(heard))
    if not numbers:
        return NotLearned(
            f"what arrived cannot be a button: {message_words(heard[0][1])}",
            "let it send a control change, a note, a program change, or an OSC address "
            "with a number",
        )
    key = max(numbers, key=lambda each: len(_movements(each, numbers[each])))
    others = len(heard) - len(numbers[key])
    return _judged(key, numbers[key], presses, others)


def _programs(heard: Sequence[tuple[float, Message]]) -> dict[Midi, list[float]]:
    """The program changes that came, each with when; repeats at once are one."""
    found: dict[Midi, list[float]] = {}
    for at, message in heard:
        if not isinstance(message, Midi) or len(message.data) != PROGRAM_BYTES:
            continue
        if message.data[0] & 0xF0 != PROGRAM:
            continue
        times = found.setdefault(message, [])
        if not times or at - times[-1] > BOUNCE_S:
            times.append(at)
    return found


def _of_programs(
    programs: dict[Midi, list[float]], presses: int, count: int
) -> Learned | NotLearned:
    message = max(programs, key=lambda each: len(programs[each]))
    if len(programs) > 1 and len(programs[message]) != presses:
        numbers = ", ".join(str(each.data[1]) for each in programs)
        return NotLearned(
            f"it says another program from press to press: {numbers}",
            "set it to one program; or write a button for each, with program: in from:",
        )
    if len(programs[message]) != presses:
        return _miscounted(presses, f"{len(programs[message])} program changes came")
    key = (message.port, WHOLE, message.data)
    others = count - len(programs[message])
    return Learned(key, Way.ONCE, (float(message.data[1]),), 0.0, None, others)


def _miscounted(presses: int, came: str) -> NotLearned:
    return NotLearned(
        f"{presses} presses were asked for, and {came}",
        "try again: press and let go slowly, about a second each, and count",
    )


def _judged(
    key: Key, numbers: list[tuple[float, float]], presses: int, others: int
) -> Learned | NotLearned:
    movements = _movements(key, numbers)
    if len(movements) <= 1 and len(numbers) >= presses:
        return NotLearned(
            "it says the same thing at each press, and nothing when it is let go",
            "set it to send another value when let go, or to switch to and fro",
        )
    if len(movements) not in (presses, 2 * presses):
        return _miscounted(presses, f"{len(movements)} movements came")
    if len(movements) == presses:
        way = Way.LATCHING
    else:
        way = Way.MOMENTARY if movements[0].down else Way.NORMALLY_CLOSED
    bounce_ms = 1000.0 * max(each.ended - each.began for each in movements)
    values = tuple(sorted({number for _, number in numbers}))
    return Learned(key, way, values, bounce_ms, _lockout(bounce_ms), others)


def _lockout(bounce_ms: float) -> float | None:
    """Half as long again as it bounced, if that is more than the usual lockout."""
    wanted = 10.0 * math.ceil(1.5 * bounce_ms / 10.0)
    return wanted if wanted > USUAL_LOCKOUT_MS else None


def _movements(key: Key, numbers: Sequence[tuple[float, float]]) -> list[_Movement]:
    """Levels become movements; what comes back within a bounce is none."""
    limit = DOWN_FROM[_kind(key)]
    first = numbers[0][1] >= limit
    # Of a switch what comes first is a movement; a pedal that slides starts anywhere.
    slides = len({number for _, number in numbers}) > 2
    level = first if slides else not first
    found: list[_Movement] = []
    burst: list[tuple[float, bool]] = []
    for at, number in (*numbers, (math.inf, -1.0)):
        if burst and at - burst[-1][0] > BOUNCE_S:
            end = burst[-1][1]
            if end is not level:
                found.append(_Movement(burst[0][0], burst[-1][0], end))
                level = end
            burst = []
        if math.isfinite(at):
            down = number >= limit
            if burst or down is not level:
                burst.append((at, down))
    return found


def _kind(key: Key) -> str:
    """What sort of message a button's may be; "" for what it may not."""
    _, transport, which = key
    if transport != "midi":
        return transport
    assert isinstance(which, bytes)
    return {0xB0: "midi control", 0x90: "midi note"}.get(which[0] & 0xF0, "")


def message_words(message: Message) -> str:
    """A message as a profile or a studio file says it, without its port."""
    found = key_and_number(message)
    if isinstance(message, Contact):
        return "line driven" if message.high else "line released"
    if isinstance(message, Keystroke | Coil) or found is None or found[1] is None:
        return str(message).partition(": ")[2]
    (_, _, which), number = found
    if isinstance(which, str):
        return f"{which} = {number:g}"
    channel = (which[0] & 0x0F) + 1
    name = {0xB0: "control", 0x90: "note"}.get(which[0] & 0xF0)
    if name is None:
        return f"program on channel {channel} = {number:g}"
    return f"{name} {which[1]} on channel {channel} = {number:g}"
