"""Contacts, over a board wired by hand: checking machines have no GPIO.

What is a stand-in is the library's chip object (see tests/fakes/contacts.py); the
library's settings, values and events are real, and so is the event loop's reader.
"""

import contextlib
import sys
import time
from collections.abc import AsyncIterator

import pytest
from gpiod.line import Bias, Clock, Direction, Edge, Value

from bridge.adapters import contacts
from bridge.adapters.contacts import EDGES_AT_ONCE, ContactIn, ContactOut
from bridge.adapters.gpio_lines import chip_paths
from bridge.adapters.imagined import CHANGES_KEPT, ImaginedContact
from bridge.core.wire import Contact, Midi
from bridge.engine.ports import Found, Lost, Port, PortGone
from tests.fakes.contacts import FakeBoard, FakeChip
from tests.fakes.inbox import Inbox, until

MAIN = "/dev/gpiochip0"
HAS_GPIO = bool(chip_paths())


def a_board() -> FakeBoard:
    return FakeBoard(
        FakeChip("gpiochip0", "pinctrl-main", {17: "GPIO17", 27: "GPIO27", 4: "FAN"}),
        FakeChip("gpiochip1", "expander", {4: "FAN"}),
    )


@contextlib.asynccontextmanager
async def opened(port: Port) -> AsyncIterator[Inbox]:
    inbox = Inbox()
    await port.open(inbox)
    try:
        yield inbox
    finally:
        await port.close()


async def test_a_relay_is_taken_released_driven_and_released_before_it_is_let_go() -> (
    None
):
    board = a_board()
    port = ContactOut("relay", 17, board=board.access)
    async with opened(port) as inbox:
        assert inbox.presence == ["found"]
        port.send(Contact("relay", high=True))
        port.send(Contact("relay", high=False))
        port.send(Contact("relay", high=True))
    await port.close()
    assert board.chips[MAIN].lines[17].history == [
        *("taken released", "driven", "released", "driven"),
        *("released", "let go"),
    ]


@pytest.mark.parametrize("active_low", [False, True])
async def test_the_level_that_drives_a_relay_is_the_kernel_s_matter(
    active_low: bool,
) -> None:
    board = a_board()
    port = ContactOut("relay", 17, active_low=active_low, board=board.access)
    async with opened(port):
        settings = board.chips[MAIN].requests[17].settings
        assert settings.direction is Direction.OUTPUT
        assert settings.active_low is active_low
        assert settings.output_value is Value.INACTIVE


@pytest.mark.parametrize(
    ("line", "chip", "place"),
    [
        (17, None, (MAIN, 17)),
        ("GPIO27", None, (MAIN, 27)),
        ("FAN", "expander", ("/dev/gpiochip1", 4)),
        ("FAN", MAIN, (MAIN, 4)),
        ("FAN", "gpiochip1", ("/dev/gpiochip1", 4)),
        (9, "expander", ("/dev/gpiochip1", 9)),
        (0, "expander", ("/dev/gpiochip1", 0)),
    ],
)
async def test_a_line_is_found_by_name_or_offset(
    line: int | str, chip: str | None, place: tuple[str, int]
) -> None:
    board = a_board()
    async with opened(ContactOut("relay", line, chip, board=board.access)):
        path, offset = place
        assert board.chips[path].lines[offset].consumer == "treadle"


THERE = '(/dev/gpiochip0 "pinctrl-main", /dev/gpiochip1 "expander")'
NO_LINE = "there is no such line: look at the board's list of lines"
NO_CHIP = "there is no such chip: write one of those that are there"
TWO = "2 chips have it: write the chip too, by its path"


@pytest.mark.parametrize(
    ("line", "chip", "where", "why"),
    [
        ("GPIO5", None, "any chip", NO_LINE),
        (9, None, "any chip", NO_LINE),
        (32, "expander", "expander", NO_LINE),
        (-1, "expander", "expander", NO_LINE),
        (1, "pinctrl", "pinctrl", NO_CHIP),
        ("FAN", None, "any chip", TWO),
    ],
)
async def test_a_line_that_is_not_one_line_is_lost_with_what_there_is(
    line: int | str, chip: str | None, where: str, why: str
) -> None:
    port = ContactOut("relay", line, chip, board=a_board().access)
    async with opened(port) as inbox:
        (lost,) = inbox.arrivals
        assert isinstance(lost, Lost)
        assert lost.why == f"line {line} of {where}: {why} {THERE}"
        with pytest.raises(PortGone):
            port.send(Contact("relay", high=True))
        assert port.drops == {"sent while lost": 1}


async def test_a_line_that_somebody_has_is_lost_and_found_when_free(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(contacts, "AGAIN_S", 0.01)
    board = a_board()
    line = board.chips[MAIN].lines[17]
    line.consumer = "fan driver"
    port = ContactOut("relay", 17, board=board.access)
    async with opened(port) as inbox:
        lost = await inbox.next_presence()
        assert isinstance(lost, Lost)
        assert lost.why == (
            "line 17 of any chip: fan driver has it: end that, or use another line"
        )
        line.consumer = None
        assert isinstance(await inbox.next_presence(), Found)
        port.send(Contact("relay", high=True))


async def test_a_board_without_chips_or_rights_is_lost_in_words() -> None:
    board = a_board()
    board.is_forbidden = True
    for access, words in (
        (board.access, "may not be opened: become a member of its group"),
        (FakeBoard().access, "this computer shows no GPIO chip"),
    ):
        async with opened(ContactIn("pedal", 17, board=access)) as inbox:
            (lost,) = inbox.arrivals
            assert isinstance(lost, Lost)
            assert words in lost.why


async def test_this_computer_s_own_chips_are_looked_through() -> None:
    port = ContactIn("pedal", "no such line")
    async with opened(port) as inbox:
        (lost,) = inbox.arrivals
        assert isinstance(lost, Lost)
        none = "this computer shows no GPIO chip"
        assert (none in lost.why) == (not HAS_GPIO)


@pytest.mark.parametrize("make", [ContactIn, ContactOut])
async def test_a_missing_library_is_lost_with_its_cure(
    monkeypatch: pytest.MonkeyPatch, make: type[ContactIn] | type[ContactOut]
) -> None:
    monkeypatch.setitem(sys.modules, "gpiod", None)
    async with opened(make("pedal", 17)) as inbox:
        (lost,) = inbox.arrivals
        assert isinstance(lost, Lost)
        assert 'run "pip install treadle[gpio]"' in lost.why


async def test_a_chip_that_is_pulled_out_is_lost_and_found_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(contacts, "AGAIN_S", 0.01)
    board = a_board()
    relay = ContactOut("relay", 27, board=board.access)
    pedal = ContactIn("pedal", 17, board=board.access)
    async with opened(relay) as at_relay, opened(pedal) as at_pedal:
        for offset in (17, 27):
            board.chips[MAIN].requests[offset].break_down()
        with pytest.raises(PortGone, match="No such device"):
            relay.send(Contact("relay", high=True))
        for inbox in (at_relay, at_pedal):
            presence = [await inbox.next_presence() for _ in range(3)]
            assert [type(p) for p in presence] == [Found, Lost, Found]
        relay.send(Contact("relay", high=True))
        board.wire(MAIN, 17, level=False)
        assert (await at_pedal.next_heard()).message == Contact("pedal", high=True)
        history = board.chips[MAIN].lines[27].history
        assert history == ["taken released", "let go", "taken released", "driven"]


@pytest.mark.parametrize(
    ("closes_to", "level", "bias"),
    [("ground", False, Bias.PULL_UP), ("supply", True, Bias.PULL_DOWN)],
)
async def test_a_pedal_that_closes_is_heard_high_whatever_it_closes_to(
    closes_to: str, level: bool, bias: Bias
) -> None:
    board = a_board()
    assert closes_to in ("ground", "supply")
    way = "ground" if closes_to == "ground" else "supply"
    port = ContactIn("pedal", 17, closes_to=way, board=board.access)  # type: ignore[arg-type]
    async with opened(port) as inbox:
        settings = board.chips[MAIN].requests[17].settings
        assert (settings.direction, settings.edge_detection, settings.bias) == (
            Direction.INPUT,
            Edge.BOTH,
            bias,
        )
        assert settings.event_clock is Clock.MONOTONIC
        assert not settings.debounce_period, "it would delay the first edge"
        board.wire(MAIN, 17, level=level)
        board.wire(MAIN, 17, level=None)
        heard = [(await inbox.next_heard()).message for _ in range(2)]
        assert heard == [Contact("pedal", high=True), Contact("pedal", high=False)]


async def test_an_edge_has_the_kernel_s_time_not_ours() -> None:
    board = a_board()
    port = ContactIn("pedal", 17, board=board.access)
    async with opened(port) as inbox:
        before = time.monotonic()
        board.wire(MAIN, 17, level=False, late_by=100.0)
        heard = await inbox.next_heard()
        assert before - 100.1 < heard.at <= time.monotonic() - 100.0


async def test_bounces_come_through_one_by_one_and_in_order() -> None:
    board = a_board()
    port = ContactIn("pedal", 17, board=board.access)
    async with opened(port) as inbox:
        for _ in range(EDGES_AT_ONCE):
            board.wire(MAIN, 17, level=False)
            board.wire(MAIN, 17, level=None)
        await until(lambda: len(inbox.heard) == 2 * EDGES_AT_ONCE)
        pressed = [m.high for m in inbox.heard if isinstance(m, Contact)]
        assert pressed == [True, False] * EDGES_AT_ONCE
        assert port.drops == {}


async def test_edges_that_the_kernel_lost_are_counted() -> None:
    board = a_board()
    port = ContactIn("pedal", 17, board=board.access)
    async with opened(port) as inbox:
        for _ in range(3):
            board.chips[MAIN].requests[17].forget()
        board.wire(MAIN, 17, level=False)
        await inbox.next_heard()
        assert port.drops == {"edges that the kernel could not keep": 3}


async def test_an_input_cannot_be_driven_and_a_line_cannot_play_notes() -> None:
    board = a_board()
    pedal = ContactIn("pedal", 17, board=board.access)
    relay = ContactOut("relay", 27, board=board.access)
    async with opened(pedal), opened(relay):
        with pytest.raises(PortGone, match="an input cannot send pedal: line driven"):
            pedal.send(Contact("pedal", high=True))
        with pytest.raises(PortGone, match="a line cannot send relay: 90 3C 27"):
            relay.send(Midi("relay", b"\x90\x3c\x27"))


async def test_an_imagined_contact_keeps_its_level_and_what_happened() -> None:
    port = ImaginedContact("relay")
    async with opened(port) as inbox:
        assert inbox.presence == ["found"]
        for high in (True, True, False, True):
            port.send(Contact("relay", high=high))
        assert port.is_driven
        assert [driven for _, driven in port.changes] == [True, False, True]
        with pytest.raises(PortGone, match="a line cannot send"):
            port.send(Midi("relay", b"\xf8"))
    assert not port.is_driven
    with pytest.raises(PortGone, match="the port is closed"):
        port.send(Contact("relay", high=True))


async def test_an_imagined_contact_forgets_what_is_long_ago() -> None:
    port = ImaginedContact("relay")
    async with opened(port):
        for k in range(3 * CHANGES_KEPT):
            port.send(Contact("relay", high=k % 2 == 0))
        assert len(port.changes) == CHANGES_KEPT
