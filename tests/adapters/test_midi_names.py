"""Which device a name means."""

import pytest

from bridge.adapters.midi_backend import Device
from bridge.adapters.midi_names import NAMES_TOLD, absent, chosen, stable


def device(name: str, address: str = "") -> Device:
    return Device(name, address or name, gives=True, takes=True)


# The forms in which systems print ports, by the two libraries that we use.
ALSA = device("Desk:Desk MIDI 1", "24:0")
ALSA_AGAIN = device("Desk:Desk MIDI 2", "24:1")
ALSA_NUMBERED = device("Pedal:Pedal MIDI 1 28:0", "28:0")
JACK = device("a2j:Pad [20] (capture): Pad MIDI 1")
PLAIN = device("keys")
ALL = (ALSA, ALSA_AGAIN, ALSA_NUMBERED, JACK, PLAIN)


@pytest.mark.parametrize(
    ("name", "without"),
    [
        ("Desk:Desk MIDI 1 24:0", "Desk:Desk MIDI 1"),
        ("Desk:Desk MIDI 1", "Desk:Desk MIDI 1"),
        ("a2j:Pad [20] (capture): Pad MIDI 1", "a2j:Pad (capture): Pad MIDI 1"),
        ("Studio 24", "Studio 24"),
        ("Studio 24:0", "Studio 24:0"[:6]),
    ],
)
def test_only_numbers_that_change_are_left_out(name: str, without: str) -> None:
    assert stable(name) == without


@pytest.mark.parametrize(
    ("wanted", "meant"),
    [
        ("Desk:Desk MIDI 1", ALSA),
        ("Desk:Desk MIDI 1 32:0", ALSA),
        ("Desk MIDI 2", ALSA_AGAIN),
        ("Pedal", ALSA_NUMBERED),
        ("Pedal MIDI 1", ALSA_NUMBERED),
        ("a2j", JACK),
        ("a2j:Pad [77] (capture): Pad MIDI 1", JACK),
        ("keys", PLAIN),
        ("desk midi 1", None),
        ("Des", None),
        ("", None),
    ],
)
def test_a_name_is_the_whole_the_client_or_the_port(
    wanted: str, meant: Device | None
) -> None:
    assert chosen(wanted, None, ALL) == meant


def test_a_name_of_two_is_said_with_both() -> None:
    assert chosen("Desk", None, ALL) == (
        '"Desk" is the name of 2 MIDI devices: write a longer name, or nth and the '
        'number of one (1 "Desk:Desk MIDI 1", 2 "Desk:Desk MIDI 2")'
    )


def test_a_number_settles_it() -> None:
    assert chosen("Desk", 1, ALL) == ALSA
    assert chosen("Desk", 2, ALL) == ALSA_AGAIN
    alone = chosen("Pedal", 1, ALL)
    assert isinstance(alone, str)
    assert alone.startswith('only one MIDI device is called "Pedal" now, and which of')
    assert chosen("Desk", 1, ALL, {ALSA.address}) == ALSA_AGAIN, "the one that is left"
    assert chosen("Nobody", 1, ALL) is None


@pytest.mark.parametrize("nth", [0, 3, -1])
def test_a_number_that_is_none_is_said(nth: int) -> None:
    said = chosen("Desk", nth, ALL)
    assert isinstance(said, str)
    assert said.startswith(f'"Desk" is the name of 2 MIDI devices and nth is {nth}: ')


def test_what_is_there_is_said_nearest_first() -> None:
    assert absent("Pedall", (PLAIN, ALSA_NUMBERED)) == (
        'no MIDI device is called "Pedall": plug it in, or write the name of one that '
        'is there ("Pedal:Pedal MIDI 1", "keys")'
    )
    assert absent("Pedal", ()).endswith("(none at all)")


def test_no_crowd_fills_the_page() -> None:
    said = absent("x", [device(f"gear {k}") for k in range(100)])
    assert said.count('"gear') == NAMES_TOLD
    assert said.endswith(f" and {100 - NAMES_TOLD} more)")
