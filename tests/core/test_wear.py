"""Relays wear out: what counts as an operation, and what is said before the end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from bridge.core.chronicle import Chronicle
from bridge.core.control import Control, Kind
from bridge.core.entries import Worn
from bridge.core.studio import Studio
from bridge.core.wear import advice, is_mark
from bridge.core.wire import Coil, Contact, Message, Midi, Osc, Value
from tests.fakes.studio import studio

NAME = "x: position"
COILS = {"rest": Coil("x", 0, on=False, count=2), "pulled": Coil("x", 0, True, 2)}
WIRES: dict[str, Mapping[str, Message]] = {
    "line": {"rest": Contact("x", high=False), "pulled": Contact("x", high=True)},
    "modbus": COILS,
    "midi": {"rest": Midi("x", b"\xb0\x14\0"), "pulled": Midi("x", b"\xb0\x14\1")},
    "osc": {"rest": Osc("x", "/a", (0,)), "pulled": Osc("x", "/a", (1,))},
}


def with_relay(
    messages: Mapping[str, Message], at_rest: Value | None, *, toggles: bool = False
) -> Studio:
    relay = Control(
        NAME,
        "position",
        "x",
        Kind.SELECTOR,
        ("rest", "pulled"),
        messages={value: (message,) for value, message in messages.items()},
        at_rest=at_rest,
        toggles=toggles,
    )
    return replace(studio(), controls={NAME: relay})


@pytest.mark.parametrize("wire", list(WIRES))
def test_a_change_of_position_is_an_operation_by_whatever_wire(wire: str) -> None:
    seen = Chronicle(with_relay(WIRES[wire], "rest"), {NAME: 100})
    moves = ["pulled", "pulled", "rest", "rest", "pulled", "rest"]
    sent = [WIRES[wire][to] for to in moves]
    found = [len(seen.sent(message, 0.0, 0.0)) for message in sent]
    assert found == [1, 0, 1, 0, 1, 1], "what is sent once more moves nothing"


def test_a_question_is_no_operation() -> None:
    seen = Chronicle(with_relay(COILS, "rest"), {NAME: 100})
    assert seen.sent(Coil("x", 0, None, 2), 0.0, 0.0) == ()


def test_each_message_that_turns_it_over_is_one() -> None:
    over = Midi("x", b"\x90\x14\x7f")
    here = with_relay({"rest": over, "pulled": over}, None, toggles=True)
    seen = Chronicle(here, {NAME: 100})
    assert [len(seen.sent(over, 0.0, 0.0)) for _ in range(4)] == [1, 1, 1, 1]


@pytest.mark.parametrize(
    ("operations", "cure"),
    [
        (0, None),
        (79_999, None),
        (80_000, "have a new one ready"),
        (99_999, "have a new one ready"),
        (100_000, "put a new one in"),
        (250_000, "put a new one in"),
    ],
)
def test_it_is_said_before_the_end(operations: int, cure: str | None) -> None:
    said = advice(Worn(NAME, operations, 100_000, 0.0))
    assert (said[1] if said else None) == cure
    if said:
        assert f"{operations:,} operations of the 100,000" in said[0]


@pytest.mark.parametrize("life", [1, 2, 3, 7, 100, 99_999])
def test_a_mark_is_met_once_on_the_way(life: int) -> None:
    met = [n for n in range(1, 2 * life + 1) if is_mark(n, life)]
    assert 1 <= len(met) <= 3
    assert met[-1] == life
    assert met[0] - 1 < 0.8 * life <= met[0]
    assert advice(Worn("x", met[0], life, 0.0)) is not None
    assert met[0] == 1 or advice(Worn("x", met[0] - 1, life, 0.0)) is None
