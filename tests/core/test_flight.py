"""What waits to be sent and to be confirmed, message by message."""

from dataclasses import replace
from math import inf

from bridge.core.control import Control, ports_of
from bridge.core.flight import ANSWER_S, Flight
from bridge.core.leg import Change, Step, Why
from bridge.core.recall import Recall
from bridge.core.wire import Message, Midi, Osc, Value
from tests.fakes.studio import DIM, LIFE_MS, PAD, RELAY, TRIM, osc_switch

LIFE_S = LIFE_MS / 1000
MIC, GUEST = osc_switch("mic"), osc_switch("guest")
LONG = replace(
    DIM,
    name="long",
    messages={True: (Midi("strip", b"\xb0\x63\x01"), Midi("strip", b"\xb0\x62\x02"))},
)
CONTROLS = {c.name: c for c in (MIC, GUEST, RELAY, TRIM, DIM, PAD, LONG)}


def step(control: Control, value: Value, *, by_hand: bool = False) -> Step:
    change = Change(control.name, value, frozenset(control.values))
    return Step((change,), Why.MOVE, by_hand=by_hand)


def flight(spacing_s: float = 0.0) -> Flight:
    return Flight(CONTROLS, {"strip": spacing_s})


def sent(of: Flight, now: float) -> list[Message]:
    ready = of.ready(now)
    of.sent(ready, now)
    return [parcel.message for parcel in ready]


def test_a_step_is_sent_and_then_asked_for() -> None:
    of = flight()
    of.load(step(MIC, True), 0.0, 1.0)
    assert sent(of, 1.0) == [Osc("desk", "/mic", (1.0,)), Osc("desk", "/mic")]
    assert not of.has_unsent
    assert of.overdue(1.0 + ANSWER_S + 2 * LIFE_S - 0.001) == ()
    assert of.overdue(1.0 + ANSWER_S + 2 * LIFE_S) == ("mic",)


def test_the_messages_of_one_step_stay_together_and_apart_in_time() -> None:
    of = flight(spacing_s=0.010)
    of.load(step(LONG, True), 0.0, 1.0)
    of.load(step(DIM, True), 0.0, 1.0)
    told = []
    for tick in range(30):
        now = 1.0 + tick * 0.001
        told += [(tick, message) for message in sent(of, now)]
    long_1, long_2 = LONG.messages[True]
    (dim,) = DIM.messages[True]
    assert told == [(0, long_1), (10, long_2), (20, dim)]


def test_one_slow_port_does_not_hold_another() -> None:
    of = flight(spacing_s=0.010)
    for control, value in ((TRIM, 0.0), (DIM, True), (RELAY, "pulled")):
        of.load(step(control, value), 0.0, 1.0)
    assert [message.port for message in sent(of, 1.0)] == ["strip", "relay"]
    assert of.next_at(1.0) == 1.008  # the relay has settled
    assert of.next_at(1.0085) == 1.010  # the strip takes its next message


def test_a_held_off_step_waits_and_says_until_when() -> None:
    of = flight()
    of.load(step(MIC, True), 2.0, 1.0)
    assert sent(of, 1.999) == []
    assert of.next_at(1.0) == 2.0
    assert len(sent(of, 2.0)) == 2


def test_confirmed_and_settled_it_is_over() -> None:
    of = flight()
    of.load(step(MIC, True), 0.0, 1.0)
    sent(of, 1.0)
    of.confirmed("mic", 1.002)
    assert not of.is_over(1.006)
    assert of.is_over(1.0071)
    assert of.next_at(1.0071) == inf


def test_sound_follows_the_answer_or_the_end_of_the_message_s_life() -> None:
    of = flight()
    of.load(step(MIC, True), 0.0, 1.0)
    sent(of, 1.0)
    of.confirmed("mic", 1.0 + 3 * LIFE_S)
    # The answer came late, but the message cannot have arrived that late.
    assert of.is_over(1.0 + 3 * LIFE_S)


def test_gear_that_cannot_answer_is_over_when_it_has_settled() -> None:
    of = flight()
    of.load(step(RELAY, "pulled"), 0.0, 1.0)
    sent(of, 1.0)
    assert not of.is_over(1.0079)
    assert of.is_over(1.008)


def test_what_is_confirmed_is_not_sent_again() -> None:
    of = flight()
    of.load(step(MIC, True), 0.0, 1.0)
    sent(of, 1.0)
    of.again(of.overdue(2.0))
    assert of.has_unsent
    of.confirmed("mic", 2.0)
    assert not of.has_unsent


def test_a_recall_is_one_message_asked_for_twice_over() -> None:
    values: dict[str, Value] = {"mic": False, "guest": False}
    recall = Recall("all off", values, (Osc("desk", "/recall", (1.0,)),))
    changes = tuple(Change(n, v, frozenset({True})) for n, v in values.items())
    of = flight()
    of.load(Step(changes, Why.CUT, recall=recall), 0.0, 1.0)
    expected = [
        Osc("desk", "/recall", (1.0,)),
        Osc("desk", "/mic"),
        Osc("desk", "/guest"),
    ]
    assert sent(of, 1.0) == expected
    of.confirmed("mic", 1.001)
    of.again(of.overdue(2.0))
    # The recall is repeated once, and only the one that is silent is asked.
    again = sent(of, 2.0)
    assert again[0] == expected[0]
    assert again.count(expected[0]) == 1
    assert expected[2] in again


def test_a_step_by_hand_sends_nothing_and_waits_for_a_word() -> None:
    of = flight()
    of.load(step(PAD, True, by_hand=True), 0.0, 1.0)
    assert (sent(of, 1.0), of.is_over(100.0)) == ([], False)
    of.confirmed("pad", 100.0)
    assert of.is_over(100.0)


def test_a_question_is_over_when_it_is_dropped() -> None:
    of = flight()
    of.ask("mic")
    assert not of.is_over(1.0)
    of.drop("mic")
    assert of.is_empty
    assert not of.has_unsent


def test_a_cleared_flight_still_keeps_its_ports_apart() -> None:
    of = flight(spacing_s=0.010)
    of.load(step(DIM, True), 0.0, 1.0)
    sent(of, 1.0)
    of.clear()
    of.load(step(TRIM, 0.0), 0.0, 1.001)
    assert sent(of, 1.001) == []
    assert of.next_at(1.001) == 1.010


def test_the_ports_of_a_control_are_those_of_its_messages() -> None:
    assert ports_of(MIC) == {"desk"}
    assert ports_of(PAD) == frozenset()
