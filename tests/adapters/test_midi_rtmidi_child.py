"""How the helper process knows that JACK runs: what it sends to itself comes back."""

from collections import deque

import pytest

from bridge.adapters import midi_rtmidi_child
from bridge.adapters.midi_rtmidi_child import Watch


class Wire:
    """An output and the input that it is connected to, as the library shows them."""

    def __init__(self) -> None:
        self.under_way: deque[tuple[tuple[int, ...], float]] = deque()
        self.is_cut = False
        self.delayed: list[tuple[int, ...]] = []

    def send_message(self, message: tuple[int, ...]) -> None:
        if self.is_cut:
            self.delayed.append(message)
        else:
            self.under_way.append((message, 0.0))

    def get_message(self) -> tuple[tuple[int, ...], float] | None:
        return self.under_way.popleft() if self.under_way else None

    def catch_up(self) -> None:
        """Let what was held up arrive after all."""
        self.under_way.extend((message, 0.0) for message in self.delayed)
        self.delayed.clear()


def test_a_proof_that_comes_back_is_an_answer_once() -> None:
    wire = Wire()
    watch = Watch(wire, wire)
    assert not watch.is_waiting
    watch.ask()
    assert watch.is_waiting
    assert watch.is_answered()
    assert not watch.is_waiting
    assert not watch.is_answered()


def test_one_lost_proof_is_no_death() -> None:
    wire = Wire()
    watch = Watch(wire, wire)
    wire.is_cut = True
    watch.ask()
    wire.is_cut = False
    watch.ask()
    assert watch.is_answered()
    assert not watch.is_dead()


def test_an_old_echo_does_not_answer_a_new_question() -> None:
    wire = Wire()
    watch = Watch(wire, wire)
    wire.is_cut = True
    watch.ask()
    wire.is_cut = False
    watch.ask()
    assert watch.is_answered()
    wire.catch_up()  # the first one, late
    wire.is_cut = True
    watch.ask()
    assert not watch.is_answered()


def test_no_answer_for_long_is_death(monkeypatch: pytest.MonkeyPatch) -> None:
    wire = Wire()
    watch = Watch(wire, wire)
    wire.is_cut = True
    watch.ask()
    assert not watch.is_dead()
    monkeypatch.setattr(midi_rtmidi_child, "DEAD_S", -1.0)  # that long is over
    assert watch.is_dead()


def test_proofs_go_on_for_ever_in_bounded_memory() -> None:
    wire = Wire()
    watch = Watch(wire, wire)
    for _ in range(1000):
        watch.ask()
        assert watch.is_answered()
    wire.is_cut = True
    for _ in range(1000):
        watch.ask()
    assert len(watch._asked) <= 128
