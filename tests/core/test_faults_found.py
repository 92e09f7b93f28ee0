"""The exhaustive fault search is not blind: machines with a known fault are found out.

Each fault is put in on purpose; the search of `test_faults`, cut short, must see it
by a rule that was broken, a belief without the truth, a request without an answer, or
a run without an end.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import pytest

from bridge.core.belief import Belief
from bridge.core.control import Scene
from bridge.core.crossing import Crossing
from bridge.core.finding import Finding
from bridge.core.ground import Ground
from bridge.core.journey import Journey
from bridge.core.knowledge import Knowledge
from bridge.core.leg import Change, Leg
from bridge.core.plans import Navigator
from bridge.core.telling import arrived
from tests.core.test_faults import (
    OVER_THE_WIRE,
    STAGE,
    STUDIO,
    all_one_fate,
    one_fault,
)
from tests.fakes.known_faults import (
    a_wait_instead_of_a_confirmation,
    all_is_as_found_after_a_restart,
    guard_asleep,
    no_hold_off,
    turn_inside_a_leg,
)
from tests.fakes.trial import LATE, LOST, WELL, Fate, Stage, Trial

pytestmark = pytest.mark.long


def search(stage: Stage) -> Iterator[Trial]:
    """Orders, losses, presses and kills, of each some."""
    fates: Sequence[Fate]
    for start, goal in OVER_THE_WIRE:
        for fates in itertools.product((WELL, LATE), repeat=4):
            yield stage.run(start, goal, fates)
        for fates in [*one_fault(), [LOST] * 500]:
            yield stage.run(start, goal, fates)
    for start, goal in OVER_THE_WIRE:
        for fates in all_one_fate():
            for at in stage.boundaries(start, goal, fates)[::2]:
                yield stage.run(start, goal, fates, press_at=(at, start))
                yield stage.run(start, goal, fates, kill_at=at)


def what_is_wrong(stage: Stage) -> str:
    """The first thing that the search finds, or "" if it finds nothing."""
    try:
        for trial in search(stage):
            if trial.broke:
                return "broken"
            trial.judged_at_last()
    except AssertionError as found:
        return f"found: {found}"
    return ""


def changed(change: Callable[[tuple[Leg, ...]], tuple[Leg, ...]]) -> Navigator:
    """The true plans, with something done to their legs."""

    def found(belief: Belief, scene: Scene) -> Crossing | Finding:
        way = STAGE.navigator(belief, scene)
        if not isinstance(way, Crossing) or len(way.legs) < 2:
            return way
        return replace(way, legs=change(way.legs))

    return found


def swapped(legs: tuple[Leg, ...]) -> tuple[Leg, ...]:
    return tuple(reversed(legs))


def in_one(legs: tuple[Leg, ...]) -> tuple[Leg, ...]:
    return (Leg(tuple(s for leg in legs for s in leg.steps), "hasty"),)


def last_cut_later(legs: tuple[Leg, ...]) -> tuple[Leg, ...]:
    """One step of the first leg is skipped, and made up for at the end."""
    *others, skipped = legs[0].steps
    first = (Leg(tuple(others), legs[0].reason),) if others else ()
    return (*first, *legs[1:], Leg((skipped,), "late"))


PLANNERS = [swapped, in_one, last_cut_later]


@pytest.mark.parametrize("change", PLANNERS)
def test_a_wrong_plan_without_the_guard_is_seen(
    change: Callable[[tuple[Leg, ...]], tuple[Leg, ...]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    guard_asleep(monkeypatch)
    assert what_is_wrong(Stage(STUDIO, changed(change))) == "broken"


@pytest.mark.parametrize("change", PLANNERS)
def test_the_guard_alone_keeps_every_wrong_plan_from_harm(
    change: Callable[[tuple[Leg, ...]], tuple[Leg, ...]],
) -> None:
    """A mistake in the planner costs a scene, never an echo."""
    scenes_lost = 0
    for trial in search(Stage(STUDIO, changed(change))):
        trial.judged()
        scenes_lost += not trial.machine.scenes_in_force
    assert scenes_lost


def trust_what_was_never_confirmed(patch: pytest.MonkeyPatch) -> None:
    def give_up(self: Knowledge, name: str, now: float) -> None:
        sent = self[name].sent
        if sent is not None:
            self.say(name, sent, Ground.SETTLED, now)

    patch.setattr(Knowledge, "give_up", give_up)


def believe_what_was_sent(patch: pytest.MonkeyPatch) -> None:
    real = Knowledge.sending

    def sending(self: Knowledge, change: Change, now: float) -> None:
        real(self, change, now)
        self._put(change.control, frozenset({change.value}), Ground.IN_FLIGHT, now)

    patch.setattr(Knowledge, "sending", sending)


def never_give_up(patch: pytest.MonkeyPatch) -> None:
    patch.setattr("bridge.core.journey.TRIES", 10_000)


def answer_twice(patch: pytest.MonkeyPatch) -> None:
    """Whoever was superseded is also told that it arrived."""
    real = Journey.abandon

    def abandon(self: Journey) -> None:
        real(self)
        self.desk.tell(arrived(self.request.scene, self.request.ticket))

    patch.setattr(Journey, "abandon", abandon)


@pytest.mark.parametrize(
    "fault",
    [
        a_wait_instead_of_a_confirmation,
        trust_what_was_never_confirmed,
        believe_what_was_sent,
        no_hold_off,
        all_is_as_found_after_a_restart,
        turn_inside_a_leg,
        never_give_up,
        answer_twice,
    ],
)
def test_a_machine_with_this_fault_is_seen(
    fault: Callable[[pytest.MonkeyPatch], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    fault(monkeypatch)
    assert what_is_wrong(Stage(STUDIO))


def test_the_sound_machine_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    assert what_is_wrong(Stage(STUDIO)) == ""
    guard_asleep(monkeypatch)  # the plans need no guard: two walls, each enough
    assert what_is_wrong(Stage(STUDIO)) == ""
