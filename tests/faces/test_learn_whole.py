"""From a desk that nobody has described to a studio that drives it, over real wires.

The desk is a table that this project's code has never seen: its numbers come from here
only. It is learned by its own buttons and faders (over OSC, and over a MIDI device
file), and the profile that was written then runs a studio whose scenes must set that
very desk. What is set is read from the desk, not from the service.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import Queue

import pytest

from bridge.faces.children import Child, SimulatedDesk
from bridge.faces.cli import main
from bridge.faces.learn import Wire
from bridge.faces.learn_desk import learn_desk_profile
from bridge.faces.outcome import CouldNotRunError, Exit
from bridge.faces.stage import free_port
from tests.core.test_desk_learning import BUSES, DRAFT, STRIPS
from tests.faces.services import PATIENCE_S, running
from tests.fakes.jack import shared_server
from tests.fakes.midi_file import MidiFile, midi_file
from tests.fakes.programs import needs

REST_S = 0.05
MARKS = {"off": 0.0, "-10 dB": 0.5, "0 dB": 0.75, "+10 dB": 1.0}
STUDIO = """\
studio: Attic with a desk nobody knew

people:
  diarist: {{room: attic, cap: 88 dB}}
feeds:
  recording: {{}}

gear:
  desk: {{profile: my-desk, {where}}}
  computer:
    profile: computer-one-pair
    takes: {{recording: capture}}
  mic:
    profile: microphone-dynamic-cardioid
    room: attic
    spoken into by: diarist
    distance: 0.12 m
  phones: {{profile: headphones-active, worn by: diarist, listening level: 70 dB}}

patch:
  - mic.out          -> desk.in 2
  - desk.program out -> computer.capture
  - desk.monitor out -> phones.in

scenes:
  start: {{everything: off, in 1 level: off, mic level: off, in 3/4 level: off}}
  talk:
    from: start
    program: [mic]
    monitor: [mic]
    mic level: -10 dB

service: {{port: {door}}}
"""

Press = Callable[[str], None]


def draft(folder: Path, speaks: str) -> Path:
    file = folder / "profiles" / "attic-desk.yaml"
    file.parent.mkdir()
    file.write_text(DRAFT.replace("SPEAKS", speaks))
    return file


def person(
    button: Callable[[str, str, int], None], fader: Callable[[str, str], None]
) -> Press:
    """Somebody who does what they are told, with a wobble on the way to a mark."""

    def does(line: str) -> None:
        if ": put " in line:
            strip, _, rest = line.partition(": put ")[2].partition(" on ")
            for value in (1, 0):
                button(strip, rest.removesuffix(", then take it off"), value)
        elif line.startswith("put the fader of "):
            strip, _, rest = line.removeprefix("put the fader of ").partition(" to ")
            fader(strip, rest.removesuffix(", and leave it there"))

    return does


@contextmanager
def aside(does: Press) -> Iterator[Queue[str | None]]:
    """A person is no part of the program that talks to them: a thread of its own."""
    lines: Queue[str | None] = Queue()

    def lives() -> None:
        while (line := lines.get()) is not None:
            does(line)

    thread = threading.Thread(target=lives)
    thread.start()
    try:
        yield lines
    finally:
        lines.put(None)
        thread.join()


def write_studio(folder: Path, where: str) -> Path:
    file = folder / "attic.yaml"
    file.write_text(STUDIO.format(where=where, door=free_port()))
    return file


def nothing_of_the_draft_is_lost(before: str, after: str) -> None:
    """Every comment and line stays, but for the numbers and the new name."""
    kept = [line.split("number")[0] for line in before.splitlines()[2:]]
    made = [line.split("number")[0] for line in after.splitlines()]
    assert made[2 : 2 + len(kept)] == kept
    assert "#" in after.partition("in 2")[2].splitlines()[0]


# Over OSC


def strip_of(strip: str) -> int:
    return 11 + 7 * STRIPS.index(strip)


def button_at(strip: str, bus: str) -> str:
    return f"/x{5 - BUSES.index(bus)}/{strip_of(strip)}/feeds"


def fader_at(strip: str) -> str:
    return f"/loud/{strip_of(strip)}"


@pytest.mark.parametrize("answers", [True, False], ids=["answers", "mute"])
def test_a_desk_over_osc_is_learned_and_driven(tmp_path: Path, answers: bool) -> None:
    state: dict[str, float] = {button_at(s, b): 0 for s in STRIPS for b in BUSES}
    state |= {fader_at(s): 0.0 for s in STRIPS}
    desk = SimulatedDesk(
        [sys.executable, "-m", "bridge.faces.simdesk"], {"state": state}
    )
    if not answers:
        desk.order(mute=True)
    file = draft(tmp_path, "osc")
    before = file.read_text()
    wire = Wire(sender="127.0.0.1", listen=free_port(), ask=desk.port)
    does = person(
        lambda strip, bus, value: desk.order(hand=button_at(strip, bus), value=value),
        lambda strip, mark: desk.order(hand=fader_at(strip), value=MARKS[mark]),
    )
    target = file.parent / "my-desk.yaml"
    with aside(does) as said:
        outcome = learn_desk_profile(file, target, wire, said.put, tuple(MARKS), REST_S)
    assert outcome.code is Exit.FINE, outcome.text
    assert file.read_text() == before
    profile = target.read_text()
    nothing_of_the_draft_is_lost(before, profile)
    assert "message: /x{bus}/{strip}/feeds\n" in profile
    assert "message: /loud/{strip}\n" in profile
    assert "scale: {off: 0, -10 dB: 0.5, 0 dB: 0.75, +10 dB: 1}\n" in profile
    assert ("answers: true" in profile) is answers
    if not answers:  # it is driven as the desk behind a device file is, below
        assert desk.end() == 0
        return
    studio = write_studio(tmp_path, f'osc: "127.0.0.1:{desk.port}"')
    with running(studio) as service:
        service.until("started")
        service_go(studio, "talk")
        service.until("arrived", scene="talk")
        now = desk.state()
    assert desk.end() == 0
    wanted = dict.fromkeys(state, 0.0) | {fader_at("in 2"): 0.5}
    wanted |= {button_at("in 2", b): 1 for b in BUSES}
    assert now == wanted


def service_go(studio: Path, scene: str) -> None:
    assert main(["go", str(studio), scene]) == 0


# Over a MIDI device file


Cc = tuple[int, int]
"""Channel from 0, and controller."""


def cc(strip: str, bus: str) -> Cc:
    return 9 - 3 * BUSES.index(bus), strip_of(strip)


def hands_on(says: Callable[[bytes], None]) -> Press:
    """Buttons and faders that send control changes with numbers of their own."""

    def button(strip: str, bus: str, value: int) -> None:
        channel, number = cc(strip, bus)
        says(bytes((0xB0 | channel, number, 100 * value)))

    def fader(strip: str, mark: str) -> None:
        for wobble in (3, 0):
            value = max(0, round(120 * MARKS[mark]) - wobble)
            says(bytes((0xBF, strip_of(strip), value)))

    return person(button, fader)


def as_in_talk() -> dict[Cc, int]:
    """What the scene talk sets, by the desk's own numbers."""
    state = {cc(s, b): 0 for s in STRIPS for b in BUSES}
    state |= {(15, strip_of(s)): 0 for s in STRIPS}
    return state | {cc("in 2", b): 100 for b in BUSES} | {(15, strip_of("in 2")): 60}


class HiddenDesk:
    """What comes in at a device file: control changes, and nothing is answered."""

    def __init__(self, device: MidiFile) -> None:
        self.device = device
        self.state: dict[Cc, int] = {}
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._hear)

    def _hear(self) -> None:
        data = b""
        while not self._end.wait(0.005):
            try:
                data += os.read(self.device.end, 4096)
            except (BlockingIOError, OSError):
                continue
            while len(data) >= 3:
                assert data[0] & 0xF0 == 0xB0, data.hex()
                self.state[data[0] & 15, data[1]] = data[2]
                data = data[3:]

    @contextmanager
    def listening(self) -> Iterator[None]:
        """Hear what comes in, for as long as the block lasts."""
        self._thread.start()
        try:
            yield
        finally:
            self._end.set()
            self._thread.join()


def test_a_desk_behind_a_device_file_is_learned_and_driven(tmp_path: Path) -> None:
    with midi_file(tmp_path / "midi") as device:
        device.plug()
        desk = HiddenDesk(device)
        file = draft(tmp_path, "midi")
        before = file.read_text()
        target = file.parent / "my-desk.yaml"
        wire = Wire(midi=str(device.path))
        does = hands_on(device.says)
        outcome = learn_desk_profile(file, target, wire, does, tuple(MARKS), REST_S)
        assert outcome.code is Exit.FINE, outcome.text
        learned_from(before, target)
        studio = write_studio(tmp_path, f'midi: "{device.path}"')
        with desk.listening(), running(studio) as service:
            service.until("started")
            service_go(studio, "talk")
            service.until("arrived", scene="talk")
        assert desk.state == as_in_talk()


def learned_from(before: str, target: Path) -> None:
    profile = target.read_text()
    nothing_of_the_draft_is_lost(before, profile)
    assert "    message: control {strip} on channel {bus}\n" in profile
    assert "    values: {off: 0, on: 100}\n" in profile
    assert "    message: control {strip} on channel 16\n" in profile
    assert "    scale: {off: 0, -10 dB: 60, 0 dB: 90, +10 dB: 120}\n" in profile


# Over JACK

HEARD_S = 3.0
TRIES = 3
"""A busy server without priority loses MIDI; a person would begin again, too."""


@needs("jackd", "jack_lsp", "jack_wait")
def test_a_desk_over_jack_is_learned_and_driven(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tests.fakes.jack_desk", "Hidden Desk"]
    with shared_server():
        desk = Child(command)
        desk.until(lambda line: line == "ready", PATIENCE_S)
        try:
            for number in range(TRIES):
                if drives_it(tmp_path / str(number), desk):
                    return
        finally:
            desk.end(politely=False)
    pytest.fail("MIDI was lost each time")


def drives_it(folder: Path, desk: Child) -> bool:
    """Learn it and drive it; False if a message was lost on the way."""
    folder.mkdir()
    file = draft(folder, "midi")
    target = file.parent / "my-desk.yaml"
    wire = Wire(midi="Hidden Desk keys")
    with aside(hands_on(lambda data: desk.order(data.hex()))) as said:
        try:
            outcome = learn_desk_profile(
                file, target, wire, said.put, tuple(MARKS), REST_S
            )
        except CouldNotRunError:
            return False
    if outcome.code is not Exit.FINE:
        return False
    learned_from(file.read_text(), target)
    studio = write_studio(folder, 'midi: "Hidden Desk ears"')
    desk.pending()
    with running(studio) as service:
        service.until("started")
        service_go(studio, "talk")
        service.until("arrived", scene="talk")
        state: dict[Cc, int] = {}

        def heard(line: str) -> bool:
            data = bytes.fromhex(line)
            state[data[0] & 15, data[1]] = data[2]
            return state == as_in_talk()

        try:
            desk.until(heard, HEARD_S)
        except CouldNotRunError:
            return False
    return True
