"""Levels that go in steps: from rung to rung of a ladder, one every so many ms.

A level that leaps is heard as a click or a burst, so a profile may say how far it goes
at most with one message. The rungs are the same for every way, and all of them lie
between the two ends, where every level is proved with them: a never-rule that holds at
the louder end holds on the way, and a keep-rule that holds at the quieter one.

Over a network an early rung may arrive after the last one, so such a step is like one
that turns something over (see `core.toggling`): the gear is asked when nothing can
arrive any more, and from what it says the rest of the way is sent.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import accumulate

from bridge.core.control import Control
from bridge.core.leg import Change
from bridge.core.studio import Studio
from bridge.core.wire import Value


def levels_between(control: Control, start: float, end: float) -> tuple[float, ...]:
    """The rungs strictly between two levels, in the order in which they are sent."""
    low, high = sorted((start, end))
    between = [rung for rung in control.rungs if low < rung < high]
    return tuple(between if start < end else reversed(between))


def leaps_over(control: Control, before: Iterable[Value], value: Value) -> bool:
    """Whether going to a value at once leaps over a rung, from one of these."""
    return isinstance(value, float) and any(
        isinstance(level, float) and bool(levels_between(control, level, value))
        for level in before
    )


def in_steps(control: Control, change: Change) -> Change:
    """The change with the rungs that it goes by; without any if they do not help.

    From a level that is not known it goes up from the quietest that it may be; down it
    goes at once, because a cut that is wanted then must not wait.
    """
    before = [level for level in change.before if isinstance(level, float)]
    value = change.value
    if not control.rungs or not isinstance(value, float) or not before:
        return change
    if len(before) > 1 and any(level > value for level in before):
        return change
    via = levels_between(control, min(before), value)
    return replace(change, via=via, passes=change.passes | frozenset(via))


def from_where_it_is(control: Control, change: Change, heard: Value) -> Change:
    """The rest of a change that the gear has not come to the end of."""
    rest = replace(change, before=frozenset({heard}), via=(), passes=frozenset())
    return rest if change.flips else in_steps(control, rest)


def stopped_at(
    control: Control, change: Change, unsent: int
) -> tuple[Change, int] | None:
    """The change as it ends on the step that is being sent, and what that lacks still.

    unsent: how many of the change's messages have not gone. Returns how many of them
    belong to that step. None: no step has begun, or it is the last one.
    """
    stops = (*change.via, change.value)
    ends = list(accumulate(len(control.messages.get(stop, ())) for stop in stops))
    gone = ends[-1] - unsent
    if gone <= 0:
        return None
    place = next(n for n, end in enumerate(ends) if gone <= end)
    if place == len(stops) - 1:
        return None
    # By its own step at least: so it is asked before anything is sent again.
    via = stops[: max(place, 1)]
    return replace(change, value=stops[place], via=via), ends[place] - gone


def gently_set(studio: Studio, most_db: float) -> tuple[str, ...]:
    """The levels that never leap by more than this."""
    return tuple(
        name
        for name, control in studio.controls.items()
        if control.rungs and control.step_db <= most_db
    )
