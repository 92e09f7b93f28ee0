"""A contact and what it means, edge by edge, on a clock that is an argument."""

import itertools
from collections.abc import Iterable

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.button import Button, Gesture
from bridge.core.gesture import (
    DOUBLE_S,
    Contact,
    deadline,
    is_down,
    moved,
    passed,
)

TAP, HOLD, DOUBLE, RELEASE = (
    Gesture.TAP,
    Gesture.HOLD,
    Gesture.DOUBLE,
    Gesture.RELEASE,
)
MIDI_KEY = ("pedal", "midi", b"\xb0\x40")
LINE_KEY = ("pedal", "line", "")


def button(
    *gestures: Gesture,
    line: bool = False,
    latching: bool = False,
    inverted: bool = False,
    lockout_ms: float = 40.0,
) -> Button:
    return Button(
        name="pedal",
        key=LINE_KEY if line else MIDI_KEY,
        down_from=1.0 if line else 64.0,
        rounds=dict.fromkeys(gestures, ("anywhere",)),
        latching=latching,
        inverted=inverted,
        lockout_ms=lockout_ms,
    )


def played(
    pedal: Button, edges: Iterable[tuple[float, bool]], until: float = 10.0
) -> list[tuple[float, Gesture]]:
    """The gestures with their times, as a loop that wakes exactly when it must."""
    contact = Contact()
    found: list[tuple[float, Gesture]] = []

    def wake_until(end: float) -> None:
        nonlocal contact
        while (due := deadline(pedal, contact)) is not None and due <= end:
            read = passed(pedal, contact, due)
            contact = read.contact
            found.extend((due, gesture) for gesture in read.gestures)

    for at, down in edges:
        wake_until(at)
        read = moved(pedal, contact, down=down, at=at)
        contact = read.contact
        found.extend((at, gesture) for gesture in read.gestures)
    wake_until(until)
    return found


def test_a_tap_acts_on_its_leading_edge() -> None:
    pedal = button(TAP, HOLD, DOUBLE, RELEASE)
    assert played(pedal, [(1.0, True)], until=1.0) == [(1.0, TAP)]


def test_a_foot_that_stays_down_holds_after_the_tap() -> None:
    pedal = button(TAP, HOLD)
    assert played(pedal, [(1.0, True), (2.5, False)]) == [(1.0, TAP), (1.6, HOLD)]


def test_a_foot_that_lifts_before_the_hold_time_does_not_hold() -> None:
    pedal = button(TAP, HOLD)
    assert played(pedal, [(1.0, True), (1.59, False)]) == [(1.0, TAP)]


def test_only_the_gestures_that_lead_somewhere_are_given() -> None:
    edges = [(1.0, True), (2.0, False), (2.2, True), (2.3, False)]
    assert played(button(HOLD), edges) == [(1.6, HOLD)]
    assert played(button(RELEASE), edges) == [(2.0, RELEASE), (2.3, RELEASE)]
    assert played(button(DOUBLE), [(1.0, True), (1.1, False), (1.2, True)]) == [
        (1.2, DOUBLE)
    ]


def test_the_second_tap_in_time_is_the_double_and_the_third_a_tap() -> None:
    pedal = button(TAP, DOUBLE)
    taps = [0.0, 0.2, 0.4]
    edges = [edge for t in taps for edge in ((t, True), (t + 0.1, False))]
    assert played(pedal, edges) == [(0.0, TAP), (0.2, DOUBLE), (0.4, TAP)]


def test_two_slow_taps_are_two_taps() -> None:
    late = DOUBLE_S + 0.001
    edges = [(0.0, True), (0.1, False), (late, True)]
    assert played(button(TAP, DOUBLE), edges) == [(0.0, TAP), (late, TAP)]


def test_without_a_double_two_quick_taps_are_two_taps() -> None:
    edges = [(0.0, True), (0.1, False), (0.2, True), (0.3, False)]
    assert played(button(TAP), edges) == [(0.0, TAP), (0.2, TAP)]


def test_bounce_within_the_lockout_is_one_press_and_one_release() -> None:
    # 6.2 ms is the longest bounce of 16 of the 18 switches that Ganssle measured
    # ("A Guide to Debouncing").
    bounce = [0.0, 0.001, 0.0023, 0.004, 0.0055, 0.0059, 0.0062]
    edges = [(1 + t, i % 2 == 0) for i, t in enumerate(bounce)]
    edges += [(1.2 + t, i % 2 == 1) for i, t in enumerate(bounce)]
    assert played(button(TAP, RELEASE), edges) == [(1.0, TAP), (1.2, RELEASE)]


def test_a_press_shorter_than_the_lockout_does_not_lose_the_next_press() -> None:
    # gpiozero #1039: the release falls inside the bounce time and is dropped, the
    # button stays "pressed" for ever, and the next press is no change any more.
    pedal = button(TAP, RELEASE, lockout_ms=100.0)
    edges = [(0.0, True), (0.05, False), (0.5, True), (0.8, False)]
    assert played(pedal, edges) == [
        (0.0, TAP),
        (0.1, RELEASE),
        (0.5, TAP),
        (0.8, RELEASE),
    ]


def test_a_press_that_begins_in_the_lockout_counts_when_it_ends() -> None:
    pedal = button(TAP)
    edges = [(0.0, True), (0.1, False), (0.12, True), (0.3, False)]
    assert played(pedal, edges) == [(0.0, TAP), (0.14, TAP)]


def test_a_foot_that_is_down_at_start_means_nothing_until_it_has_been_up() -> None:
    pedal = button(TAP, HOLD, RELEASE)
    assert played(pedal, [(2.0, False), (3.0, True)], until=3.5) == [(3.0, TAP)]


def test_a_foot_that_was_down_at_start_may_bounce_when_it_comes_up() -> None:
    edges = [(2.0, False), (2.003, True), (2.005, False)]
    assert played(button(TAP, RELEASE), edges) == []


def test_the_first_press_counts() -> None:
    assert played(button(TAP), [(0.5, True)]) == [(0.5, TAP)]


def test_every_change_of_a_latching_pedal_is_a_tap() -> None:
    edges = [(1.0, True), (2.0, False), (3.0, True)]
    expected = [(1.0, TAP), (2.0, TAP), (3.0, TAP)]
    assert played(button(TAP, HOLD, RELEASE, latching=True), edges) == expected


def test_the_first_message_of_a_latching_pedal_is_a_movement() -> None:
    for level in (True, False):
        assert played(button(TAP, latching=True), [(0.0, level)]) == [(0.0, TAP)]


def test_a_level_told_twice_is_one_press() -> None:
    edges = [(0.0, True), (0.2, True), (0.4, True), (0.5, False), (0.6, False)]
    assert played(button(TAP, RELEASE), edges) == [(0.0, TAP), (0.5, RELEASE)]


def test_an_inverted_contact_is_down_when_it_is_low() -> None:
    normal, inverted = button(line=True), button(line=True, inverted=True)
    assert [is_down(normal, n) for n in (0.0, 1.0)] == [False, True]
    assert [is_down(inverted, n) for n in (0.0, 1.0)] == [True, False]


def test_the_midi_switch_threshold_is_64() -> None:
    # MIDI 1.0 Detailed Specification, table III: 0-63 off, 64-127 on.
    assert [is_down(button(), n) for n in (0, 63, 64, 127)] == [
        False,
        False,
        True,
        True,
    ]


def test_a_loop_that_wakes_late_gets_the_gestures_that_were_due_in_order() -> None:
    pedal = button(TAP, HOLD, RELEASE)
    contact = moved(pedal, Contact(), down=True, at=0.0).contact
    read = moved(pedal, contact, down=False, at=0.9)
    assert read.gestures == (HOLD, RELEASE)


def test_time_that_runs_backwards_is_taken_as_standing_still() -> None:
    pedal = button(TAP, RELEASE)
    contact = moved(pedal, Contact(), down=True, at=5.0).contact
    contact = passed(pedal, contact, 6.0).contact
    read = moved(pedal, contact, down=False, at=5.5)
    assert (read.gestures, read.contact.now) == ((RELEASE,), 6.0)


EDGES = st.lists(st.tuples(st.floats(0.0, 0.2), st.booleans()), max_size=40)


@given(steps=EDGES, line=st.booleans(), latching=st.booleans())
def test_whatever_happens_the_level_at_rest_is_the_level_acted_on(
    steps: list[tuple[float, bool]], line: bool, latching: bool
) -> None:
    pedal = button(TAP, HOLD, RELEASE, line=line, latching=latching)
    contact, at = Contact(), 0.0
    for wait, down in steps:
        at += wait
        contact = moved(pedal, contact, down=down, at=at).contact
    contact = passed(pedal, contact, at + 10.0).contact
    assert deadline(pedal, contact) is None
    if contact.down is not None:
        assert contact.down is contact.level is steps[-1][1]


@given(steps=EDGES)
def test_when_the_loop_wakes_changes_nothing(steps: list[tuple[float, bool]]) -> None:
    pedal = button(TAP, HOLD, DOUBLE, RELEASE)
    edges, at = [], 0.0
    for wait, down in steps:
        at += wait
        edges.append((at, down))
    contact = Contact()
    lazy: list[Gesture] = []
    for at, down in edges:
        read = moved(pedal, contact, down=down, at=at)
        contact = read.contact
        lazy.extend(read.gestures)
    lazy.extend(passed(pedal, contact, 100.0).gestures)
    assert [gesture for _, gesture in played(pedal, edges, until=100.0)] == lazy


@given(steps=EDGES)
def test_taps_are_at_least_a_lockout_apart(steps: list[tuple[float, bool]]) -> None:
    edges, at = [], 0.0
    for wait, down in steps:
        at += wait
        edges.append((at, down))
    taps = [at for at, gesture in played(button(TAP), edges) if gesture is TAP]
    gaps = [after - before for before, after in itertools.pairwise(taps)]
    assert all(gap >= 0.040 - 1e-9 for gap in gaps)
