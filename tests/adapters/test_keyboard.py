"""Pedals that are keyboards, over descriptors that carry the kernel's input events.

The events are packed by hand after linux/input.h, and the numbers of keys held against
another binding of the kernel's header (evdev).
"""

import asyncio
import contextlib
import errno
import os
import time
from collections.abc import AsyncIterator
from itertools import pairwise
from pathlib import Path

import evdev
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.adapters import key_files, keyboard
from bridge.adapters.key_files import KeyFile, Node, key_nodes
from bridge.adapters.key_stream import EVENT, KeyStream, Missed, Moved
from bridge.adapters.keyboard import KeyboardPort
from bridge.core.keys import NAMES, key_code, key_name
from bridge.core.wire import Keystroke
from bridge.engine.ports import Lost
from tests.fakes.inbox import Inbox, until
from tests.fakes.key_boxes import (
    INPUT_EVENT,
    KEY,
    LED,
    PAGE_DOWN,
    PEDAL,
    SYN,
    B,
    Desktop,
    event,
)

OF_THE_HEADER = {
    "escape": "KEY_ESC",
    "print": "KEY_SYSRQ",
    "stop music": "KEY_STOPCD",
    "joystick 1": "BTN_TRIGGER",
    "joystick 2": "BTN_THUMB",
    "joystick 3": "BTN_THUMB2",
    "joystick 4": "BTN_TOP",
    "joystick 5": "BTN_TOP2",
    "joystick 6": "BTN_PINKIE",
}
"""Our names that are not the header's own, written with spaces and in full."""


def in_the_header(name: str) -> str:
    """How the kernel's header spells it."""
    for ours, theirs in (
        ("keypad ", "KEY_KP"),
        ("button ", "BTN_"),
        ("mouse ", "BTN_"),
    ):
        if name.startswith(ours):
            return theirs + name.removeprefix(ours).upper()
    return OF_THE_HEADER.get(name, "KEY_" + name.replace(" ", "").upper())


@pytest.fixture(autouse=True)
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keyboard, "AGAIN_S", 0.02)


@contextlib.asynccontextmanager
async def heard_at(
    desk: Desktop, device: str = PEDAL, nth: int | None = None
) -> AsyncIterator[tuple[KeyboardPort, Inbox]]:
    port, inbox = KeyboardPort("it", device, nth, board=desk.board), Inbox()
    await port.open(inbox)
    try:
        yield port, inbox
    finally:
        await port.close()


def strokes(*moves: tuple[int, bool]) -> list[Keystroke]:
    return [Keystroke("it", code, down) for code, down in moves]


def descriptors() -> int:
    return len(list(Path("/proc/self/fd").iterdir()))


async def why_lost(desk: Desktop, device: str = PEDAL, nth: int | None = None) -> str:
    async with heard_at(desk, device, nth) as (_, inbox):
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        return lost.why


async def test_a_held_key_repeats_in_vain_and_other_events_are_nothing() -> None:
    desk = Desktop()
    pedal = desk.plug()
    async with heard_at(desk) as (port, inbox):
        before = time.monotonic()
        for value in (1, 2, 2, 2, 0):
            pedal.moves(PAGE_DOWN, value)
        pedal.writes(event(LED, 1, 1) + event(KEY, B, 7))
        await until(lambda: len(inbox.heard) == 2)
        assert inbox.heard == strokes((PAGE_DOWN, True), (PAGE_DOWN, False))
        times = [a.at for a in inbox.arrivals]
        assert all(before - 0.001 <= at <= time.monotonic() for at in times[1:])
        await until(lambda: port.drops == {"not a key's event": 1})


async def test_a_stamp_of_another_clock_is_not_believed() -> None:
    desk = Desktop()
    pedal = desk.plug()
    async with heard_at(desk) as (_, inbox):
        pedal.writes(event(KEY, B, 1, at=time.time()) + event(KEY, B, 0, at=1.0))
        await until(lambda: len(inbox.heard) == 2)
        assert all(a.at <= time.monotonic() for a in inbox.arrivals)
        assert all(a.at <= b.at for a, b in pairwise(inbox.arrivals))


async def test_events_that_the_kernel_dropped_are_made_up_for() -> None:
    desk = Desktop()
    pedal = desk.plug()
    async with heard_at(desk) as (port, inbox):
        pedal.moves(B, 1)
        await until(lambda: len(inbox.heard) == 1)
        # Between SYN_DROPPED and the report nothing counts; the keys are asked anew.
        pedal.down = {PAGE_DOWN}
        pedal.writes(event(SYN, 3, 0) + event(KEY, 30, 1) + event(SYN, 0, 0))
        await until(lambda: len(inbox.heard) == 3)
        assert inbox.heard[1:] == strokes((B, False), (PAGE_DOWN, True))
        assert port.drops == {"events that the kernel dropped": 1}


async def test_all_files_of_a_box_are_heard_and_nobody_else_s() -> None:
    desk = Desktop()
    second = desk.plug(files=2)
    desk.plug("Big Keyboard", "usb-1.3").moves(B, 1)
    async with heard_at(desk) as (_, inbox):
        assert [d.ends is not None for d in desk.devices] == [True, True, False]
        second.moves(B, 1)
        desk.devices[0].moves(PAGE_DOWN, 1)
        await until(lambda: len(inbox.heard) == 2)


async def test_pulled_out_while_it_is_held_and_put_in_elsewhere() -> None:
    desk = Desktop()
    pedal = desk.plug(files=2)
    async with heard_at(desk) as (_, inbox):
        for socket in ("usb-1.3", "usb-2.1"):
            pedal.moves(PAGE_DOWN, 1)
            desk.unplug(pedal.node.where)
            await until(lambda: inbox.presence[-1] == "lost")
            pedal = desk.plug(where=socket, files=2)
            await until(lambda: inbox.presence[-1] == "found")
        assert inbox.presence == ["found", "lost", "found", "lost", "found"]
        fds = descriptors()
        desk.unplug(pedal.node.where)
        await until(lambda: inbox.presence[-1] == "lost")
        assert descriptors() == fds - 4, "no descriptor is left"


async def test_two_of_one_name_are_told_by_their_sockets() -> None:
    desk = Desktop()
    right, left = desk.plug(where="usb-2.1"), desk.plug(where="usb-1.4")
    assert await why_lost(desk) == (
        'the keyboard cannot be heard: "Foot Switch" is the name of 2 keyboards: write '
        "nth and the number of one, by its socket (1 at usb-1.4, 2 at usb-2.1)"
    )
    assert "and nth is 3: write nth" in await why_lost(desk, nth=3)
    async with (
        heard_at(desk, nth=1) as (_, one),
        heard_at(desk, nth=2) as (_, two),
    ):
        left.moves(B, 1)
        right.moves(PAGE_DOWN, 1)
        await until(lambda: len(one.heard) == len(two.heard) == 1)
        assert one.heard == strokes((B, True))
        assert two.heard == strokes((PAGE_DOWN, True))


async def test_why_a_pedal_is_not_heard_is_said() -> None:
    desk = Desktop()
    desk.plug("Foot Swing", "usb-3")
    assert await why_lost(desk) == (
        'the keyboard cannot be heard: no keyboard is called "Foot Switch": plug it '
        'in, or write the name of one that is there ("Foot Swing")'
    )
    desk.plug().why_not = errno.EACCES
    assert await why_lost(desk) == (
        "the keyboard cannot be heard: /dev/input/event2: Permission denied: end the "
        'program that has it, and be a member of the group "input"'
    )
    path = desk.plug("Other", "usb-4").node.path
    async with heard_at(desk, path) as (_, inbox):
        assert inbox.presence == ["found"]
        assert "Device or resource busy" in await why_lost(desk, path)


async def test_what_opens_too_late_is_closed_again() -> None:
    desk = Desktop()
    desk.plug()
    listing, opening = desk.board
    loop, may_open = asyncio.get_running_loop(), asyncio.Event()

    def slow() -> list[Node]:
        asyncio.run_coroutine_threadsafe(may_open.wait(), loop).result(20)
        return list(listing())

    port = KeyboardPort("it", PEDAL, board=(slow, opening))
    task = loop.create_task(port.open(Inbox()))
    await asyncio.sleep(0)
    await asyncio.sleep(0)
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    may_open.set()
    await until(lambda: desk.opened == 1)
    async with heard_at(desk) as (_, inbox):  # it may be busy for a moment
        await until(lambda: inbox.presence[-1:] == ["found"])


# The kernel's files


def test_devices_are_listed_by_socket_and_those_without_keys_left_out(
    tmp_path: Path,
) -> None:
    def device(number: int, name: str, phys: str, keys: str, uniq: str = "") -> None:
        folder = tmp_path / f"event{number}" / "device"
        (folder / "capabilities").mkdir(parents=True)
        for file, text in (("name", name), ("phys", phys), ("uniq", uniq)):
            (folder / file).write_text(text + "\n")
        (folder / "capabilities" / "key").write_text(keys + "\n")

    device(3, PEDAL, "usb-2/input0", "e080ffdf01cfffff fffffffffffffffe")
    device(10, PEDAL, "usb-1/input1", "1f0000 0 0 0 0")
    device(9, PEDAL, "usb-1/input0", "4000000000 0 0")
    device(1, "Lid Switch", "PNP0C0D/button/input0", "0")
    device(4, "Clicker", "aa:bb", "8000 0", "cc:dd")
    (tmp_path / "event7").mkdir()  # it is just being pulled out
    assert [(n.path, n.where) for n in key_nodes(tmp_path)] == [
        ("/dev/input/event4", "aa:bb cc:dd"),
        ("/dev/input/event10", "usb-1"),
        ("/dev/input/event9", "usb-1"),
        ("/dev/input/event3", "usb-2"),
    ]


@pytest.mark.parametrize("path", [os.devnull, __file__])
def test_a_file_that_is_no_keyboard_is_refused_and_closed(path: str) -> None:
    fds = descriptors()
    with pytest.raises(OSError, match=r"no device|ioctl"):
        KeyFile(path)
    assert descriptors() == fds


def test_the_calls_to_the_kernel_have_its_numbers() -> None:
    """_IOC of asm-generic/ioctl.h: two bits of direction, 14 of size, type, number."""

    def ioc(direction: int, size: int, number: int) -> int:
        return direction << 30 | size << 16 | ord("E") << 8 | number

    write, read = 1, 2
    assert ioc(write, 4, 0x90) == key_files._GRAB
    assert ioc(write, 4, 0xA0) == key_files._CLOCK
    assert ioc(read, 0x300 // 8, 0x18) == key_files._DOWN


# Events and names


def test_an_event_is_as_long_as_the_kernel_s() -> None:
    assert EVENT.format.lstrip("@") == INPUT_EVENT.lstrip("@")


@given(
    st.lists(
        st.tuples(
            st.sampled_from((SYN, KEY, LED)), st.integers(0, 4), st.integers(0, 3)
        )
    ),
    st.lists(st.integers(0, 300), max_size=8),
)
def test_events_cut_anywhere_say_the_same(
    moves: list[tuple[int, int, int]], cuts: list[int]
) -> None:
    data = b"".join(event(*move, at=5.0) for move in moves)
    edges = sorted({0, len(data), *(c for c in cuts if c < len(data))})
    whole, pieces = KeyStream(), KeyStream()
    said = [x for a, b in pairwise(edges) for x in pieces.feed(data[a:b])]
    assert said == whole.feed(data)
    assert pieces.drops == whole.drops


@given(st.lists(st.binary(max_size=100), max_size=10))
def test_any_bytes_end_in_keys_or_causes(pieces: list[bytes]) -> None:
    stream = KeyStream()
    for piece in pieces:
        for said in stream.feed(piece):
            assert isinstance(said, Moved | Missed)
        assert len(stream._begun) < EVENT.size


def test_the_names_are_those_of_the_kernel_s_header() -> None:
    for code, name in NAMES.items():
        assert evdev.ecodes.ecodes[in_the_header(name)] == code, name


def test_a_key_is_written_as_it_is_read() -> None:
    assert [key_code(key_name(code)) for code in range(1, 0x300)] == [*range(1, 0x300)]


@pytest.mark.parametrize(
    ("text", "code"),
    [("Page Down", 109), ("page_down", 109), ("b", 48), ("1", 2), ("code 1", 1)],
)
def test_a_key_may_be_written_freely(text: str, code: int) -> None:
    assert key_code(text) == code


@pytest.mark.parametrize("text", ["", "code 0", "code 768", "code", "pagedwn", "+1"])
def test_what_is_no_key_is_none(text: str) -> None:
    assert key_code(text) is None
