"""The mailbox keeps order, keeps its limits, and never loses the newest press."""

import asyncio

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.wire import Message, Midi, Osc
from bridge.engine.clock import Clock, MonotonicClock
from bridge.engine.mailbox import LIMITS, Kind, Mailbox
from bridge.engine.ports import Arrival, Asked, Found, Heard, Lost
from tests.fakes.clock import SimulatedClock

AT = 5.0


def is_press(message: Message) -> bool:
    return message.port == "pedal"


def press(number: int) -> Heard:
    return Heard(Midi("pedal", bytes((0xB0, 64, number % 128))), AT + number)


def word(number: int, port: str = "desk") -> Heard:
    return Heard(Osc(port, "/in/1", (number,)), AT)


def request(number: int) -> Asked:
    return Asked(("go", str(number)), print, AT)


def mailbox() -> Mailbox:
    return Mailbox(SimulatedClock(), is_press)


async def emptied(box: Mailbox) -> list[Arrival]:
    arrivals: list[Arrival] = []
    while (arrival := await box.get(0)) is not None:
        arrivals.append(arrival)
    return arrivals


arrivals = st.one_of(
    st.builds(press, st.integers(0, 127)),
    st.builds(word, st.integers(0, 9)),
    st.builds(request, st.integers(0, 9)),
    st.builds(Found, st.sampled_from(["desk", "pedal"]), st.just(AT)),
    st.builds(Lost, st.sampled_from(["desk", "pedal"]), st.just("why"), st.just(AT)),
)


@given(st.lists(arrivals, max_size=30))
async def test_arrivals_are_taken_in_the_order_they_came(
    several: list[Arrival],
) -> None:
    box = mailbox()
    for arrival in several:
        box.put(arrival)
    assert len(box) == len(several)
    assert await emptied(box) == several
    assert box.drops == {}


@given(st.lists(st.tuples(arrivals, st.sampled_from([1, 40, 1500])), max_size=6))
async def test_no_flood_grows_the_mailbox_or_costs_the_newest_press(
    floods: list[tuple[Arrival, int]],
) -> None:
    box = mailbox()
    pressed = [
        a for a, _ in floods if isinstance(a, Heard) and a.message.port == "pedal"
    ]
    for arrival, times in floods:
        for _ in range(times):
            box.put(arrival)
        assert len(box) <= sum(LIMITS.values())
    kept = await emptied(box)
    assert len(kept) + sum(box.drops.values()) >= sum(times for _, times in floods)
    if pressed:
        presses = [a for a in kept if isinstance(a, Heard) and is_press(a.message)]
        assert presses[-1] == pressed[-1]


async def test_a_talking_desk_does_not_push_out_a_press() -> None:
    box = mailbox()
    box.put(press(1))
    for number in range(5000):
        box.put(word(number))
    assert await box.get(0) == press(1)
    assert box.drops == {"messages from gear": 5000 - LIMITS[Kind.WORD]}


async def test_of_too_many_presses_the_newest_are_kept() -> None:
    box = mailbox()
    for number in range(100):
        box.put(press(number))
    assert await emptied(box) == [press(n) for n in range(100 - 32, 100)]
    assert box.drops == {"presses": 100 - 32}


async def test_a_port_whose_words_were_dropped_is_lost_and_found_once() -> None:
    box = mailbox()
    for number in range(3 * LIMITS[Kind.WORD]):
        box.put(word(number))
    kept = await emptied(box)
    presence = [a for a in kept if isinstance(a, Lost | Found)]
    assert presence == [
        Lost("desk", "more came from desk at once than could be kept", 1000.0),
        Found("desk", 1000.0),
    ]
    assert kept[-1] == word(3 * LIMITS[Kind.WORD] - 1)
    box.put(word(1))
    assert await emptied(box) == [word(1)]


async def test_it_is_said_again_when_it_happens_again() -> None:
    box = mailbox()
    for _ in range(2):
        for number in range(LIMITS[Kind.WORD] + 1):
            box.put(word(number))
        kept = await emptied(box)
        assert [type(a) for a in kept if isinstance(a, Lost | Found)] == [Lost, Found]


@pytest.mark.parametrize("kind", Kind)
def test_every_kind_has_a_limit(kind: Kind) -> None:
    assert LIMITS[kind] > 0


async def test_waiting_ends_with_the_time_or_with_an_arrival() -> None:
    clock = SimulatedClock(now=1000.0)
    box = Mailbox(clock, is_press)
    assert await box.get(2.5) is None
    assert clock.now() == 1002.5
    clock.after(1.0, lambda: box.put(press(1)))
    assert await box.get(60.0) == press(1)
    assert clock.now() == 1003.5


@pytest.mark.parametrize("clock", [MonotonicClock(), SimulatedClock()])
async def test_real_and_simulated_time_keep_one_contract(clock: Clock) -> None:
    event = asyncio.Event()
    before = clock.now()
    assert not await clock.wait(event, 0)
    assert not await clock.wait(event, -1)
    assert not await clock.wait(event, 0.01)
    assert clock.now() - before > 0.009
    event.set()
    assert await clock.wait(event, 0)
    assert await clock.wait(event, None)


async def test_an_arrival_from_the_loop_wakes_the_one_who_waits() -> None:
    box = Mailbox(MonotonicClock(), is_press)
    asyncio.get_running_loop().call_soon(box.put, press(1))
    async with asyncio.timeout(20):
        assert await box.get(None) == press(1)
