"""A helper that was set when the service was killed is undone or told, never forgotten.

The studio and its crossing are those of `test_owed`: `open` is cut for a moment while
two selectors cross, and no scene names it.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest

from bridge.core.effects import Owe, Send, Tell, Told, Wanted
from bridge.core.judge import HouseJudge
from bridge.core.plans import navigator_for
from bridge.core.rehearsal import Rehearsal
from bridge.core.world import Change
from tests.core.test_owed import (
    LATE,
    LOST,
    STUDIO,
    TWICE,
    WELL,
    at_rest,
    boundaries,
    judged,
)


def told(played: Rehearsal, since: int) -> list[str]:
    records = (m.what for m in played.moments[since:])
    return [
        record.words
        for record in records
        if isinstance(record, Tell) and record.told is Told.LEFT_BEHIND
    ]


def is_opened(what: object) -> bool:
    return isinstance(what, Change) and (what.control, what.value) == ("open", True)


def killed(at: float, fate: tuple[float, ...], away_s: float = 0.5) -> Rehearsal:
    """Killed so late in the crossing, and then in fair weather."""
    played, weather = at_rest()
    weather.fate = fate
    played.happen(Wanted("new"))
    played.wait(at)
    weather.fate = WELL
    played.kill(away_s)
    return played


def test_a_kill_at_every_boundary_leaves_no_helper_behind() -> None:
    """However the packets before it fared; and what was owed is owed no more."""
    helped = 0
    for at, fate in itertools.product(boundaries(), (WELL, LATE, TWICE, LOST)):
        played, weather = at_rest()
        weather.fate = fate
        played.happen(Wanted("new"))
        played.wait(at)
        before = len(played.moments)
        was = played.world.true["open"]
        weather.fate, killed_at = WELL, played.now
        played.kill(0.5)
        judged(played)
        is_open = played.world.true["open"]
        helped += not was
        undone_by = [m.at for m in played.moments[before:] if is_opened(m.what)]
        came_late = bool(undone_by) and undone_by[0] <= killed_at + 0.5
        if not was and not came_late:
            assert told(played, before), at
        if not is_open:  # it must not be taken back from here: a scene does it
            assert played.ledger == {"open": True}
            played.happen(Wanted("new"))
            played.wait(2.0)
            judged(played)
        assert played.world.true["open"] is True, at
        assert played.ledger == {}
    assert helped > 20


def test_what_can_not_be_undone_at_once_is_told_and_undone_later() -> None:
    played, _ = at_rest()
    played.world.true |= {"left": "a", "right": "b", "open": False}
    played.ledger = {"open": True}
    since = len(played.moments)
    played.kill(0.5)
    judged(played)
    assert told(played, since)
    assert played.world.true["open"] is False  # bed must not hear talk
    played.happen(Wanted("light"))
    played.wait(2.0)
    judged(played)
    assert played.world.true["open"] is False
    played.kill(0.5)  # and it is not forgotten by a second death
    assert played.ledger == {"open": True}
    played.happen(Wanted("old"))
    played.wait(2.0)
    judged(played)
    assert played.world.true["open"] is True
    assert played.ledger == {}


@pytest.mark.parametrize("again", [0.0, 0.002, 0.06, 0.15, 0.2])
def test_a_second_death_while_it_is_being_undone(again: float) -> None:
    for at in boundaries():
        played = killed(at, LATE, 0.06)
        played.machine = played._born()
        played.begin(again)
        played.kill(0.06)
        judged(played)
        if played.ledger:
            played.happen(Wanted("new"))
            played.wait(2.0)
        assert played.world.true["open"] is True


def test_what_a_hand_has_set_is_not_owed_by_the_next_life() -> None:
    played, weather = at_rest()
    played.happen(Wanted("new"))
    while played.machine.knowledge.belief["open"] != {False}:
        played.wait(0.001)
    weather.fate = LOST
    played.wait(3.0)
    weather.fate = WELL
    played.wait(12.0)
    assert played.ledger == {"open": True}
    played.hand("open", value=True)
    played.wait(1.0)
    played.hand("open", value=False)
    played.wait(1.0)
    assert played.ledger == {}
    played.kill(0.5)
    assert played.world.true["open"] is False


def test_without_anything_kept_it_is_told_and_left_alone() -> None:
    played, _ = at_rest()
    played.world.true["open"] = False
    since = len(played.moments)
    played.kill(0.5)
    (words,) = told(played, since)
    assert words == (
        "open is off, and no scene in force says so: a crossing that was cut short may "
        "have left it"
    )
    assert played.world.true["open"] is False


def test_gear_that_can_not_answer_has_it_undone_by_the_way_home() -> None:
    controls = {n: replace(c, ask=()) for n, c in STUDIO.controls.items()}
    studio = replace(STUDIO, controls=controls, start_scene="old")
    judge = HouseJudge(studio)
    played = Rehearsal(judge, navigator_for(judge))
    played.start()
    played.world.true["open"] = False
    played.ledger = {"open": True}
    played.kill(0.5)
    played.wait(3.0)
    judged(played)
    assert "old" in played.machine.scenes_in_force
    assert played.world.true["open"] is True
    assert played.ledger == {}


def test_what_the_studio_has_not_is_not_owed() -> None:
    played, _ = at_rest()
    played.ledger = {"open": "wide", "gone": True}
    since = len(played.moments)
    played.kill(0.5)
    judged(played)
    assert told(played, since) == []
    assert played.ledger == {}


def test_it_is_kept_before_the_message_is_sent_and_let_go_after_the_last() -> None:
    """A kill may come between any two effects."""
    played, _ = at_rest()
    effects = list(played.machine.handle(Wanted("new"), played.now))
    assert effects[0] == Owe((("open", True),))
    assert any(isinstance(effect, Send) for effect in effects)
    played._perform(effects)
    while played.ledger:
        assert played.machine.deadline is not None
        played.wait(0.001)
    assert played.machine.knowledge.belief["open"] == {True}
    assert "new" in played.machine.scenes_in_force
