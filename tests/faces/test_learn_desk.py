"""Learning a desk: each button asked for, the profile written, and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.adapters.osc_codec import encode
from bridge.core.wire import Message, Midi, Osc
from bridge.engine.ports import Deliver, Found, Heard, Lost
from bridge.faces.cli import main
from bridge.faces.learn import Wire
from bridge.faces.learn_desk import ask_all, learn_desk_profile
from bridge.faces.outcome import CouldNotRunError, Exit, FoundError
from bridge.files.notes import Notes
from bridge.files.profile import load_profile
from bridge.files.profile_model import Profile
from tests.core.test_desk_learning import BUSES, DRAFT, STRIPS
from tests.fakes.udp_peer import port_with_nobody, udp_peer


class FakeDesk:
    """Presses its own buttons as it is asked to, with a stray message before each."""

    name = "button"

    def __init__(self) -> None:
        self.drops: dict[str, int] = {}
        self.deliver: Deliver | None = None
        self.is_closed = False

    async def open(self, deliver: Deliver) -> None:
        self.deliver = deliver
        deliver(Found("button", 0.0))

    def send(self, message: Message) -> None:
        raise AssertionError(message)

    async def close(self) -> None:
        self.is_closed = True

    def asked(self, line: str) -> None:
        if ": put " not in line:
            return
        strip, _, rest = line.partition(": put ")[2].partition(" on ")
        bus = rest.removesuffix(", then take it off")
        head = (0xB0 | BUSES.index(bus), 40 + STRIPS.index(strip))
        assert self.deliver is not None
        self.deliver(Heard(Midi("button", bytes((0xB9, 7, 3))), 0.0))
        for value in (127, 0):
            self.deliver(Heard(Midi("button", bytes((*head, value))), 0.0))


def draft(tmp_path: Path, speaks: str = "midi") -> Path:
    file = tmp_path / "attic-desk.yaml"
    file.write_text(DRAFT.replace("SPEAKS", speaks))
    return file


@pytest.fixture
def profile(tmp_path: Path) -> Profile:
    found, _ = load_profile(draft(tmp_path), "x", Notes())
    assert found is not None
    return found


async def test_every_button_is_asked_for_once(profile: Profile) -> None:
    desk, said = FakeDesk(), []

    def say(line: str) -> None:
        said.append(line)
        desk.asked(line)

    samples = (await ask_all(desk, profile, say)).samples
    assert desk.is_closed
    assert [(s.strip, s.bus) for s in samples] == [
        (strip, bus) for strip in STRIPS for bus in BUSES
    ]
    assert said[0] == "1 of 6: put in 1 on program, then take it off"
    assert str(samples[1].on) == "button: B1 28 7F"


async def test_a_desk_that_goes_away_is_said(profile: Profile) -> None:
    desk = FakeDesk()

    def say(_: str) -> None:
        assert desk.deliver is not None
        desk.deliver(Lost("button", "it was unplugged", 0.0))

    with pytest.raises(CouldNotRunError, match="it was unplugged"):
        await ask_all(desk, profile, say)
    assert desk.is_closed


def test_the_whole_command_over_a_real_socket(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An OSC desk with a table of its own; then its profile is proved by check."""
    file, target = draft(tmp_path, "osc"), tmp_path / "my-desk.yaml"
    before = file.read_text()
    listen_at = port_with_nobody()
    with udp_peer() as peer:

        def say(line: str) -> None:
            if ": put " in line:
                strip, _, rest = line.partition(": put ")[2].partition(" on ")
                bus = rest.removesuffix(", then take it off")
                numbers = (7 + STRIPS.index(strip), 3 * BUSES.index(bus) + 1)
                for value in (1, 0):
                    address = f"/ch/{numbers[0]}/send/{numbers[1]}"
                    packet = encode(Osc("", address, (value,)))
                    assert isinstance(packet, bytes)
                    peer.say(packet, listen_at)

        wire = Wire(sender="127.0.0.1", listen=listen_at)
        outcome = learn_desk_profile(file, target, wire, say)
    assert outcome.code is Exit.FINE
    assert file.read_text() == before
    assert main(["check", str(target)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("my-desk: 5 jacks, 6 controls (6 remote)\n")
    assert "  in 3/4 to monitor: on  /ch/9/send/4 1\n" in said
    assert "# the good one" in target.read_text()
    with pytest.raises(CouldNotRunError, match="nothing is ever written over"):
        learn_desk_profile(file, target, wire, say)


def test_a_draft_that_cannot_be_learned_is_said_before_anything(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wire = Wire(midi="Desk")
    file = draft(tmp_path)
    file.write_text(file.read_text() + "strips: {}\n")
    with pytest.raises(FoundError):
        learn_desk_profile(file, None, wire, print)
    file.write_text("profile: attic-desk\nkind: desk\nabout: Bare.\n")
    with pytest.raises(CouldNotRunError, match="no strips or no buses yet"):
        learn_desk_profile(file, None, wire, print)
    file = draft(tmp_path)
    file.write_text(
        file.read_text()
        + "each strip to each bus:\n  switch:\n"
        + "    message: control {strip} on channel {bus}\n"
        + "    values: {off: 0, on: 127}\n"
    )
    with pytest.raises(CouldNotRunError, match="says already how its buttons"):
        learn_desk_profile(file, None, wire, print)
