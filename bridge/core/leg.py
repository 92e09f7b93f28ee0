"""The parts of a crossing as values: changes, steps, legs; and a refusal.

A leg is a set of steps that is safe in any order and any subset, with any of them
lost, late, doubled, or cut short by a kill. Only between legs does order count: the
next leg starts when every step of this one is confirmed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import Enum

from bridge.core.control import Control
from bridge.core.recall import Recall
from bridge.core.wire import Message, Value


class Why(Enum):
    """What a step is for."""

    CUT = "cut"  # nothing gets louder
    OPEN = "open"  # nothing gets quieter
    MOVE = "move"  # a selector, or a level that may go either way
    HELPER = "helper"  # for a moment only: a later step undoes it
    UNDO = "undo"  # takes a helper back


@dataclass(frozen=True, slots=True)
class Change:
    """One control gets one value.

    before: the values that may be in force when it is sent.
    passes: what the control may go through on its way (NOWHERE, for a gap).
    flips: its message turns the control over, so twice is as good as never.
    via: levels that are sent one after the other before the value itself.
    """

    control: str
    value: Value
    before: frozenset[Value]
    passes: frozenset[Value] = frozenset()
    flips: bool = False
    via: tuple[Value, ...] = ()

    @property
    def is_asked_first(self) -> bool:
        """Whether it is sent again only from where the gear says that it is."""
        return self.flips or bool(self.via)


@dataclass(frozen=True, slots=True)
class Step:
    """What is sent, or done by hand, in one go.

    changes: one, or as many as a recall makes. A recall's changes hold only what
        differs from the belief.
    by_hand: nothing is sent; a person does it, and says or shows that it is done.
    """

    changes: tuple[Change, ...]
    why: Why
    by_hand: bool = False
    recall: Recall | None = None

    def messages(self, controls: Mapping[str, Control]) -> tuple[Message, ...]:
        """What to send; empty for a hand step."""
        if self.recall is not None:
            return self.recall.messages
        if self.by_hand:
            return ()
        (change,) = self.changes
        sent = controls[change.control].messages
        return tuple(m for v in (*change.via, change.value) for m in sent.get(v, ()))

    @property
    def made(self) -> tuple[Change, ...]:
        """Its changes as they come: a recall turns nothing over, and knows no steps."""
        if self.recall is None:
            return self.changes
        return tuple(replace(c, flips=False, via=()) for c in self.changes)

    @property
    def carried(self) -> tuple[Change, ...]:
        """All that its messages set: a recall also sets what need not change."""
        if self.recall is None:
            return self.made
        known = {change.control for change in self.changes}
        idle = (
            Change(name, value, frozenset({value}))
            for name, value in sorted(self.recall.values.items())
            if name not in known
        )
        return (*self.made, *idle)


@dataclass(frozen=True, slots=True)
class Leg:
    """Steps that are safe together, and why, in a user's words.

    needs_instant: the leg is safe only because a recall in it is applied in one
        instant: `in_flight` allows mixtures of old and new that would break a rule.
    """

    steps: tuple[Step, ...]
    reason: str
    needs_instant: bool = False

    @property
    def changes(self) -> tuple[Change, ...]:
        """All changes of all steps."""
        return tuple(change for step in self.steps for change in step.changes)

    @property
    def in_flight(self) -> tuple[tuple[str, Value], ...]:
        """Every (control, value) that may be in force while the leg is under way.

        These are what the guard is asked about and what the belief is widened with.
        """
        return tuple(
            (change.control, value)
            for change in self.changes
            for value in (change.value, *sorted(change.passes, key=str))
        )

    @property
    def setting(self) -> dict[str, Value]:
        """What is surely in force once every step of the leg is confirmed."""
        return {change.control: change.value for change in self.changes}


@dataclass(frozen=True, slots=True)
class Crossing:
    """The way to a goal: legs in order, each confirmed before the next.

    No legs: everything of the goal is in force already.
    """

    legs: tuple[Leg, ...]
    goal: Mapping[str, Value]

    @property
    def by_hand(self) -> tuple[Change, ...]:
        """What a person must set, in order; each in its leg, not before."""
        return tuple(
            change
            for leg in self.legs
            for step in leg.steps
            if step.by_hand
            for change in step.changes
        )

    @property
    def owed(self) -> dict[str, Value]:
        """What helpers go back to, or on to where the goal wants them.

        A crossing that is left half-way owes these: whoever plans from there adds
        them to the goal, or the helper stays as it was meant to be for a moment.
        """
        steps = [step for leg in self.legs for step in leg.steps]
        helpers = {c.control for s in steps if s.why is Why.HELPER for c in s.changes}
        return {
            change.control: change.value
            for step in steps
            if step.why is not Why.HELPER
            for change in step.changes
            if change.control in helpers
        }


@dataclass(frozen=True, slots=True)
class Helper:
    """A value that a control may be given for a moment, to let the others pass.

    For example a listener's mute, a trim's lower level, a bridge's on.
    """

    control: str
    value: Value


@dataclass(frozen=True, slots=True)
class Demanded:
    """What one rule demands of the order: one of `first` before one of `then`.

    With one name on each side it is a forced pair. The names are of controls.
    """

    rule: str
    first: tuple[str, ...]
    then: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stopped:
    """A change that can not go next, and the rules that stop it."""

    control: str
    value: Value
    rules: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why there is no crossing.

    rules: those that collide; dropping any one of them would let a crossing be.
    demands: what those rules demand of the order; together they go round in a ring.
    frontier: where the most eager order gets stuck, and on what.
    must_be_known: controls that have to become known (asked, or set by hand) first.
    hands: controls whose step by hand would be unsafe if forgotten, or done too early.
    searched_all: False if the search was given up at its bound, so that an order may
        yet exist.
    """

    words: str
    rules: tuple[str, ...] = ()
    demands: tuple[Demanded, ...] = ()
    frontier: tuple[Stopped, ...] = ()
    must_be_known: tuple[str, ...] = ()
    hands: tuple[str, ...] = ()
    searched_all: bool = True
