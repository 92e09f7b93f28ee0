"""What a person reads of a crossing, word for word."""

from __future__ import annotations

from bridge.core.belief import known
from bridge.core.control import Reach
from bridge.core.leg import Crossing, Helper, Refusal
from tests.core import crossing_examples as examples
from tests.core.crossing_examples import HALF_DB
from tests.core.crossing_reading import (
    hands,
    planned,
    read,
    reading,
)


def test_cuts_come_first_and_opens_name_the_cuts() -> None:
    assert reading(examples.b1()) == [
        "guest to main off, speakers off | cut first: nothing can get louder",
        (
            "main to return on, mic on | opens are safe now that guest to main is off "
            "and speakers is off"
        ),
    ]


def test_each_leg_names_what_it_waited_for() -> None:
    assert reading(examples.b2()) == [
        (
            "clean to return on | opens are safe: no order of these can break a rule, "
            "and the rest waits"
        ),
        "main to return off | cuts are safe now that clean to return is on",
        "guest to main on | opens are safe now that main to return is off",
    ]


def test_a_selector_moves_when_what_it_carries_is_cut() -> None:
    assert reading(examples.b4()) == [
        "mic off | cut first: nothing can get louder",
        "relay pulled | relay can move safely now that mic is off",
    ]


def test_one_leg_says_that_order_does_not_count() -> None:
    example = examples.b3()
    goal = {"speakers": True}
    start = {**example.start, "mic": False}
    assert read(planned(example.bench, known(start), goal)) == [
        "speakers on | all in one: no order of these can break a rule"
    ]


def test_a_helper_says_that_it_is_for_a_moment() -> None:
    assert reading(examples.b6(Helper("trim", HALF_DB))) == [
        "trim -6.0206 | for a moment trim is -6.0206 dB, so that the rest can pass",
        "b on | opens are safe now that trim is -6.0206 dB",
        "a off | cuts are safe now that b is on",
        "trim 0.0 | what helped goes back (trim) now that a is off",
    ]


def test_nothing_to_do_is_a_crossing_without_legs() -> None:
    example = examples.b1()
    found = planned(example.bench, known(example.start), example.start)
    assert found == Crossing((), example.start)


def test_a_step_by_hand_comes_when_messages_have_done_the_rest() -> None:
    wanted = hands(Reach.HAND)
    start = {"mic": False, "speakers": False, "headphones": False}
    found = planned(wanted, known(start), {"mic": True, "headphones": True})
    assert read(found) == [
        "headphones on | all in one: no order of these can break a rule",
        "mic on | by hand, when all else is done: safe also if it is forgotten",
    ]
    assert isinstance(found, Crossing)
    assert [step.by_hand for leg in found.legs for step in leg.steps] == [False, True]
    assert [change.control for change in found.by_hand] == ["mic"]
    assert found.legs[1].steps[0].messages(wanted.controls) == ()


def test_a_step_by_hand_may_protect_nobody() -> None:
    """The order would be safe; a step forgotten, or done too early, would not."""
    wanted = hands(Reach.HAND)
    phones = {"mic": True, "speakers": False, "headphones": True}
    speakers = {"mic": False, "speakers": True, "headphones": True}
    assert planned(wanted, known(phones), speakers) == Refusal(
        'mic is set by hand, and forgotten it breaks "howl"',
        rules=("howl",),
        hands=("mic",),
    )
    assert planned(wanted, known(speakers), phones) == Refusal(
        'mic is set by hand, and done too early it breaks "howl"',
        rules=("howl",),
        hands=("mic",),
    )
