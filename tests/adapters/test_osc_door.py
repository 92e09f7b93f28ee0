"""The service's own OSC address, knocked at by liblo and by plain sockets."""

import asyncio
import contextlib
import json
import random
from collections.abc import AsyncIterator

import pytest

from bridge.adapters import osc_door, rate
from bridge.adapters.osc_codec import NOTHING, PACKET_BYTES, decode, encode
from bridge.adapters.osc_door import OscDoor
from bridge.adapters.rate import BURST
from bridge.core.wire import Osc
from bridge.engine.ports import Found, Lost, PortGone
from tests.fakes.inbox import Inbox, until
from tests.fakes.programs import needs, run
from tests.fakes.udp_peer import UdpPeer, port_with_nobody, udp_peer


@contextlib.asynccontextmanager
async def opened(door: OscDoor) -> AsyncIterator[Inbox]:
    inbox = Inbox()
    await door.open(inbox)
    try:
        yield inbox
    finally:
        await door.close()


def knock(peer: UdpPeer, door: OscDoor, address: str, *words: str | int) -> None:
    packet = encode(Osc("", address, words))
    assert isinstance(packet, bytes)
    peer.say(packet, door.port)


async def answer_to(peer: UdpPeer) -> object:
    (message,) = decode(await peer.packet(), "")
    assert isinstance(message, Osc)
    assert message.address == "/treadle/answer"
    (text,) = message.arguments
    assert isinstance(text, str)
    return json.loads(text)


@needs("oscsend")
async def test_liblo_presses_a_button_goes_to_a_scene_and_asks() -> None:
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        assert isinstance(await inbox.next_presence(), Found)
        url = f"osc.udp://127.0.0.1:{door.port}"
        for command, words in (
            (["/treadle/press", "s", "pedal"], ("press", "pedal", "tap")),
            (["/treadle/press", "ss", "pad", "hold"], ("press", "pad", "hold")),
            (["/treadle/go", "s", "late show"], ("go", "late show")),
            (["/treadle/status"], ("status",)),
        ):
            await run("oscsend", url, *command)
            assert (await inbox.next_asked()).words == words
        assert door.drops == {}


@needs("oscsend")
async def test_an_address_of_the_studio_is_heard_as_a_button() -> None:
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        url = f"osc.udp://127.0.0.1:{door.port}"
        await run("oscsend", url, "/pads/7", "i", "127")
        assert (await inbox.next_heard()).message == Osc("osc", "/pads/7", (127,))
        await run("oscsend", url, "/pads/8", "T")
        assert (await inbox.next_heard()).message == Osc("osc", "/pads/8", (True,))


async def test_the_answer_goes_to_the_one_who_asked() -> None:
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        with udp_peer() as one, udp_peer() as other:
            knock(one, door, "/treadle/status")
            knock(other, door, "/treadle/go", "café")
            first, second = await inbox.next_asked(), await inbox.next_asked()
            second.reply(json.dumps({"scene": "café"}))
            first.reply(json.dumps({"is": "well"}))
            assert await answer_to(one) == {"is": "well"}
            assert await answer_to(other) == {"scene": "café"}


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("/treadle/stop", ()),
        ("/treadle/", ()),
        ("/treadle/press", ()),
        ("/treadle/press", (1,)),
        ("/treadle/press", ("pedal", "kick")),
        ("/treadle/press", ("pedal", "tap", "now")),
        ("/treadle/go", ()),
        ("/treadle/status", ("all",)),
        ("/treadle/done", ("yes",)),
        ("/treadle/hand", ("mic to program",)),
    ],
)
async def test_what_is_not_understood_is_answered_with_what_is(
    address: str, words: tuple[str | int, ...]
) -> None:
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        with udp_peer() as peer:
            knock(peer, door, address, *words)
            assert await answer_to(peer) == {
                "error": f"{address} is not understood here; try "
                '/treadle/press "button" ["tap"|"hold"|"double"|"release"], '
                '/treadle/go "scene", /treadle/done, '
                '/treadle/hand "control" "value", /treadle/status'
            }
        assert inbox.presence == ["found"]
        assert len(inbox.arrivals) == 1
        assert door.drops == {"request not understood": 1}


async def test_a_stranger_gets_no_answer() -> None:
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        with udp_peer(host="127.0.0.2") as stranger:
            knock(stranger, door, "/treadle/status")
            knock(stranger, door, "/treadle/stop")
            await until(lambda: door.drops == {"from a stranger": 2})
        assert len(inbox.arrivals) == 1


async def test_another_machine_can_be_let_in() -> None:
    door = OscDoor("osc", 0, allow=("127.0.0.2",))
    async with opened(door) as inbox:
        with udp_peer(host="127.0.0.2") as friend, udp_peer() as local:
            knock(local, door, "/treadle/status")
            knock(friend, door, "/treadle/status")
            assert (await inbox.next_asked()).words == ("status",)
        assert door.drops == {"from a stranger": 1}


async def test_the_door_can_stand_on_the_other_internet_protocol() -> None:
    door = OscDoor("osc", 0, host="::1")
    async with opened(door) as inbox:
        arrival = await inbox.next_presence()
        if isinstance(arrival, Lost):  # a machine without IPv6 says so in words
            assert "cannot be opened (Cannot assign requested address)" in arrival.why
            return
        with udp_peer(host="::1") as peer:
            peer.say(b"/treadle/status\0", door.port, "::1")
            (await inbox.next_asked()).reply("{}")
            assert await answer_to(peer) == {}


async def test_one_who_floods_is_held_back_and_the_other_is_not() -> None:
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        with udp_peer() as loud, udp_peer() as quiet:
            for number in range(150):  # within what the kernel keeps for a socket
                knock(loud, door, "/pads/7", number)
            knock(quiet, door, "/pads/8", 1)
            await until(lambda: Osc("osc", "/pads/8", (1,)) in inbox.heard)
        assert len(inbox.heard) >= BURST + 1
        assert door.drops["too fast"] == 150 - (len(inbox.heard) - 1) > 0


async def test_a_bundle_is_no_way_around_the_rate() -> None:
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        with udp_peer() as loud:
            element = b"\0\0\0\x08/a\0\0,\0\0\0"
            loud.say(NOTHING + element * 60, door.port)
            await until(lambda: sum(door.drops.values()) + len(inbox.heard) == 60)
            assert BURST <= len(inbox.heard) < 60


async def test_whatever_comes_does_no_harm_and_its_causes_are_few(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(rate, "BURST", 1e9)  # let everything reach the parser
    dice = random.Random(7)
    whole = [b"/a\0\0,if\0\0\0\0\1\0\0\0\0", b"/treadle/status\0", NOTHING]
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        with udp_peer() as peer:
            for _ in range(2000):
                packet = bytearray(dice.choice(whole))
                for _ in range(dice.randrange(4)):
                    packet[dice.randrange(len(packet))] = dice.randrange(256)
                peer.say(bytes(packet[: dice.randrange(len(packet) + 1)]), door.port)
                await asyncio.sleep(0)
            knock(peer, door, "/treadle/go", "the end")
            while (await inbox.next_asked()).words != ("go", "the end"):
                pass
    assert sum(door.drops.values()) > 1000
    assert len(door.drops) < 12


async def test_an_answer_that_does_not_fit_says_so() -> None:
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        with udp_peer() as peer:
            knock(peer, door, "/treadle/status")
            (await inbox.next_asked()).reply("x" * PACKET_BYTES)
            assert await answer_to(peer) == {"error": "answer too long"}
        assert door.drops == {"answer too long": 1}


async def test_one_who_does_not_wait_costs_the_next_one_nothing() -> None:
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        with udp_peer() as hasty:
            knock(hasty, door, "/treadle/status")
            asked = await inbox.next_asked()
        with udp_peer() as patient:
            knock(patient, door, "/treadle/status")
            second = await inbox.next_asked()
            asked.reply("{}")
            second.reply('{"is": "well"}')
            assert await answer_to(patient) == {"is": "well"}
        assert door.drops == {"answer not wanted": 1}


async def test_a_reply_after_closing_goes_nowhere_and_is_counted() -> None:
    door = OscDoor("osc", 0)
    async with opened(door) as inbox:
        with udp_peer() as peer:
            knock(peer, door, "/treadle/status")
            asked = await inbox.next_asked()
            await door.close()
            asked.reply("{}")
            assert door.drops["answer not wanted"] >= 1


async def test_an_address_that_is_taken_is_lost_and_found_when_free(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(osc_door, "AGAIN_S", 0.01)
    number = port_with_nobody()
    door = OscDoor("osc", number)
    async with contextlib.AsyncExitStack() as stack:
        with udp_peer(number):
            inbox = await stack.enter_async_context(opened(door))
            lost = await inbox.next_presence()
            assert lost == Lost(
                "osc",
                f"OSC port {number} at 127.0.0.1 cannot be opened (Address already in "
                "use): end the program that has it, or choose another",
                lost.at,
            )
        assert isinstance(await inbox.next_presence(), Found)


async def test_the_door_is_not_sent_to() -> None:
    door = OscDoor("osc", 0)
    with pytest.raises(PortGone, match="own address cannot be sent to: osc: /a"):
        door.send(Osc("osc", "/a"))
    assert door.drops == {"sent to the door": 1}
