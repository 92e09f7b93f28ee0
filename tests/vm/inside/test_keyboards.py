"""A pedal that is a keyboard, made by the kernel's uinput; the peer is python-evdev."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import evdev
import pytest
from evdev import ecodes

from bridge.adapters import keyboard
from bridge.adapters.keyboard import KeyboardPort
from bridge.core.wire import Keystroke
from tests.fakes.inbox import Inbox, until

NAME = "Foot switch of the workshop"
DOWN = ecodes.KEY_PAGEDOWN


@contextlib.contextmanager
def pedal(socket: str = "left") -> Iterator[evdev.UInput]:
    """A box with one key, plugged in for as long as the block lasts."""
    box = evdev.UInput({ecodes.EV_KEY: [DOWN]}, name=NAME, phys=socket)
    try:
        yield box
    finally:
        box.close()


def move(box: evdev.UInput, value: int) -> None:
    """Let the key go (0), put it down (1), or repeat it as one that is held (2)."""
    box.write(ecodes.EV_KEY, DOWN, value)
    box.syn()


@pytest.fixture
def inbox(monkeypatch: pytest.MonkeyPatch) -> Inbox:
    monkeypatch.setattr(keyboard, "AGAIN_S", 0.1)
    return Inbox()


async def test_it_is_heard_by_us_alone_unplugged_and_found_again(inbox: Inbox) -> None:
    port = KeyboardPort("it", NAME)
    await port.open(inbox)
    await until(lambda: inbox.presence == ["lost"])
    for _ in range(2):
        with pedal() as box:
            await until(lambda: inbox.presence[-1] == "found")
            inbox.arrivals.clear()
            other = evdev.InputDevice(box.device.path)
            for value in (1, 2, 2, 0, 1):
                move(box, value)
            await until(lambda: len(inbox.heard) == 3)
            assert inbox.heard == [
                Keystroke("it", DOWN, down=down) for down in (True, False, True)
            ]
            assert other.read_one() is None, "somebody else heard the pedal"
            other.close()
        await until(lambda: inbox.presence[-1:] == ["lost"])
    await port.close()


async def test_twins_are_told_of_and_told_apart(inbox: Inbox) -> None:
    with pedal(), pedal("right") as second:
        port = KeyboardPort("it", NAME)
        await port.open(inbox)
        await until(lambda: inbox.presence == ["lost"])
        await port.close()
        chosen = KeyboardPort("it", NAME, nth=2)
        found = Inbox()
        await chosen.open(found)
        await until(lambda: found.presence[-1:] == ["found"])
        move(second, 1)
        assert (await found.next_heard()).message == Keystroke("it", DOWN, down=True)
        await chosen.close()
