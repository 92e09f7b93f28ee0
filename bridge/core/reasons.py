"""Why a leg comes when it comes, and other words for the person at the desk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from bridge.core.control import Control, Kind
from bridge.core.corners import Passage, State
from bridge.core.cures import value_words
from bridge.core.leg import Change, Step, Why
from bridge.core.ordering import Order
from bridge.core.wire import Value

MOST_NAMED = 3
"""Things named in one reason; more would not be read."""


def being(controls: Mapping[str, Control], name: str, value: Value) -> str:
    """For example "mic to monitor is off"."""
    verb = "is at" if controls[name].kind is Kind.SELECTOR else "is"
    return f"{controls[name].label} {verb} {value_words(value)}"


def listed(words: Iterable[str], joint: str = "and") -> str:
    """Join with commas and a joint; what is beyond MOST_NAMED is only counted."""
    every = list(words)
    if len(every) > MOST_NAMED:
        every = [*every[:MOST_NAMED], f"{len(every) - MOST_NAMED} more"]
    *firsts, last = every
    return f"{', '.join(firsts)} {joint} {last}" if firsts else last


def reason_of(
    controls: Mapping[str, Control],
    legs: Sequence[tuple[Step, ...]],
    number: int,
    needed: Sequence[Change],
    after: str,
) -> str:
    """Why leg `number` of these is safe where it stands.

    needed: the changes of the leg before without which it would not be safe.
    after: what is so before the first of these legs, if it is worth a word.
    """
    steps = legs[number]
    kinds = {step.why for step in steps}
    if number == 0 and after:
        return f"{_what(controls, steps)} now that {after}"
    if number == 0 and kinds == {Why.CUT}:
        return "cut first: nothing can get louder"
    if number == 0 and len(legs) == 1:
        return "all in one: no order of these can break a rule"
    if number == 0 and Why.HELPER not in kinds:
        what = _what(controls, steps)
        return f"{what}: no order of these can break a rule, and the rest waits"
    if number == 0:
        return f"{_what(controls, steps)}, so that the rest can pass"
    before = [being(controls, c.control, c.value) for c in needed]
    because = listed(before) if before else "the leg before is done"
    return f"{_what(controls, steps)} now that {because}"


def needed_before(
    passage: Passage, order: Order, state: State, number: int
) -> list[int]:
    """The tracks of the leg before without which leg `number` is not safe.

    state: where the leg before started.
    """
    before, leg = order[number - 1], order[number]
    return [
        track
        for track in sorted(before - leg)
        if passage.stopped_by(passage.after(state, before - {track}), leg | {track})
    ]


def _what(controls: Mapping[str, Control], steps: tuple[Step, ...]) -> str:
    helping = [c for s in steps if s.why is Why.HELPER for c in s.changes]
    if helping:
        values = (being(controls, c.control, c.value) for c in helping)
        return f"for a moment {listed(values)}"
    kinds = {step.why for step in steps}
    if kinds == {Why.CUT}:
        return "cuts are safe"
    if kinds == {Why.OPEN}:
        return "opens are safe"
    labels = listed(controls[c.control].label for s in steps for c in s.changes)
    if kinds == {Why.MOVE}:
        return f"{labels} can move safely"
    if kinds == {Why.UNDO}:
        return f"what helped goes back ({labels})"
    return "these are safe"
