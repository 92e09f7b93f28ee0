"""Messages in, gestures and values out."""

from dataclasses import replace
from math import inf

from bridge.core.button import Button, Gesture
from bridge.core.control import Control, Kind
from bridge.core.effects import Moved, Pressed
from bridge.core.reception import Reception
from bridge.core.studio import Studio
from bridge.core.wire import Contact, Meaning, Message, Midi, Osc
from tests.fakes.studio import studio

FADER = Control(
    name="fader",
    label="fader",
    gear="desk",
    kind=Kind.LEVEL,
    values=(-inf, -20.0, 0.0),
    messages={
        -inf: (Osc("desk", "/fader", (0.0,)),),
        -20.0: (Osc("desk", "/fader", (0.3333333333333333,)),),
        0.0: (Osc("desk", "/fader", (0.75,)),),
    },
)
FADER_KEY = ("desk", "osc", "/fader")


def with_fader() -> Studio:
    of = studio(controls=(FADER,))
    points = ((0.0, -inf), (0.25, -30.0), (0.75, 0.0), (1.0, 10.0))
    return replace(of, meanings={FADER_KEY: (Meaning("fader", points),)})


def with_button(button: Button) -> Reception:
    return Reception(replace(studio(), buttons=(button,)))


def test_a_button_of_a_port_is_a_press_and_the_rest_is_not() -> None:
    reception = Reception(studio())
    assert reception.is_press(Midi("pedal", b"\xb0\x40\x7f"))
    assert reception.is_press(Contact("pads", high=True))
    assert not reception.is_press(Midi("pedal", b"\xb0\x41\x7f"))
    assert not reception.is_press(Midi("strip", b"\xb0\x40\x7f"))
    assert not reception.is_press(Midi("pedal", b"\xf8"))


def test_what_is_about_nothing_of_ours_says_nothing() -> None:
    reception = Reception(studio())
    messages: list[Message] = [
        Midi("pedal", b""),
        Midi("pedal", b"\xf8"),
        Osc("desk", "/unknown", (1.0,)),
        Osc("desk", "/mic"),
        Osc("desk", "/mic", (1.0, 2.0)),
        Osc("desk", "/mic", ("on",)),
    ]
    assert [reception.hear(message, 1.0) for message in messages] == [()] * 6


def test_a_press_and_a_hold_come_from_the_same_contact() -> None:
    reception = Reception(studio())
    down = reception.hear(Midi("pedal", b"\xb0\x40\x7f"), 5.0)
    assert down == (Pressed("pedal", Gesture.TAP),)
    assert reception.deadline == 5.6
    assert reception.passed(5.59) == ()
    assert reception.passed(5.6) == (Pressed("pedal", Gesture.HOLD),)
    assert reception.deadline == inf


def test_a_port_that_comes_back_has_forgotten_where_its_buttons_stood() -> None:
    reception = Reception(studio())
    reception.hear(Midi("pedal", b"\xb0\x40\x7f"), 5.0)
    reception.forget("pads")
    assert reception.deadline == 5.6
    reception.forget("pedal")
    assert reception.deadline == inf
    again = reception.hear(Midi("pedal", b"\xb0\x40\x7f"), 9.0)
    assert again == (Pressed("pedal", Gesture.TAP),)


def test_a_program_change_has_no_up_and_each_is_a_press() -> None:
    key = ("pedal", "midi", b"\xc0")
    reception = with_button(Button("pad", key, 3.0, {Gesture.TAP: ("call",)}))
    tap = (Pressed("pad", Gesture.TAP),)
    assert reception.hear(Midi("pedal", b"\xc0\x03"), 1.0) == tap
    assert reception.hear(Midi("pedal", b"\xc0\x03"), 2.0) == tap
    assert reception.hear(Midi("pedal", b"\xc0\x02"), 3.0) == ()


def test_an_osc_message_without_a_number_is_a_press() -> None:
    key = ("tablet", "osc", "/next")
    reception = with_button(Button("next", key, 1.0, {Gesture.TAP: ("call",)}))
    tap = (Pressed("next", Gesture.TAP),)
    assert reception.hear(Osc("tablet", "/next"), 1.0) == tap
    assert reception.hear(Osc("tablet", "/next"), 2.0) == tap


def test_the_value_is_the_one_whose_message_it_is() -> None:
    reception = Reception(with_fader())
    for value, (message,) in FADER.messages.items():
        assert reception.hear(message, 1.0) == (Moved("fader", value),)


def test_a_number_rounded_to_32_bits_still_says_the_value() -> None:
    rounded = Osc("desk", "/fader", (0.3333333432674408,))
    assert Reception(with_fader()).hear(rounded, 1.0) == (Moved("fader", -20.0),)


def test_a_level_that_nobody_set_is_what_its_number_means() -> None:
    reception = Reception(with_fader())
    (moved,) = reception.hear(Osc("desk", "/fader", (0.5,)), 1.0)
    assert moved == Moved("fader", -15.0)


def test_a_level_next_to_one_of_ours_is_ours() -> None:
    reception = Reception(with_fader())
    # 60 dB a unit between the points: 0.0008 away is 0.048 dB.
    (moved,) = reception.hear(Osc("desk", "/fader", (0.7492,)), 1.0)
    assert moved == Moved("fader", 0.0)


def test_one_message_may_speak_of_several_controls() -> None:
    of = studio()
    both = tuple(
        Meaning(name, ((0.0, False), (1.0, True))) for name in ("mic", "guest")
    )
    key = ("desk", "osc", "/mute all")
    reception = Reception(replace(of, meanings={key: both}))
    assert reception.hear(Osc("desk", "/mute all", (1.0,)), 1.0) == (
        Moved("mic", True),
        Moved("guest", True),
    )
