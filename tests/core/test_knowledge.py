"""What is believed of a control, step by step; each with the reason it must be so."""

from math import inf

import pytest

from bridge.core.control import ASK_AGAIN_S
from bridge.core.ground import Ground
from bridge.core.knowledge import Heard, Knowledge
from bridge.core.leg import Change
from bridge.core.settings import before_start
from bridge.core.wire import Value
from tests.fakes.studio import LIFE_MS, studio

LIFE_S = LIFE_MS / 1000
NOW = 100.0
BOTH = {False, True}


def fresh(now: float = NOW) -> Knowledge:
    of = studio()
    return Knowledge(of.controls, before_start(of), (), now)


def heard(now: float = NOW + 1.0, *, mic: bool = False) -> Knowledge:
    """The desk has told that the microphone is so."""
    knowledge = fresh()
    assert knowledge.hear("mic", mic, now) is Heard.LEARNT
    return knowledge


def change(name: str, value: Value, *passes: Value) -> Change:
    return Change(name, value, frozenset(), frozenset(passes))


def test_at_start_nothing_is_clear_until_the_old_messages_are_dead() -> None:
    knowledge = fresh()
    assert knowledge.may_send_at("mic", True) == pytest.approx(NOW + 2 * LIFE_S)
    assert knowledge.may_send_at("dim", True) == NOW


def test_what_is_heard_before_that_may_be_old() -> None:
    knowledge = fresh()
    assert knowledge.hear("mic", True, NOW + LIFE_S) is Heard.NOTHING_NEW
    assert knowledge.belief["mic"] == BOTH


def test_sent_it_may_be_in_force_and_the_old_one_too() -> None:
    knowledge = heard()
    knowledge.sending(change("mic", True), NOW + 2.0)
    assert knowledge.belief["mic"] == BOTH
    assert knowledge["mic"].ground is Ground.IN_FLIGHT


def test_a_selector_may_be_between_its_positions() -> None:
    knowledge = fresh()
    knowledge.say("relay", "rest", Ground.AT_REST, NOW)
    knowledge.sending(change("relay", "pulled", ""), NOW)
    assert knowledge.belief["relay"] == {"rest", "", "pulled"}


def test_only_the_value_that_was_sent_confirms() -> None:
    knowledge = heard()
    knowledge.sending(change("mic", True), NOW + 2.0)
    assert knowledge.hear("mic", False, NOW + 2.01) is Heard.NOTHING_NEW
    assert knowledge.belief["mic"] == BOTH
    assert knowledge.hear("mic", True, NOW + 2.02) is Heard.CONFIRMED
    assert knowledge.belief["mic"] == {True}


def test_the_same_value_may_be_repeated_and_another_must_wait() -> None:
    knowledge = heard()
    knowledge.sending(change("mic", True), NOW + 2.0)
    assert knowledge.may_send_at("mic", True) == 0.0
    late = NOW + 2.0 + 2 * LIFE_S
    assert knowledge.may_send_at("mic", False) == pytest.approx(late)
    knowledge.hear("mic", True, NOW + 2.01)
    sooner = NOW + 2.01 + LIFE_S
    assert knowledge.may_send_at("mic", False) == pytest.approx(sooner)


def test_on_a_wire_that_keeps_the_order_nothing_waits() -> None:
    knowledge = fresh()
    knowledge.sending(change("dim", True), NOW + 2.0)
    assert knowledge.may_send_at("dim", False) == NOW + 2.0


def test_an_old_word_after_the_confirmation_only_widens() -> None:
    knowledge = heard()
    knowledge.sending(change("mic", True), NOW + 2.0)
    knowledge.hear("mic", True, NOW + 2.01)
    assert knowledge.hear("mic", False, NOW + 2.02) is Heard.SURPRISE
    assert knowledge.belief["mic"] == BOTH
    # It is asked again as soon as nothing old can answer.
    assert knowledge["mic"].ask_at == pytest.approx(NOW + 2.02 + LIFE_S)
    assert knowledge.hear("mic", True, NOW + 2.08) is Heard.LEARNT
    assert knowledge.belief["mic"] == {True}


def test_a_hand_at_rest_is_believed() -> None:
    knowledge = heard()
    assert knowledge.hear("mic", True, NOW + 9.0) is Heard.SURPRISE
    assert knowledge.belief["mic"] == {True}
    assert knowledge["mic"].ground is Ground.HAND
    # It may have moved on, and that notice be lost: ask once more.
    assert knowledge["mic"].ask_at == pytest.approx(NOW + 9.0 + LIFE_S)


def test_a_notice_overtaken_by_a_later_one_only_widens() -> None:
    knowledge = heard()
    assert knowledge.hear("mic", False, NOW + 9.0) is Heard.NOTHING_NEW
    assert knowledge.hear("mic", True, NOW + 9.0 + LIFE_S / 2) is Heard.SURPRISE
    assert knowledge.belief["mic"] == BOTH


def test_gear_that_tells_its_state_all_the_time_is_still_understood() -> None:
    knowledge = heard()
    at = NOW + 9.0
    for _ in range(100):
        at += LIFE_S * 0.8
        assert knowledge.hear("mic", False, at) is Heard.NOTHING_NEW
    assert knowledge.may_send_at("mic", True) < at
    for _ in range(3):
        at += LIFE_S * 0.8
        knowledge.hear("mic", True, at)
    assert knowledge.belief["mic"] == {True}


def test_a_hand_while_a_value_is_on_its_way_leaves_both_possible() -> None:
    knowledge = fresh()
    knowledge.say("trim", -20.0, Ground.SETTLED, NOW)
    knowledge.sending(change("trim", 0.0), NOW + 1.0)
    assert knowledge.hear("trim", -10.0, NOW + 1.001) is Heard.SURPRISE
    knowledge.settle("trim", NOW + 1.02)
    assert knowledge.belief["trim"] == {-20.0, -10.0, 0.0}
    assert knowledge["trim"].ground is Ground.UNCONFIRMED


def test_gear_that_cannot_answer_settles() -> None:
    knowledge = fresh()
    knowledge.sending(change("trim", 0.0), NOW)
    knowledge.settle("trim", NOW + 0.02)
    assert knowledge.belief["trim"] == {0.0}
    assert knowledge["trim"].ground is Ground.SETTLED


def test_given_up_old_and_new_stay_possible_and_it_is_asked() -> None:
    knowledge = heard()
    knowledge.sending(change("mic", True), NOW + 2.0)
    knowledge.give_up("mic", NOW + 3.0)
    assert knowledge.belief["mic"] == BOTH
    assert knowledge["mic"].ground is Ground.UNCONFIRMED
    assert knowledge["mic"].ask_at < NOW + 3.0


def test_forgotten_it_may_be_anything_and_nobody_is_asked() -> None:
    knowledge = heard()
    knowledge.forget("mic", Ground.LOST, NOW + 2.0)
    assert knowledge.belief["mic"] == BOTH
    assert knowledge["mic"].ask_at == inf


def test_gear_that_cannot_be_asked_is_not_asked() -> None:
    knowledge = fresh()
    knowledge.ask_soon("trim", NOW)
    knowledge.ask_later("trim", NOW)
    assert knowledge["trim"].ask_at == inf
    knowledge.ask_later("mic", NOW)
    assert knowledge.to_ask(NOW + ASK_AGAIN_S) == ("mic",)


def test_each_change_makes_a_new_belief() -> None:
    # Plans and judgements are remembered by belief; it must not change in place.
    knowledge = heard()
    before = knowledge.belief
    knowledge.sending(change("mic", True), NOW + 2.0)
    assert before["mic"] == {False}
    assert knowledge.belief is not before
