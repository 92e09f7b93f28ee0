"""The scale of a desk's faders, found out from what they send at marked places.

Strategy: the person puts the fader of each strip to the same few marks. What goes with
the strip must be the strip's own number, as the buttons have told it; what the message
carries at a mark must be the same for every strip, within what a hand can hit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bridge.core.desk_learning import taken_apart
from bridge.core.learning import NotLearned
from bridge.core.wire import Message

SAME = 0.02
"""How far two faders may differ at one mark, as a share of the whole way: a hand puts a
fader of 100 mm to its mark within 2 mm. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Mark:
    """What the fader of a strip sent when it came to rest at a mark: "-10 dB"."""

    strip: str
    level: str
    message: Message


@dataclass(frozen=True, slots=True)
class FaderTable:
    """A message with {strip}, and the number that it carries at each mark."""

    message: str
    scale: tuple[tuple[str, float], ...]


def learn_faders(
    marks: Sequence[Mark], strips: Mapping[str, int]
) -> FaderTable | NotLearned:
    """Find the one scale of all faders. strips: the number of each strip."""
    forms: dict[str, str] = {}
    scales: dict[str, dict[str, float]] = {}
    for mark in marks:
        found = taken_apart(mark.message)
        if found is None:
            return _odd(mark, "its message carries no number")
        form, numbers, value = found
        words = _words(numbers, strips[mark.strip])
        said = form.format(*words)
        if forms.setdefault(mark.strip, said) != said:
            return _odd(mark, "it sends about two different things")
        scales.setdefault(mark.strip, {})[mark.level] = value
    if len(set(forms.values())) != 1 or "{strip}" not in next(iter(forms.values())):
        return NotLearned(
            "the faders have other numbers than the buttons of their strips",
            "write each fader by itself under levels:, as in the table of keys",
        )
    first = next(iter(scales.values()))
    way = max(first.values()) - min(first.values())
    for mark in marks:
        value = scales[mark.strip][mark.level]
        if abs(value - first[mark.level]) > SAME * way:
            return _odd(
                mark, f"it says {value:g}, the first says {first[mark.level]:g}"
            )
    if list(first.values()) != sorted(set(first.values())):
        return NotLearned(
            "the numbers do not rise with the marks",
            "give the marks from the lowest to the highest, and go to each as asked",
        )
    return FaderTable(next(iter(forms.values())), tuple(first.items()))


def _words(numbers: Sequence[int], strip: int) -> list[str]:
    """The numbers of a message, the strip's own written as {strip}, once."""
    words = [str(number) for number in numbers]
    if strip in numbers:
        words[list(numbers).index(strip)] = "{strip}"
    return words


def _odd(mark: Mark, why: str) -> NotLearned:
    return NotLearned(
        f"the fader of {mark.strip} at {mark.level} does not fit: {why}",
        "begin again, and leave each fader at its mark until the next is asked for",
    )
