"""Machines with a known fault, by which a search shows that it is not blind.

Each takes what pytest patches with, and puts the fault into the machine's own code.
"""

from __future__ import annotations

import pytest

from bridge.core.awaited import Awaited
from bridge.core.belief import known
from bridge.core.journey import Journey
from bridge.core.knowledge import Knowledge
from bridge.core.world import as_found


def guard_asleep(patch: pytest.MonkeyPatch) -> None:
    """The guard lets everything pass."""
    patch.setattr("bridge.core.desk.refused_because", lambda *_: ())


def no_hold_off(patch: pytest.MonkeyPatch) -> None:
    """A control may get a second value while the first is on its way still."""
    patch.setattr(Knowledge, "may_send_at", lambda *_: 0.0)


def a_wait_instead_of_a_confirmation(patch: pytest.MonkeyPatch) -> None:
    """A leg is over when its time to settle is, whatever the gear has said."""

    def is_over(self: Awaited, now: float) -> bool:
        return self.settle_at <= now if self.step is not None else self.is_confirmed

    patch.setattr(Awaited, "is_over", is_over)


def all_is_as_found_after_a_restart(patch: pytest.MonkeyPatch) -> None:
    """All is taken to be as the gear wakes up."""
    patch.setattr(
        "bridge.core.desk.before_start", lambda studio: known(as_found(studio))
    )


def turn_inside_a_leg(patch: pytest.MonkeyPatch) -> None:
    """A press is taken at once, and what was sent is taken as done."""

    def abandon(self: Journey) -> None:
        for name in self.desk.flight.awaited:
            self.desk.knowledge.settle(name, self.desk.now)
        self.desk.flight.clear()

    patch.setattr(Journey, "may_turn", lambda _: True)
    patch.setattr(Journey, "abandon", abandon)
