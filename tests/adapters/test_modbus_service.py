"""The whole service with a relay board: pymodbus's server, and a desk set by hand."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from bridge.adapters import midi, modbus
from bridge.core.effects import Tell, Told
from bridge.core.ground import Ground
from bridge.core.judge import HouseJudge
from bridge.core.plans import navigator_for
from bridge.core.studio import Studio
from bridge.engine.loop import Engine
from bridge.faces.stage import free_port, replaced
from bridge.files.notes import Notes
from bridge.files.shelf import profile_folders, shipped_studios
from bridge.files.studio import load_text
from bridge.files.studio_gear import Shelf
from bridge.wiring.ports import build_ports
from bridge.wiring.service import service_for
from tests.fakes import jack
from tests.fakes.inbox import until
from tests.fakes.modbus_board import Board, over_tcp
from tests.fakes.programs import Program, needs
from tests.fakes.programs import running as running_program
from tests.fakes.udp_peer import port_with_nobody

NAME = "changeover: position"
OPEN = ("monitor: [playback]", "monitor: [mic, playback]")
NEAR = ("1.4 m at 160 deg", "0.2 m at 0 deg")
"""The microphone on the monitor bus, and at the speakers: when they play, it howls."""


@dataclass
class Run:
    """A service that runs, and what it has told."""

    engine: Engine
    told: list[Tell] = field(default_factory=list)

    async def until(self, told: Told) -> Tell:
        await until(lambda: any(record.told is told for record in self.told))
        return next(r for r in self.told if r.told is told)

    async def go(self, scene: str) -> str:
        """Go to a scene; the answer."""
        answers: list[str] = []
        self.engine.ask(("go", scene), answers.append)
        await until(lambda: bool(answers))
        return answers[0]


def studio(number: int, *changes: tuple[str, str]) -> Studio:
    """The lighthouse with its relay on a board at this port."""
    file = shipped_studios() / "lighthouse-reading-hour.yaml"
    gpio = "profile: changeover-gpio, line: GPIO17"
    board = f'profile: changeover-modbus, modbus: {{address: "127.0.0.1:{number}"}}'
    text = replaced(file.read_text(), (gpio, board), *changes)
    text = text.partition("buttons:")[0] + f"service: {{port: {free_port()}}}\n"
    loaded = load_text(text.encode(), "x.yaml", Shelf(profile_folders(), Notes()))
    assert loaded.studio is not None, loaded.findings
    return loaded.studio


@contextlib.asynccontextmanager
async def running(number: int, *changes: tuple[str, str]) -> AsyncIterator[Run]:
    here = await asyncio.to_thread(studio, number, *changes)
    ports = await asyncio.to_thread(build_ports, here, None)
    judge = HouseJudge(here)
    told: list[Tell] = []
    engine = service_for(
        here,
        judge,
        navigator_for(judge),
        ports,
        lambda record, at: told.append(record),
        {},
        Path("/x.yaml"),
    )
    async with asyncio.TaskGroup() as group:
        group.create_task(engine.run())
        yield Run(engine, told)
        engine.stop()


@pytest.fixture(scope="module")
def jack_server() -> Iterator[None]:
    with jack.shared_server():
        yield


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(modbus, "WATCH_S", 0.05)
    monkeypatch.setattr(modbus, "AGAIN_S", 0.5)


async def test_a_scene_is_in_force_when_the_board_says_so_and_let_go_at_last() -> None:
    board = Board()
    async with over_tcp(board) as number:
        async with running(number) as run:
            assert '"arrived"' in await run.go("aloud")
            assert (board.relay(0), board.relay(1)) == (True, True)
            assert run.engine.machine.knowledge[NAME].ground is Ground.CONFIRMED
        assert (board.relay(0), board.relay(1)) == (False, False)
    assert not any(record.told is Told.ALARM for record in run.told)


async def test_a_relay_that_another_program_pulls_is_a_hand_on_the_desk() -> None:
    board = Board()
    scenes = ("  aloud:   {changeover: pulled}\n", "")
    needs = ("  - reader hears playback in aloud\n", "")
    changes = (OPEN, NEAR, scenes, needs)
    async with over_tcp(board) as number, running(number, *changes) as run:
        await run.until(Told.STARTED)
        await until(lambda: bool(run.engine.machine.scenes_in_force))
        board.move(0, on=True)
        board.move(1, on=True)
        assert "changeover is pulled" in (await run.until(Told.MOVED_BY_HAND)).words
        alarm = await run.until(Told.ALARM)
        assert "howl" in alarm.words
        assert "reading" in alarm.cure
        assert '"arrived"' in await run.go("reading")
        assert not board.relay(0)
        await run.until(Told.ALL_CLEAR)


async def test_a_board_that_takes_nothing_halts_the_crossing_and_nothing_more() -> None:
    board = Board()
    async with over_tcp(board) as number, running(number) as run:
        await until(lambda: "reading" in run.engine.machine.scenes_in_force)
        board.is_hung = True
        asked = asyncio.get_running_loop().time()
        answer = await run.go("aloud")
        assert '"halted"' in answer
        assert asyncio.get_running_loop().time() - asked < 10
        assert "reading" not in run.engine.machine.scenes_in_force
        board.is_hung = False
        # What was under way may have been done after all; it is asked, not guessed.
        track = run.engine.machine.knowledge
        await until(lambda: track[NAME].ground is Ground.CONFIRMED)
        said = {True: {"pulled"}, False: {"rest"}}[board.relay(0)]
        assert track[NAME].values == said


LAMPS = """\
  signs: {profile: indicator-osc, osc: "127.0.0.1:OSC"}
  bulbs: {profile: indicator-modbus, modbus: {address: "127.0.0.1:BOARD", unit: 2}}
  pads: {profile: pad-lights, midi: "pads"}
  laptop:
"""


def lamps(osc: int, board: int) -> str:
    return LAMPS.replace("OSC", str(osc)).replace("BOARD", str(board))


SHOW = """\
lamps:
  signs.lamp 1: aloud
  signs.lamp 2: everything
  bulbs.lamp 1: aloud
  pads.light 3: aloud
scenes:
"""


@needs("jackd", "jack_midi_dump", "oscdump")
@pytest.mark.usefixtures("jack_server")
async def test_lamps_over_osc_modbus_and_midi_show_what_is_to_other_programs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """liblo's oscdump, pymodbus's server and JACK's jack_midi_dump are the lamps."""
    monkeypatch.setattr(midi, "AGAIN_S", 0.2)
    relay, bulbs, osc = Board(), Board(2), port_with_nobody()
    async with (
        over_tcp(relay, bulbs) as number,
        running_program("oscdump", "-L", str(osc)) as signs,
        jack.dump("pads") as pads,
        running(
            number,
            (
                "  laptop:\n",
                lamps(osc, number),
            ),
            ("scenes:\n", SHOW),
        ) as run,
    ):
        await run.until(Told.STARTED)
        await until(lambda: not run.engine.machine.absent)
        assert '"arrived"' in await run.go("aloud")
        await until(lambda: bulbs.relay(0))
        assert await said(signs, "/lamp/1 i 1") == ""
        assert await said(pads, "90 26 7f") != ""
        run.engine.stop()
        await until(lambda: not bulbs.relay(0))
        assert await said(signs, "/lamp/1 i 0") == ""
        assert await said(pads, "90 26 00") != ""


async def said(program: Program, words: str) -> str:
    """What a program prints after these words, in the first line that has them."""
    while True:
        line = await program.line()
        if words in line:
            return line.partition(words)[2].strip()
