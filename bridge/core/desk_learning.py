"""The table of a desk, found out from what it sends when its buttons are pressed.

Strategy: the person presses each button on and off once. If one part of the messages
goes with the strip and another with the bus, the whole table is one template and two
rows of numbers; else we say which button does not fit, and guess nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from bridge.core.learning import NotLearned, message_words
from bridge.core.wire import Message, key_and_number

_RUN = re.compile(r"(?<![0-9])(?:0|[1-9][0-9]*)(?![0-9])", re.ASCII)
"""A number as one writes it."""


@dataclass(frozen=True, slots=True)
class Sample:
    """What one button sent when it was pressed on, and then off."""

    strip: str
    bus: str
    on: Message
    off: Message

    @property
    def name(self) -> str:
        """The button in words."""
        return f"{self.strip} to {self.bus}"


@dataclass(frozen=True, slots=True)
class DeskTable:
    """What was found: a message with {strip} and {bus}, and what these stand for."""

    message: str
    on: float
    off: float
    strips: Mapping[str, int]
    buses: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class _Parts:
    """A message taken apart: its numbers, and how it is put together again."""

    form: str
    numbers: tuple[int, ...]
    on: float
    off: float


def learn_desk(samples: Sequence[Sample]) -> DeskTable | NotLearned:
    """Find the table that makes all of these messages, and no other."""
    taken: list[_Parts] = []
    for sample in samples:
        parts = _apart(sample)
        if isinstance(parts, NotLearned):
            return parts
        taken.append(parts)
    if not taken:
        return NotLearned("no button was pressed", "press each one as it is asked for")
    first = taken[0]
    for sample, parts in zip(samples, taken, strict=True):
        same = (parts.form, parts.on, parts.off) == (first.form, first.on, first.off)
        if not same:
            return _odd(sample, "its message is of another kind than the first one's")
    return _table(samples, taken)


def _table(
    samples: Sequence[Sample], taken: Sequence[_Parts]
) -> DeskTable | NotLearned:
    """Give each number of the message to the strip, the bus, or to neither."""
    first = taken[0]
    strips: dict[str, int] = {}
    buses: dict[str, int] = {}
    words: list[str] = []
    for place in range(len(first.numbers)):
        numbers = [parts.numbers[place] for parts in taken]
        by_strip = _depends(samples, numbers, lambda sample: sample.strip)
        by_bus = _depends(samples, numbers, lambda sample: sample.bus)
        if len(set(numbers)) == 1:
            words.append(str(numbers[0]))
        elif by_strip is not None and strips in ({}, by_strip):
            strips = by_strip
            words.append("{strip}")
        elif by_bus is not None and buses in ({}, by_bus):
            buses = by_bus
            words.append("{bus}")
        else:
            return _no_table()
    alike = _two_alike(samples, taken)
    if alike is not None:
        return alike
    for known, name in ((strips, "strip"), (buses, "bus")):
        for sample in samples:
            known.setdefault(getattr(sample, name), len(known) + 1)
    message = first.form.format(*words)
    return DeskTable(message, first.on, first.off, strips, buses)


def _depends(
    samples: Sequence[Sample], numbers: Sequence[int], name: Callable[[Sample], str]
) -> dict[str, int] | None:
    """The number for each name, if it follows from the name alone."""
    found: dict[str, int] = {}
    for sample, number in zip(samples, numbers, strict=True):
        if found.setdefault(name(sample), number) != number:
            return None
    return found


def _two_alike(samples: Sequence[Sample], taken: Sequence[_Parts]) -> NotLearned | None:
    seen: dict[tuple[int, ...], Sample] = {}
    for sample, parts in zip(samples, taken, strict=True):
        other = seen.setdefault(parts.numbers, sample)
        if other is not sample:
            return _odd(sample, f"it sends the same as {other.name}")
    return None


def _apart(sample: Sample) -> _Parts | NotLearned:
    on, off = key_and_number(sample.on), key_and_number(sample.off)
    if on is None or off is None or on[1] is None or off[1] is None:
        return _odd(sample, f"its message is {message_words(sample.on)}, not a number")
    if on[0] != off[0]:
        return _odd(sample, "on and off are about two different things")
    if on[1] == off[1]:
        return _odd(sample, "on and off are the same message: it toggles")
    found = taken_apart(sample.on)
    if found is None:
        return _odd(sample, "it changes a program: that sets more than one button")
    form, numbers, _ = found
    return _Parts(form, numbers, on[1], off[1])


def taken_apart(message: Message) -> tuple[str, tuple[int, ...], float] | None:
    """A message as a form with {} for its numbers, these, and the number it carries.

    None if it carries none, or is of a kind that is about more than one thing.
    """
    found = key_and_number(message)
    if found is None or found[1] is None:
        return None
    _, _, which = found[0]
    if isinstance(which, str):
        form, numbers = _address(which)
        return form, numbers, found[1]
    name = {0xB0: "control", 0x90: "note"}.get(which[0] & 0xF0)
    if name is None:
        return None
    channel = (which[0] & 0x0F) + 1
    return name + " {} on channel {}", (which[1], channel), found[1]


def _address(which: str) -> tuple[str, tuple[int, ...]]:
    """An OSC address with its numbers taken out: /strip{}/to/{} and 1, 2.

    What begins with a zero is left as it is: nobody would write it from a number.
    """
    escaped = which.replace("{", "{{").replace("}", "}}")
    numbers = tuple(int(found) for found in _RUN.findall(escaped))
    return _RUN.sub("{}", escaped), numbers


def _odd(sample: Sample, why: str) -> NotLearned:
    return NotLearned(
        f"{sample.name} does not fit: {why}",
        "press it again by itself; if it is so, write its messages whole",
    )


def _no_table() -> NotLearned:
    return NotLearned(
        "no part of the messages goes with the strip alone, or with the bus alone",
        "write each switch by itself under switches:, and a flow for each: see "
        "desk-memories.yaml for flows",
    )
