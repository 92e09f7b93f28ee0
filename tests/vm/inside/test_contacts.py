"""Contacts on the kernel's own lines; the stand-in elsewhere is held to the same."""

from __future__ import annotations

import pytest

from bridge.adapters import contacts
from bridge.adapters.contacts import ContactIn, ContactOut
from bridge.core.wire import Contact
from bridge.engine.ports import Lost
from tests.fakes.inbox import Inbox, until
from tests.vm.inside.lines import Board

RELAY, PEDAL = 5, 6


@pytest.fixture
def board(monkeypatch: pytest.MonkeyPatch) -> Board:
    monkeypatch.setattr(contacts, "AGAIN_S", 0.1)
    return Board()


async def test_a_relay_s_line_is_driven_released_and_let_go(board: Board) -> None:
    inbox = Inbox()
    relay = ContactOut("relay", RELAY, "workshop")
    await relay.open(inbox)
    await until(lambda: inbox.presence == ["found"])
    seen = [board.level(RELAY)]
    for high in (True, False, True):
        relay.send(Contact("relay", high=high))
        seen.append(board.level(RELAY))
    await relay.close()
    assert [*seen, board.level(RELAY)] == [0, 1, 0, 1, 0]


async def test_a_board_that_pulls_at_low_level(board: Board) -> None:
    inbox = Inbox()
    relay = ContactOut("relay", RELAY, "workshop", active_low=True)
    await relay.open(inbox)
    await until(lambda: inbox.presence == ["found"])
    released = board.level(RELAY)
    relay.send(Contact("relay", high=True))
    driven = board.level(RELAY)
    await relay.close()
    assert (released, driven) == (1, 0)


async def test_a_line_that_somebody_has_is_taken_when_they_let_go(board: Board) -> None:
    first, second = Inbox(), Inbox()
    holder = ContactOut("holder", RELAY, "workshop")
    await holder.open(first)
    await until(lambda: first.presence == ["found"])
    other = ContactOut("other", RELAY, "workshop")
    await other.open(second)
    lost = await second.next_presence()
    assert isinstance(lost, Lost)
    assert "workshop" in lost.why
    await holder.close()
    await until(lambda: second.presence[-1] == "found")
    await other.close()


async def test_a_pedal_s_edges_are_heard_in_order(board: Board) -> None:
    board.pull(PEDAL, up=True)
    inbox = Inbox()
    pedal = ContactIn("pedal", PEDAL, "workshop")
    await pedal.open(inbox)
    await until(lambda: inbox.presence == ["found"])
    for up in (False, True, False):
        board.pull(PEDAL, up=up)
        heard = await inbox.next_heard()
        while len(inbox.heard) == 1 and heard.message == Contact("pedal", high=False):
            heard = await inbox.next_heard()  # how it stood when it was opened
        assert heard.message == Contact("pedal", high=not up)
    await pedal.close()
