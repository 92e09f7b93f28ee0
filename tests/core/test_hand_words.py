"""What a hand is asked to do, and the words by which it is known to be done."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.core.button import Button, Gesture
from bridge.core.effects import Done, Pressed, Said, Tell, Told, Wanted
from bridge.core.rehearsal import Rehearsal
from bridge.core.table import State
from bridge.core.wire import Contact, Osc
from tests.fakes.hand_booth import (
    BELLS,
    GUEST,
    STUDIO,
    WithAPerson,
    in_scene,
    told,
    truth_is_believed,
    truth_is_believed_but,
)

pytestmark = pytest.mark.long


def test_it_says_what_a_hand_must_do_before_anything_is_sent() -> None:
    played, _ = in_scene("quiet")
    first = len(played.moments)
    played.happen(Wanted("call"))
    sent = [
        n
        for n, m in enumerate(played.moments)
        if isinstance(m.what, Osc | Contact) and n >= first
    ]
    before = played.moments[first].what
    assert isinstance(before, Tell)
    assert before.words == (
        "to call: 3 steps in 2 legs, 2 by hand: set bells to monitor to on (desk); "
        "set guest to monitor to on (desk)"
    )
    assert sent[0] > first
    # The messages go before the hand is waited for, and nothing is waited for them.
    assert played.machine.hands.asked == ()
    assert len(played.machine.hands.to_come) == 2
    played.wait(0.4)
    assert played.world.true["mic to program"] is True
    assert len(played.machine.hands.asked) == 2


def press(played: Rehearsal, gesture: Gesture = Gesture.TAP) -> None:
    played.happen(Pressed("pedal", gesture))


def test_a_press_of_the_same_button_says_that_it_is_done() -> None:
    played, _ = in_scene("quiet")
    press(played)
    played.wait(2.0)
    assert played.machine.state is State.CROSSING
    press(played)
    assert played.machine.scenes_in_force == ("call",)
    assert told(played, Told.DONE_BY_HAND)[-1].startswith("said to be done: set bells")


def test_an_impatient_second_press_is_no_word() -> None:
    """Nobody sets two switches in a third of a second: it goes on to the next scene."""
    played, _ = in_scene("quiet")
    press(played)
    played.wait(0.3)
    press(played)
    played.wait(1.0)
    assert played.machine.heading == "aloud"
    assert played.machine.scenes_in_force == ()


def test_another_button_and_a_name_are_no_word() -> None:
    studio = replace(
        STUDIO,
        buttons=(
            *STUDIO.buttons,
            Button("pad", ("pad", "midi", b"\x90\x24"), 1, {Gesture.TAP: ("quiet",)}),
        ),
    )
    played, _ = in_scene("quiet", WithAPerson(studio))
    press(played)
    played.wait(2.0)
    played.happen(Pressed("pad", Gesture.TAP))
    played.wait(1.0)
    assert played.machine.heading == "quiet"
    played.happen(Wanted("call"))
    played.wait(1.0)
    assert played.machine.heading == "call"


def test_a_hold_that_leads_away_takes_its_first_touch_back() -> None:
    """The foot comes down, which says "done", and stays: it meant to go away."""
    played, _ = in_scene("quiet")
    press(played)
    played.wait(2.0)
    press(played)
    assert played.machine.scenes_in_force == ("call",)
    played.wait(0.6)
    press(played, Gesture.HOLD)
    played.wait(1.0)
    truth_is_believed(played)
    assert played.machine.heading == "quiet"
    assert {c.control for c in played.machine.hands.asked} == {GUEST, BELLS}


def test_a_hold_that_led_here_may_say_it_too() -> None:
    """Its first touch is a tap, which says "done"; what follows leads nowhere else."""
    played, _ = in_scene("call")
    for _ in range(2):
        press(played)
        played.wait(0.6)
        press(played, Gesture.HOLD)
        played.wait(2.0)
    assert played.machine.scenes_in_force == ("quiet",)
    assert len(told(played, Told.DONE_BY_HAND)) == 1
    truth_is_believed_but(played, GUEST, BELLS)


def test_what_was_said_early_is_not_asked_again() -> None:
    played, _ = in_scene("quiet")
    played.happen(Said(GUEST, value=True))
    played.happen(Wanted("call"))
    played.wait(1.0)
    assert [c.control for c in played.machine.hands.asked] == [BELLS]


def test_done_is_refused_when_nothing_is_asked() -> None:
    played, _ = in_scene("quiet")
    played.happen(Done(ticket=7))
    assert told(played, Told.REFUSED) == ["nothing is asked of a hand now"]
