"""Benches of the fake ports: they are held to what the real ones are held to."""

import contextlib
import itertools
from collections.abc import AsyncIterator
from contextlib import AbstractAsyncContextManager

from bridge.adapters.renewal import RenewingPort
from bridge.core.connection import Renewal
from bridge.core.wire import Message, Osc
from tests.adapters.rigs.rig import (
    CC,
    DRIVEN,
    FALLEN,
    LEVEL,
    PULLED,
    SWITCH,
    Rig,
    lever,
)
from tests.fakes.clock import SimulatedClock
from tests.fakes.lines import FakeBoard as FakeRelayBoard
from tests.fakes.lines import FakePedal, FakeRelay
from tests.fakes.midi import FakeMidiPort
from tests.fakes.osc import FakeOscPort
from tests.fakes.port import FakePort


@contextlib.asynccontextmanager
async def _fake(port: FakePort, sends: Message, hears: Message) -> AsyncIterator[Rig]:
    port.unplug()
    taken = itertools.count()

    async def received() -> Message:
        return port.received[next(taken)]

    yield Rig(
        port=port,
        sends=sends,
        received=received,
        hears=hears,
        say=lever(lambda: port.says(hears)),
        plug=lever(port.plug),
        unplug=lever(port.unplug),
    )


def fake_osc() -> AbstractAsyncContextManager[Rig]:
    return _fake(FakeOscPort("it", SimulatedClock()), SWITCH, LEVEL)


def fake_midi() -> AbstractAsyncContextManager[Rig]:
    return _fake(FakeMidiPort("it", SimulatedClock()), CC, CC)


def fake_relay() -> AbstractAsyncContextManager[Rig]:
    return _fake(FakeRelay("it", SimulatedClock()), DRIVEN, DRIVEN)


def fake_relay_board() -> AbstractAsyncContextManager[Rig]:
    return _fake(FakeRelayBoard("it", SimulatedClock()), PULLED, FALLEN)


@contextlib.asynccontextmanager
async def fake_pedal() -> AsyncIterator[Rig]:
    port = FakePedal("it", SimulatedClock())
    async with _fake(port, DRIVEN, DRIVEN) as rig:
        rig.sends = rig.received = None
        rig.say = lever(port.drive_high)
        yield rig


@contextlib.asynccontextmanager
async def kept_telling() -> AsyncIterator[Rig]:
    """Gear that is sent something again and again: first of all when it is found."""
    gear = FakeOscPort("it", SimulatedClock())
    follow = Osc("it", "/follow")
    async with _fake(gear, SWITCH, LEVEL) as rig:
        taken = itertools.count()

        async def received() -> Message:
            assert gear.received[0] == follow
            return [m for m in gear.received if m != follow][next(taken)]

        rig.port = RenewingPort(gear, [Renewal(follow, 60_000.0)])
        rig.received = received
        yield rig
