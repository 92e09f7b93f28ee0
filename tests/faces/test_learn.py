"""Learning a button: over a real OSC socket, and from ports that are fakes."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.adapters.osc_codec import encode
from bridge.adapters.osc_door import OscDoor
from bridge.core.button import Gesture
from bridge.core.connection import OscPeer
from bridge.core.effects import Pressed
from bridge.core.learning import Learned, learn_button
from bridge.core.reception import Reception
from bridge.core.wire import Keystroke, Message, Midi, Osc
from bridge.engine.ports import Deliver, Found, Heard, Lost
from bridge.faces.cli import main
from bridge.faces.learn import MOST_HEARD, Wire, button_lines, learn, listen
from bridge.faces.outcome import CouldNotRunError, Exit
from bridge.files.notes import Notes
from bridge.files.shelf import profile_folders
from bridge.files.studio import load_text
from bridge.files.studio_gear import Shelf
from tests.fakes.udp_peer import UdpPeer, port_with_nobody, udp_peer


class FakePort:
    """A port that hears these at once, and then nothing more."""

    name = "button"

    def __init__(self, arrivals: Sequence[Heard | Found | Lost]) -> None:
        self.drops: dict[str, int] = {}
        self.arrivals = arrivals
        self.is_closed = False

    async def open(self, deliver: Deliver) -> None:
        for arrival in self.arrivals:
            deliver(arrival)

    def send(self, message: Message) -> None:
        raise AssertionError(message)

    async def close(self) -> None:
        self.is_closed = True


def presses(count: int = 5) -> list[Heard]:
    found = []
    for number in range(count):
        for at, value in ((number, 127), (number + 0.4, 0)):
            found.append(Heard(Midi("button", bytes((0xB3, 64, value))), float(at)))
    return found


async def test_it_says_each_message_and_stops_when_it_is_quiet() -> None:
    said: list[str] = []
    port = FakePort([Found("button", 0.0), *presses()])
    heard = await listen(port, 5, 60.0, said.append, 0.01)
    assert len(heard) == 10
    assert port.is_closed
    assert said[0].startswith("Press the button 5 times")
    assert said[1] == "  control 64 on channel 4 = 127"


async def test_it_stops_when_the_time_is_over() -> None:
    port = FakePort([])
    assert await listen(port, 5, 0.01, lambda _: None, 60.0) == []
    assert port.is_closed


async def test_a_flood_is_bounded() -> None:
    one = Heard(Midi("button", bytes((0xB0, 64, 0))), 1.0)
    heard = await listen(FakePort([one] * (3 * MOST_HEARD)), 5, 60.0, lambda _: None, 1)
    assert len(heard) == MOST_HEARD


async def test_a_thing_that_is_not_there_is_said() -> None:
    port = FakePort([Lost("button", "no device is called Pedal", 0.0)])
    with pytest.raises(CouldNotRunError, match="no device is called Pedal"):
        await listen(port, 5, 60.0, lambda _: None, 1.0)
    assert port.is_closed


async def test_presses_over_a_real_socket_are_heard() -> None:
    door = OscDoor("button", 0, allow=("127.0.0.1",))
    with udp_peer() as peer:

        def said(line: str) -> None:
            # Pressed when it asks for it, and never before: so nothing can be missed.
            if line.startswith("Press"):
                for number in range(10):
                    packet = encode(Osc("", "/pad/1", (1 - number % 2,)))
                    assert isinstance(packet, bytes)
                    peer.say(packet, door.port)

        heard = await listen(door, 10, 20.0, said, 0.5)
    assert [message for _, message in heard] == [
        Osc("button", "/pad/1", (1 - number % 2,)) for number in range(10)
    ]


STUDIO = """\
studio: One button
gear:
  changeover: {profile: changeover-gpio, line: 17}
scenes:
  talk:  {changeover: rest}
  aloud: {changeover: pulled}
"""


@pytest.mark.parametrize(
    ("wire", "data"),
    [
        (Wire(midi="Pedal"), bytes((0xB0, 64))),
        (Wire(midi="Pedal: left", nth=2), bytes((0xB4, 64))),
        (Wire(midi="Pads"), bytes((0x99, 36))),
    ],
)
def test_the_lines_are_read_back_as_the_same_button(wire: Wire, data: bytes) -> None:
    heard: list[tuple[float, Message]] = []
    for number in range(5):
        heard.append((float(number), Midi("x", bytes((*data, 127)))))
        heard.append((number + 0.5, Midi("x", bytes((*data, 0)))))
    found = learn_button(heard, 5)
    assert isinstance(found, Learned)
    text = STUDIO + "\n".join(button_lines(found, wire, "left foot")) + "\n"
    loaded = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert loaded.studio is not None, loaded.findings
    (button,) = loaded.studio.buttons
    assert button.name == "left foot"
    assert button.key[1:] == ("midi", data)
    assert not button.latching


@pytest.mark.parametrize(
    ("wire", "channel"), [(Wire(midi="Pads"), 1), (Wire(midi="Pads", nth=2), 16)]
)
def test_the_lines_of_a_program_are_read_back_as_the_same_button(
    wire: Wire, channel: int
) -> None:
    """And the machine makes one tap of each press, from the same messages."""
    message = Midi("x", bytes((0xC0 | channel - 1, 5)))
    heard: list[tuple[float, Message]] = [(float(n), message) for n in range(5)]
    found = learn_button(heard, 5)
    assert isinstance(found, Learned)
    text = STUDIO + "\n".join(button_lines(found, wire, "left foot")) + "\n"
    loaded = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert loaded.studio is not None, loaded.findings
    reception = Reception(loaded.studio)
    port = loaded.studio.buttons[0].key[0]
    taps = [
        event
        for at, _ in heard
        for event in reception.hear(replace(message, port=port), at)
    ]
    assert taps == [Pressed("left foot", Gesture.TAP)] * 5
    other = Midi(port, bytes((0xC0 | channel - 1, 6)))
    assert reception.hear(other, 9.0) == ()


@pytest.mark.parametrize(
    ("wire", "message", "key"),
    [
        (
            Wire(keyboard="Foot: Switch", nth=2),
            lambda down: Keystroke("x", 109, down=down),
            ("key", "page down"),
        ),
        (
            Wire(sender="10.0.0.7", listen=9721, over="tcp slip"),
            lambda down: Osc("x", "/pedal", (int(down),)),
            ("osc", "/pedal"),
        ),
    ],
)
def test_keys_and_connections_are_read_back_too(
    wire: Wire, message: Callable[[bool], Message], key: tuple[str, str]
) -> None:
    heard = [(0.5 * n, message(n % 2 == 0)) for n in range(10)]
    found = learn_button(heard, 5)
    assert isinstance(found, Learned)
    text = STUDIO + "\n".join(button_lines(found, wire, "left foot")) + "\n"
    loaded = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert loaded.studio is not None, loaded.findings
    (button,) = loaded.studio.buttons
    assert button.key[1:] == key
    match loaded.studio.connections[-1], wire.connection():
        case OscPeer() as made, OscPeer() as heard_at:
            assert (made.host, made.listen, made.over) == (
                heard_at.host,
                heard_at.listen,
                heard_at.over,
            )
        case made, heard_at:
            assert replace(made, name="button") == heard_at


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "say where the button is plugged in"),
        (["--midi", "A", "--line", "4"], "one place only"),
        (["--listen", "9001"], "needs both the sender's address and our port"),
        (["--midi", "A", "--presses", "0"], "presses must be in 1..50"),
        (["--midi", "A", "--seconds", "0"], "seconds in 1..600"),
    ],
)
def test_a_place_that_is_not_whole_is_said(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["learn", *words]) == 2
    assert says in capsys.readouterr().err


def test_a_midi_device_that_is_not_there_ends_with_a_plain_word(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    code = main(["learn", "--midi", "No such pedal", "--seconds", "5"])
    said = capsys.readouterr().err
    assert code == 2
    assert "it is not there:" in said


def test_the_loop_is_left_clean() -> None:
    asyncio.run(listen(FakePort(presses()), 5, 5.0, lambda _: None, 0.01))


def test_the_whole_command_over_a_real_socket() -> None:
    listen_at = port_with_nobody()
    wire = Wire(sender="127.0.0.1", listen=listen_at)
    apart = threading.Event()
    foot: list[threading.Thread] = []

    def press(peer: UdpPeer) -> None:
        for number in range(10):
            packet = encode(Osc("", "/pad/1", (1 - number % 2,)))
            assert isinstance(packet, bytes)
            peer.say(packet, listen_at)
            apart.wait(0.1)  # a foot is slower than a bounce; nothing is measured

    with udp_peer() as peer:

        def say(line: str) -> None:
            if line.startswith("Press"):
                foot.append(threading.Thread(target=press, args=(peer,)))
                foot[0].start()

        outcome = learn(wire, "pad", 5, 30.0, say)
        foot[0].join()
    assert outcome.code is Exit.FINE
    assert outcome.text.splitlines() == [
        "it comes back when it is let go (momentary)",
        "no bounce was seen",
        "",
        "For the studio file:",
        "",
        "buttons:",
        "  pad:",
        f"    from: {{osc: /pad/1, sender: 127.0.0.1, listen: {listen_at}}}",
        "    tap: [talk, aloud]      # your scenes",
    ]
