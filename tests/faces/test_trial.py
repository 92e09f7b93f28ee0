"""Trying one control: said first, sent only after a yes, over a real OSC socket."""

from __future__ import annotations

import asyncio

import pytest

from bridge.adapters.osc_codec import decode
from bridge.core.wire import Midi, Osc
from bridge.engine.ports import Deliver, Found, Lost, PortGone
from bridge.faces.cli import main
from bridge.faces.outcome import CouldNotRunError, Exit
from bridge.faces.trial import Address, send, trial
from bridge.files.shelf import shipped_profiles
from tests.fakes.udp_peer import UdpPeer, udp_peer

OSC_DESK = shipped_profiles() / "desk-osc.yaml"
MIDI_DESK = shipped_profiles() / "desk-control-change.yaml"
TOGGLE_DESK = shipped_profiles() / "desk-toggle.yaml"
SWITCH = "in 1 to program"


async def first_message(peer: UdpPeer) -> object:
    """The first packet with something in it: a port asks with an empty one first."""
    while True:
        for message in decode(await peer.packet(), "x"):
            return message


def yes(_: str) -> str:
    return "yes"


def test_it_is_said_first_and_then_sent() -> None:
    prompts: list[str] = []

    def ask(prompt: str) -> str:
        prompts.append(prompt)
        return "yes\n"

    with udp_peer() as peer:
        address = Address(osc=f"127.0.0.1:{peer.port}")
        outcome = trial(OSC_DESK, SWITCH, "on", address, ask)
        heard = asyncio.run(first_message(peer))
    assert outcome.code is Exit.FINE
    assert heard == Osc("x", "/strip/1/to/1", (1,))
    (said,) = prompts
    assert f"This sends to {address.osc}: /strip/1/to/1 = 1" in said
    assert 'It sets "in 1 to program" to on. Speakers off' in said


@pytest.mark.parametrize("answer", ["no", "", "y", "YES PLEASE"])
def test_without_a_yes_nothing_is_sent(answer: str) -> None:
    with udp_peer() as peer:
        address = Address(osc=f"127.0.0.1:{peer.port}")
        outcome = trial(OSC_DESK, SWITCH, "on", address, lambda _: answer)
        with pytest.raises(BlockingIOError):  # not even a question
            peer.now()
    assert (outcome.code, outcome.text) == (Exit.FINDINGS, "nothing was sent")


def test_of_a_toggle_it_is_said_that_it_turns_over() -> None:
    prompts: list[str] = []

    def no(prompt: str) -> str:
        prompts.append(prompt)
        return "no"

    trial(TOGGLE_DESK, SWITCH, "on", Address(osc="127.0.0.1:9"), no)
    assert "/strip/1/to/1/press = 1\nIt turns" in prompts[0]
    assert "It sets" not in prompts[0]


def test_somebody_who_goes_away_sends_nothing() -> None:
    def gone(_: str) -> str:
        raise EOFError

    outcome = trial(OSC_DESK, SWITCH, "on", Address(osc="127.0.0.1:9"), gone)
    assert outcome.text == "nothing was sent"


@pytest.mark.parametrize(
    ("control", "value", "words"),
    [
        (SWITCH, "off", "control 21 on channel 1 = 0"),
        ("in 1 level", "0 dB", "control 21 on channel 16 = 100"),
        ("in 1 level", "-20 dB", "control 21 on channel 16 = 60"),
        ("in 1 level", "off", "control 21 on channel 16 = 0"),
    ],
)
def test_what_would_be_sent(control: str, value: str, words: str) -> None:
    prompts: list[str] = []

    def no(prompt: str) -> str:
        prompts.append(prompt)
        return "no"

    trial(MIDI_DESK, control, value, Address(midi="Desk"), no)
    assert f"This sends to Desk: {words}\n" in prompts[0]


@pytest.mark.parametrize(
    ("control", "value", "address", "why"),
    [
        ("in 1 to progam", "on", Address(osc="127.0.0.1:9"), "has no control"),
        (SWITCH, "up", Address(osc="127.0.0.1:9"), 'has no value "up"'),
        (SWITCH, "on", Address(), "say where the gear is"),
        (SWITCH, "on", Address("A", "127.0.0.1:9"), "one place only"),
        (SWITCH, "on", Address("A", modbus="/dev/ttyUSB0"), "one place only"),
        (SWITCH, "on", Address(modbus="ttyUSB0"), "not an address and a port"),
        (SWITCH, "on", Address(osc="desk"), "not an address and a port"),
        (SWITCH, "on", Address(osc="127.0.0.1:0"), "not an address and a port"),
    ],
)
def test_what_cannot_be_tried(
    control: str, value: str, address: Address, why: str
) -> None:
    with pytest.raises(CouldNotRunError, match=why):
        trial(OSC_DESK, control, value, address, yes)


def test_a_level_without_its_unit_is_said() -> None:
    with pytest.raises(CouldNotRunError, match="must have a unit"):
        trial(MIDI_DESK, "in 1 level", "3", Address(midi="Desk"), yes)


def test_a_script_cannot_say_yes(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["try", str(OSC_DESK), SWITCH, "on", "--osc", "127.0.0.1:9"]
    assert main(words) == 2
    assert "nobody is here to say yes" in capsys.readouterr().err


class Gone:
    """A port whose gear is not there, or that refuses to send."""

    name = "gear"

    def __init__(self, *, is_lost: bool) -> None:
        self.drops: dict[str, int] = {}
        self.is_lost = is_lost
        self.is_closed = False

    async def open(self, deliver: Deliver) -> None:
        deliver(Lost("gear", "unplugged", 0.0) if self.is_lost else Found("gear", 0.0))

    def send(self, message: object) -> None:
        raise PortGone(str(message))

    async def close(self) -> None:
        self.is_closed = True


@pytest.mark.parametrize(
    ("is_lost", "why"), [(True, "not there: unplugged"), (False, "could not be sent")]
)
async def test_gear_that_is_not_there_is_said(is_lost: bool, why: str) -> None:
    port = Gone(is_lost=is_lost)
    with pytest.raises(CouldNotRunError, match=why):
        await send(port, (Midi("", b"\xb0\x01\x01"),))
    assert port.is_closed
