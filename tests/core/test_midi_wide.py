"""Numbers of 14 bits from control changes: MIDI 1.0 Detailed Specification 4.2.1."""

from hypothesis import given
from hypothesis import strategies as st

from bridge.core.midi_messages import nrpn
from bridge.core.midi_wide import WideEars, which_control, which_parameter


def heard(*messages: bytes) -> list[tuple[bytes, float]]:
    ears = WideEars()
    return [wide for message in messages for wide in ears.hear(message)]


def changes(*pairs: tuple[int, int], channel: int = 0) -> list[bytes]:
    return [bytes((0xB0 | channel, *pair)) for pair in pairs]


PARAMETER = which_parameter(0, 2 << 7 | 5)


@given(st.integers(1, 16), st.integers(0, 16383), st.integers(0, 16383))
def test_what_is_sent_is_what_is_heard(channel: int, which: int, value: int) -> None:
    told = heard(*nrpn(channel, which, value))
    assert told == [(which_parameter(channel - 1, which), float(value))]


def test_a_fader_counts_when_its_low_half_has_come() -> None:
    told = heard(*changes((7, 100), (39, 1), (39, 2), (7, 3)))
    assert told == [
        (which_control(0, 7), 12801.0),
        (which_control(0, 7), 12802.0),
    ]


def test_low_halves_alone_and_other_channels_say_nothing() -> None:
    assert (
        heard(*changes((39, 1)), *changes((7, 3)), *changes((39, 9), channel=1)) == []
    )


def test_a_parameter_without_a_low_half_counts_when_it_is_over() -> None:
    assert heard(*changes((99, 2), (98, 5), (6, 127), (101, 127))) == [
        (PARAMETER, 16256.0)
    ]
    assert heard(*changes((99, 2), (98, 5), (6, 127), (6, 1), (38, 2))) == [
        (PARAMETER, 16256.0),
        (PARAMETER, 130.0),
    ]


def test_a_registered_parameter_is_none_of_ours() -> None:
    assert heard(*changes((99, 2), (98, 5), (101, 0), (100, 0), (6, 1), (38, 2))) == [
        (which_control(0, 6), 130.0)
    ]


@given(st.lists(st.binary(max_size=4), max_size=40))
def test_whatever_comes_the_memory_is_bounded(messages: list[bytes]) -> None:
    ears = WideEars()
    for message in messages:
        for _, number in ears.hear(message):
            assert 0.0 <= number <= 255 << 7 | 255
    assert len(ears._channels) <= 16
