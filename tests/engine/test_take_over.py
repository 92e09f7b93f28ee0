"""Another studio takes over in the engine: ports stay, leave and come."""

from __future__ import annotations

import asyncio
from dataclasses import replace

from bridge.core.connection import OscPeer
from bridge.core.effects import Tell, Told
from bridge.core.machine import Machine
from bridge.core.studio import Studio
from bridge.core.wire import Osc
from bridge.engine.loop import Engine
from bridge.engine.open_ports import OpenPorts
from bridge.engine.ports import Arrival, Deliver, Heard, Port
from bridge.engine.succession import Next
from tests.fakes.clock import SimulatedClock
from tests.fakes.engine_rig import FakeManager
from tests.fakes.port import FakePort
from tests.fakes.studio import JUDGE, SCENES, navigator, studio

NAMES = ("desk", "strip", "relay", "pedal")


class LoggedPort(FakePort):
    """Writes down when it is opened and closed; as a desk it says that all is off."""

    def __init__(
        self, name: str, clock: SimulatedClock, log: list[str], mark: str
    ) -> None:
        super().__init__(name, clock)
        self._log, self._mark = log, mark
        self.answer = lambda m: (
            []
            if not isinstance(m, Osc) or m.arguments
            else [Osc(name, m.address, (0.0,))]
        )

    async def open(self, deliver: Deliver) -> None:
        self._log.append(f"open {self._mark}")
        await super().open(deliver)

    async def close(self) -> None:
        self._log.append(f"close {self._mark}")
        await super().close()


class Rig:
    """An engine of the fake studio, and what it opened, closed and told."""

    def __init__(self) -> None:
        self.clock = SimulatedClock()
        self.log: list[str] = []
        self.ports = {n: LoggedPort(n, self.clock, self.log, n) for n in NAMES}
        self.told: list[Tell] = []
        of = studio(start="quiet")
        self.engine = Engine(
            Machine(of, JUDGE, navigator(of, JUDGE), self.clock.now()),
            self.ports.values(),
            self.clock,
            FakeManager(self.clock),
            lambda tell, _: self.told.append(tell),
        )

    def next(self, of: Studio, ports: dict[str, LoggedPort]) -> Next:
        def made() -> tuple[Port, ...]:
            self.ports = ports
            return tuple(ports.values())

        return Next(lambda now: Machine(of, JUDGE, navigator(of, JUDGE), now), made)

    async def run(self, seconds: float) -> None:
        self.clock.after(seconds, self.engine.stop)
        await self.engine.run()

    def count(self, told: Told) -> int:
        return sum(tell.told is told for tell in self.told)


async def test_ports_that_are_the_same_stay_and_one_leaves_before_its_heir_comes() -> (
    None
):
    rig = Rig()
    new = studio(start="quiet")
    desk = new.connections[0]
    assert isinstance(desk, OscPeer)
    moved = replace(desk, host="127.0.0.2")
    ports = {**rig.ports, "desk": LoggedPort("desk", rig.clock, rig.log, "new desk")}
    old_desk = rig.ports["desk"]
    change = rig.next(replace(new, connections=(moved, *new.connections[1:])), ports)
    rig.clock.after(6.0, lambda: rig.engine.take_over(change))
    # What the old desk still says must not count as the new one's word.
    rig.clock.after(6.0, lambda: old_desk.says(Osc("desk", "/mic", (1.0,))))
    await rig.run(9.0)
    assert rig.log[:6] == [*(f"open {n}" for n in NAMES), "close desk", "open new desk"]
    assert sorted(rig.log[6:]) == sorted(
        ["close new desk", *(f"close {n}" for n in NAMES[1:])]
    )
    assert rig.count(Told.READ_ANEW) == 1
    assert rig.count(Told.MOVED_BY_HAND) == 0
    status = rig.engine.status()
    assert [p["is_found"] for p in status["ports"]] == [True] * 4
    mic = next(c for c in status["controls"] if c["name"] == "mic")
    assert (mic["values"], mic["why"]) == (["off"], "the gear says so")


async def test_it_waits_for_the_crossing_and_of_a_storm_only_the_newest_is_taken() -> (
    None
):
    rig = Rig()
    made = []

    def storm() -> None:
        rig.engine.ask(("go", "speakers"), lambda _: None)
        for number in range(500):
            scenes = {**SCENES, f"made {number}": SCENES["quiet"]}
            of = studio(start="quiet", scenes=scenes)
            change = rig.next(of, rig.ports)
            made.append(change)
            rig.engine.take_over(change)

    rig.clock.after(6.0, storm)
    await rig.run(12.0)
    kinds = [tell.told for tell in rig.told if tell.scene == "speakers"]
    assert kinds == [Told.CROSSING, Told.ARRIVED]
    assert rig.count(Told.READ_ANEW) == 1
    words = [tell.told for tell in rig.told]
    assert words.index(Told.READ_ANEW) > words.index(Told.ARRIVED)
    assert "made 499" in rig.engine.machine.studio.scenes
    assert "made 498" not in rig.engine.machine.studio.scenes
    assert rig.log == [f"open {n}" for n in NAMES] + [f"close {n}" for n in NAMES]


async def test_two_ports_of_one_name_are_never_open_together() -> None:
    rig = Rig()

    def take(mark: str) -> None:
        desk = LoggedPort("desk", rig.clock, rig.log, mark)
        ports = {**rig.ports, "desk": desk}
        rig.engine.take_over(rig.next(studio(start="quiet"), ports))

    for number in range(5):
        rig.clock.after(6.0 + number * 0.001, lambda n=number: take(f"desk {n}"))  # type: ignore[misc]
    for number in range(50):  # turns of the loop: closing and opening take some each
        rig.clock.after(6.1 + number * 0.01, lambda: None)
    await rig.run(9.0)
    desks = [word for word in rig.log if "desk" in word]
    is_open: set[str] = set()
    for word in desks:
        what, _, mark = word.partition(" ")
        if what == "open":
            assert not is_open, desks
            is_open.add(mark)
        else:  # one that was never opened is closed all the same
            is_open.discard(mark)
    assert desks[-2:] == ["open desk 4", "close desk 4"]


async def test_a_port_that_leaves_is_heard_no_more() -> None:
    clock, heard = SimulatedClock(), list[Arrival]()
    old, new = FakePort("desk", clock), FakePort("desk", clock)
    ports = OpenPorts([old], heard.append)
    async with asyncio.TaskGroup() as group:
        ports.settle(group)
    ports.replace([new])
    old.says(Osc("desk", "/mic", (1.0,)))
    async with asyncio.TaskGroup() as group:
        ports.settle(group)
    new.says(Osc("desk", "/mic", (0.0,)))
    await ports.close()
    said = [a.message for a in heard if isinstance(a, Heard)]
    assert said == [Osc("desk", "/mic", (0.0,))]


class SlowPort(LoggedPort):
    """Closing takes until it may; asked a second time meanwhile, it returns at once."""

    may_close: asyncio.Event | None = None

    async def close(self) -> None:
        if self.may_close is None:
            self.may_close = asyncio.Event()
            await self.may_close.wait()
            await super().close()


async def test_while_a_port_is_being_closed_none_of_its_name_is_opened() -> None:
    clock, log = SimulatedClock(), list[str]()
    old = SlowPort("desk", clock, log, "old")
    ports = OpenPorts([old], lambda _: None)
    async with asyncio.TaskGroup() as group:
        ports.settle(group)
    async with asyncio.TaskGroup() as group:
        for mark in ("second", "third"):
            ports.replace([LoggedPort("desk", clock, log, mark)])
            ports.settle(group)
            for _ in range(9):
                await asyncio.sleep(0)
        assert old.may_close is not None
        assert "open third" not in log
        old.may_close.set()
    await ports.close()
    assert log == ["open old", "close old", "close second", "open third", "close third"]
