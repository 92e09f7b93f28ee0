"""Buttons learned from what arrives, held to the machine that will read them later."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.button import Button, Gesture
from bridge.core.gesture import Contact as Foot
from bridge.core.gesture import is_down, moved, passed
from bridge.core.learning import (
    DOWN_FROM,
    Learned,
    NotLearned,
    Way,
    learn_button,
    message_words,
)
from bridge.core.wire import WHOLE, Contact, Message, Midi, Osc, key_and_number

PRESSES = 5


def control(value: int, number: int = 64) -> Midi:
    return Midi("pedal", bytes((0xB0, number, value)))


def movements(way: Way, presses: int = PRESSES) -> list[tuple[float, bool]]:
    """When the contact moves, and whether it is high then."""
    found = []
    for number in range(presses):
        at = 1.0 + number
        if way is Way.LATCHING:
            found.append((at, number % 2 == 0))
        else:
            first = way is Way.MOMENTARY
            found += [(at, first), (at + 0.4, not first)]
    return found


def bounced(
    edges: list[tuple[float, bool]], seed: int, most_ms: float
) -> list[tuple[float, bool]]:
    """Each movement as a few edges to and fro, the last of them where it leads."""
    rng = random.Random(seed)
    found = []
    for at, high in edges:
        count = rng.choice((0, 2, 4))
        times = sorted(rng.uniform(0.0, most_ms / 1000.0) for _ in range(count))
        level = high
        found.append((at, level))
        for step in times:
            level = not level
            found.append((at + step, level))
        assert level is high
    return found


def as_messages(edges: list[tuple[float, bool]]) -> list[tuple[float, Message]]:
    return [(at, control(127 if high else 0)) for at, high in edges]


def taps_of(learned: Learned, edges: list[tuple[float, Message]]) -> int:
    """How many taps the machine makes of these edges with the learned button."""
    button = Button(
        "pedal",
        learned.key,
        DOWN_FROM["midi control"],
        {Gesture.TAP: ("talk", "aloud")},
        latching=learned.way is Way.LATCHING,
        inverted=learned.way is Way.NORMALLY_CLOSED,
        lockout_ms=learned.lockout_ms or 40.0,
    )
    foot, taps = Foot(), 0
    for at, message in edges:
        found = key_and_number(message)
        assert found is not None
        assert found[1] is not None
        read = moved(button, foot, down=is_down(button, found[1]), at=at)
        foot, taps = read.contact, taps + read.gestures.count(Gesture.TAP)
    read = passed(button, foot, edges[-1][0] + 10.0)
    return taps + read.gestures.count(Gesture.TAP)


@given(
    st.sampled_from([w for w in Way if w is not Way.ONCE]),
    st.integers(0, 10_000),
    st.floats(0.0, 25.0),
)
def test_a_learned_button_makes_a_tap_of_every_press(
    way: Way, seed: int, most_ms: float
) -> None:
    edges = as_messages(bounced(movements(way), seed, most_ms))
    learned = learn_button(edges, PRESSES)
    assert isinstance(learned, Learned)
    assert learned.way is way
    assert learned.bounce_ms <= most_ms + 1e-6
    assert taps_of(learned, edges) == PRESSES


@pytest.mark.parametrize(
    ("bounce_ms", "lockout_ms"), [(0.0, None), (26.0, None), (27.0, 50.0), (45.0, 70.0)]
)
def test_a_long_bounce_asks_for_a_longer_lockout(
    bounce_ms: float, lockout_ms: float | None
) -> None:
    edges = []
    for at, high in movements(Way.MOMENTARY):
        late = bounce_ms / 1000.0
        edges += [(at, high), (at + late / 2, not high), (at + late, high)]
    learned = learn_button(as_messages(edges), PRESSES)
    assert isinstance(learned, Learned)
    assert learned.bounce_ms == pytest.approx(bounce_ms)
    assert learned.lockout_ms == lockout_ms


def test_notes_lines_and_osc_are_buttons_too() -> None:
    kinds: list[tuple[Message, Message]] = [
        (
            Midi("pads", bytes((0x99, 36, 100))),
            Midi("pads", bytes((0x89, 36, 64))),
        ),
        (Contact("line", high=True), Contact("line", high=False)),
        (Osc("phone", "/tap", (1,)), Osc("phone", "/tap", (0,))),
    ]
    for down, up in kinds:
        heard = [(at, down if high else up) for at, high in movements(Way.MOMENTARY)]
        learned = learn_button(heard, PRESSES)
        assert isinstance(learned, Learned), down
        assert learned.way is Way.MOMENTARY


def test_a_pedal_that_slides_is_seen_as_one() -> None:
    heard: list[tuple[float, Message]] = []
    for number in range(PRESSES):
        sweep = [0, 20, 50, 80, 110, 127]
        heard += [(number + 0.01 * i, control(v)) for i, v in enumerate(sweep)]
        heard += [
            (number + 0.5 + 0.01 * i, control(v)) for i, v in enumerate(sweep[::-1])
        ]
    learned = learn_button(heard, PRESSES)
    assert isinstance(learned, Learned)
    assert (learned.way, learned.slides) == (Way.MOMENTARY, True)
    assert learned.numbers[0] == 0.0


def test_what_else_arrives_is_left_out_and_counted() -> None:
    heard = as_messages(movements(Way.MOMENTARY))
    heard.insert(3, (1.45, control(5, number=1)))
    heard.insert(4, (1.46, Midi("pedal", bytes((0xF8,)))))
    learned = learn_button(heard, PRESSES)
    assert isinstance(learned, Learned)
    assert (learned.key[2], learned.others) == (bytes((0xB0, 64)), 2)


def test_a_program_that_comes_at_every_press_is_a_button_that_can_be_tapped() -> None:
    """What else comes, and a message that comes twice at once, is no further press."""
    heard: list[tuple[float, Message]] = [
        (float(n), program(3, channel=2)) for n in range(PRESSES)
    ]
    heard.insert(1, (0.01, program(3, channel=2)))
    heard.insert(3, (1.01, program(7)))
    learned = learn_button(heard, PRESSES)
    assert isinstance(learned, Learned)
    assert learned.key == ("pedal", WHOLE, bytes((0xC1, 3)))
    assert (learned.way, learned.lockout_ms) == (Way.ONCE, None)
    # A pad that says a note too is a contact that comes back, and can be held.
    both = as_messages(movements(Way.MOMENTARY)) + heard
    found = learn_button(sorted(both, key=lambda one: one[0]), PRESSES)
    assert isinstance(found, Learned)
    assert found.way is Way.MOMENTARY


def program(number: int, channel: int = 1) -> Midi:
    return Midi("pedal", bytes((0xC0 | channel - 1, number)))


@pytest.mark.parametrize(
    ("heard", "why"),
    [
        ([], "nothing arrived"),
        ([(float(n), program(3)) for n in range(4)], "4 program changes came"),
        ([(float(n), program(n)) for n in range(5)], "press: 0, 1, 2, 3, 4"),
        ([(1.0, Midi("p", bytes((0xFE,))))], "cannot be a button"),
        ([(float(n), control(127)) for n in range(5)], "the same thing at each press"),
        (as_messages(movements(Way.MOMENTARY, 3)), "6 movements came"),
        (as_messages(movements(Way.MOMENTARY))[:-1], "9 movements came"),
    ],
)
def test_what_cannot_be_told_is_not_guessed(
    heard: list[tuple[float, Message]], why: str
) -> None:
    found = learn_button(heard, PRESSES)
    assert isinstance(found, NotLearned)
    assert why in found.why
    assert found.cure


def test_messages_are_said_as_profiles_write_them() -> None:
    assert message_words(control(127)) == "control 64 on channel 1 = 127"
    note = Midi("pads", bytes((0x99, 36, 100)))
    assert message_words(note) == "note 36 on channel 10 = 100"
    assert message_words(Midi("p", bytes((0xC1, 3)))) == "program on channel 2 = 3"
    assert message_words(Osc("phone", "/tap", (1,))) == "/tap = 1"
    assert message_words(Contact("line", high=True)) == "line driven"
