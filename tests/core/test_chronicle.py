"""What the journal keeps: times from the right press, wear at each change, once."""

from __future__ import annotations

from collections.abc import Mapping

from bridge.core.chronicle import MOST_MESSAGES, Chronicle
from bridge.core.effects import Tell, Told
from bridge.core.entries import Entry, Held, Wear
from bridge.core.wire import Contact, Midi, Osc, Value
from tests.fakes.studio import studio

BELIEF: Mapping[str, frozenset[Value]] = {}
STUDIO = studio(start="quiet")
CROSSING = Tell(Told.CROSSING, "to loud: 1 step in 1 leg", "loud")
ARRIVED = Tell(Told.ARRIVED, "loud is in force", "loud")
MESSAGE = Osc("desk", "/strip/1", (1,))


def chronicle() -> Chronicle:
    return Chronicle(STUDIO, {})


def end(of: Chronicle, tell: Tell, now: float) -> Entry:
    (entry,) = (e for e in of.told(tell, now, 0.0, BELIEF) if isinstance(e, Entry))
    return entry


def test_a_crossing_is_measured_from_the_press_it_came_of() -> None:
    kept = chronicle()
    kept.asked(10.0)
    kept.told(CROSSING, 10.001, 0.0, BELIEF)
    kept.sent(MESSAGE, 10.002, 0.0)
    kept.sent(MESSAGE, 10.010, 0.0)
    found = end(kept, ARRIVED, 10.05)
    assert (found.wire_ms, found.end_ms, found.sent) == (2.0, 50.0, 2)
    assert found.messages == (
        "+2.0 ms desk: /strip/1 1",
        "+10.0 ms desk: /strip/1 1",
    )


def test_what_comes_of_a_hold_is_measured_from_the_hold() -> None:
    kept = chronicle()
    kept.asked(10.0)
    kept.told(CROSSING, 10.6, 0.0, BELIEF)
    assert end(kept, ARRIVED, 10.7).end_ms == 100.0


def test_a_press_on_the_way_counts_its_waiting_too() -> None:
    kept = chronicle()
    kept.told(CROSSING, 10.0, 0.0, BELIEF)
    kept.asked(10.1)
    older = Tell(Told.SUPERSEDED, "loud gives way", "loud")
    assert end(kept, older, 10.5).end_ms == 500.0
    kept.told(Tell(Told.CROSSING, "to quiet", "quiet"), 10.5, 0.0, BELIEF)
    assert end(kept, Tell(Told.ARRIVED, "quiet", "quiet"), 10.6).end_ms == 500.0


def test_a_wish_that_is_refused_on_the_way_leaves_the_crossing_its_figures() -> None:
    kept = chronicle()
    kept.told(CROSSING, 10.0, 0.0, BELIEF)
    refused = Tell(Told.REFUSED, "never is refused", "never")
    assert end(kept, refused, 10.1).end_ms is None
    waiting = Tell(Told.SUPERSEDED, "other gives way", "other")
    assert end(kept, waiting, 10.2).end_ms is None
    assert end(kept, ARRIVED, 10.3).end_ms == 300.0


def test_a_crossing_that_sends_without_end_is_counted_and_not_kept_whole() -> None:
    kept = chronicle()
    kept.told(CROSSING, 10.0, 0.0, BELIEF)
    for _ in range(1000):
        kept.sent(MESSAGE, 10.0, 0.0)
    found = end(kept, ARRIVED, 10.1)
    assert (len(found.messages), found.sent) == (MOST_MESSAGES, 1000)


def test_only_a_change_of_position_wears_a_relay() -> None:
    control = next(c for c in STUDIO.controls.values() if _is_contact(c.messages))
    kept = Chronicle(STUDIO, {control.name: 9})
    port = next(m.port for ms in control.messages.values() for m in ms)
    released, driven = Contact(port, high=False), Contact(port, high=True)
    commands = (released, driven, driven, released, released, driven)
    assert [len(kept.sent(message, 0.0, 5.0)) for message in commands] == [
        0,  # it stands there since its port was opened
        1,
        0,
        1,
        0,
        1,
    ]
    assert kept.sent(released, 0.0, 5.0) == (Wear(5.0, control.name, 9),)
    assert kept.sent(MESSAGE, 0.0, 5.0) == ()
    kept.sent(driven, 0.0, 5.0)
    kept.told(Tell(Told.PORT_LOST, "", controls=(control.name,)), 0.0, 5.0, BELIEF)
    assert kept.sent(driven, 0.0, 5.0), "a lost contact falls to its rest"


def _is_contact(messages: Mapping[Value, tuple[object, ...]]) -> bool:
    return any(isinstance(m, Contact) for ms in messages.values() for m in ms)


def test_a_belief_is_kept_when_it_changes() -> None:
    kept, name = chronicle(), "desk: mic to program"
    unsure = {name: frozenset[Value]({True, False})}

    def held(belief: Mapping[str, frozenset[Value]], when: float) -> list[Held]:
        records = kept.told(ARRIVED, 0.0, when, belief)
        return [record for record in records if isinstance(record, Held)]

    assert held(unsure, 1.0) == [Held(1.0, name, "off or on")]
    assert held(unsure, 2.0) == []
    assert held({name: frozenset({True})}, 3.0) == [Held(3.0, name, "on")]


def test_a_foot_that_goes_down_is_a_line_and_one_that_goes_up_is_none() -> None:
    button = STUDIO.buttons[0]
    kept = chronicle()
    down, up = Midi("pedal", b"\xb0\x40\x7f"), Midi("pedal", b"\xb0\x40\x00")
    assert kept.pressed(down, 1.0, 7.0) == (Entry(7.0, "pressed", button.name),)
    assert kept.pressed(up, 1.0, 7.0) == ()
    assert kept.pressed(MESSAGE, 1.0, 7.0) == ()
